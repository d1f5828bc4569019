"""Words that names of columns are made of, in English, German, French, Spanish and Italian.

In comes nothing; out goes which class a word belongs to. A word stands in one class only.
"""

from __future__ import annotations

from collections.abc import Mapping

CLASSES: Mapping[str, str] = {
    "left": "left l lt lft links li linke linker linkes gauche gau izquierda izquierdo izq "
    "sinistra sinistro sx",
    "right": "right r rt rgt rechts re rechte rechter rechtes droite droit derecha derecho "
    "destra destro dx",
    "ankle": "ankle ankles ank ankl talocrural sprunggelenk sprunggelenks osg knöchel knoechel "
    "cheville tobillo caviglia",
    "knee": "knee knees kne kn knie kniegelenk kniegelenks genou rodilla ginocchio",
    "hip": "hip hips hüfte hüft hüftgelenk hüftgelenks huefte hueft hueftgelenk hanche cadera "
    "anca",
    "pelvis": "pelvis pelvic pel pelv becken bassin bacino",
    "thigh": "thigh thi femur oberschenkel cuisse muslo coscia",
    "foot": "foot feet fuß fuss pied piede",
    "shank": "shank shk tibia tib leg lowerleg unterschenkel jambe pierna gamba",
    "elsewhere": "trunk thorax shoulder elbow wrist neck head spine lumbar arm toe mtp subtalar "
    "hindfoot forefoot",
    "flexion": "flexion flex flx flexor fl fe beugung flexión flessione",
    "extension": "extension extn extensor ext streckung extensión estensione",
    "dorsiflexion": "dorsiflexion dorsiflex dorsi dorsal df dorsalextension dorsalflexion "
    "dorsiflexión dorsiflessione dorsale",
    "plantarflexion": "plantarflexion plantarflex plantar pf plantarflexión plantarflessione "
    "plantaire plantare",
    "plane": "abduction adduction abd add abad abduct adduct rotation rot internal external "
    "inversion eversion inv ev varus valgus pronation supination progression frontal coronal "
    "transverse transversal axial obliquity list lateral medial rotated abduktion adduktion "
    "innenrotation außenrotation aussenrotation rotación rotazione abducción aducción abduzione "
    "adduzione inversión eversión frontale transversale frontalebene transversalebene obliquité "
    "oblicuidad obliquità",
    "sagittal": "sagittal sag sagittale sagittalebene",
    "tilt": "tilt kippung bascule",
    "anterior": "anterior ant",
    "posterior": "posterior post",
    "vertical": "vertical vert segment absolute global lab gravity vertikal verticale",
    "floor": "floor ground horizontal pitch inclination boden sol suelo",
    "lean": "lean inclination",
    "angle": "angle angles ang joint joints rel relative to the and of vs data curve kinematics "
    "with in at pos positive value winkel gelenk gelenks gelenkwinkel ángulo angulo angolo "
    "articulation articulaire articular articolare des du de la le del della",
    "axis": "x y z",
    "degree": "deg degs degree degrees \u00b0 grad degrés grados gradi",
    "radian": "rad rads radian radians",
    "second": "s sec secs second seconds sekunde sekunden seconde secondes segundo segundos "
    "secondi",
    "millisecond": "ms msec millisecond milliseconds millisekunden",
    "percent": "% percent percentage pct perc gc prozent pourcent pourcentage porcentaje "
    "percentuale",
    "mean": "mean average avg averaged ave mn mittelwert mittel mw moyenne moy media promedio",
    "spread": "sd std stdev stddev se sem deviation variance ci upper lower min max minimum "
    "maximum standardabweichung stdabw streuung écart ecart desviación desviacion deviazione",
    "time": "time t timestamp zeit temps tiempo tempo",
    "duration": "duration dauer durée duración durata",
    "frame": "frame frames sample samples field fr row index idx nr no n # num number point "
    "bild bildnr",
    "cycle": "cycle cycles cyc stride strides step steps trial trials walk rep repetition c "
    "zyklus zyklen gangzyklus schritt doppelschritt ciclo",
    "gait": "gait phase normalised normalized norm gang marche marcha cammino passo",
    "condition": "condition cond state situation",
    "side": "side limb seite côté lado lato",
    "event": "event events marker",
    "contact": "contact strike ic hs fs fc touchdown heelstrike footstrike landing",
    "off": "off toeoff footoff",
    "on": "on",
    "heel": "heel initial",
}  # fmt: skip
CLASS_OF: dict[str, str] = {word: name for name, words in CLASSES.items() for word in words.split()}
"""Word in lower case to its class."""

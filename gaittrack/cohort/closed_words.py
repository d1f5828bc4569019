"""Closed lists that stand in the place of free text in an export.

In comes text as somebody typed it, out comes a word of a list, ``other`` or "not recorded"; never
the text itself. Reasons that the program gives pass only if every word of theirs is known.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Final

Levels = Mapping[str, tuple[str, ...]]
"""Word of the export → beginnings of words that mean it."""

OTHER: Final = "other"
OTHER_REASON: Final = "other reason, kept in the study"

SEX: Final[Levels] = {"female": ("female", "woman"), "male": ("male", "man")}
SIDE: Final[Levels] = {"left": ("left",), "right": ("right",), "both": ("both", "bilateral")}
CAUSE: Final[Levels] = {
    "stroke": ("stroke", "hemipar", "hemipleg"),
    "multiple sclerosis": ("multiple sclerosis",),
    "cerebral palsy": ("cerebral palsy",),
    "spinal cord injury": ("spinal cord", "parapar"),
    "brain injury": ("brain",),
    "hereditary neuropathy": ("hereditary", "charcot"),
    "peripheral nerve palsy": ("peripheral nerve", "peroneal", "fibular", "sciatic", "nerve"),
    "lumbar nerve root": ("radicul", "lumbar", "nerve root", "l4", "l5"),
    "other neuropathy": ("neuropath", "polyneuropath"),
    "muscle disease": ("dystroph", "myopath"),
}
VISIT_KIND: Final[Levels] = {
    "baseline": ("baseline", "first", "initial"),
    "fitting": ("fitting", "fitted", "delivery", "adjust"),
    "follow-up": ("follow", "control", "review", "later"),
}
ORTHOSIS: Final[Levels] = {
    "none": ("none", "no", "without"),
    "ankle-foot orthosis": ("ankle-foot", "ankle foot", "afo", "brace"),
}
ORTHOSIS_CLASS: Final[Levels] = {
    "dorsal-leaf": ("dorsal", "posterior leaf", "leaf"),
    "ground-reaction": ("ground",),
    "jointed": ("jointed", "hinged", "articulated"),
    "flexible": ("flexible", "elastic"),
    "solid": ("solid", "rigid"),
}
MAKE: Final[Levels] = {"custom": ("custom", "bespoke"), "ready-made": ("ready", "prefab")}
MATERIAL: Final[Levels] = {
    "carbon fibre": ("carbon",),
    "glass fibre": ("glass",),
    "thermoplastic": ("thermoplast", "polyprop", "polyeth", "plastic"),
    "metal": ("metal", "steel", "alumin", "titan"),
    "textile or leather": ("textile", "leather", "neoprene", "fabric"),
}
FOOTWEAR: Final[Levels] = {
    "barefoot": ("barefoot", "none", "no shoe"),
    "boot": ("boot",),
    "sandal": ("sandal", "slipper"),
    "shoe": ("shoe", "trainer", "sneaker"),
}
AID: Final[Levels] = {
    "none": ("none", "no", "without"),
    "cane": ("cane", "stick"),
    "crutch": ("crutch",),
    "walker": ("walker", "rollator", "frame"),
}
SUPPORT: Final[Levels] = {
    "none": ("none", "no", "without"),
    "rail": ("rail", "bar"),
    "person": ("person", "therapist", "hand held"),
}
SPEED_INSTRUCTION: Final[Levels] = {
    "comfortable": ("comfort", "self", "usual", "normal", "preferred"),
    "fast": ("fast", "quick"),
    "slow": ("slow",),
    "fixed": ("fixed", "belt", "matched"),
}
SURFACE: Final[Levels] = {
    "treadmill": ("treadmill",),
    "level floor": ("floor", "level", "overground", "walkway"),
}
CORRECTION: Final[Levels] = {
    "event moved": ("move_event",),
    "event added": ("add_event",),
    "event deleted": ("delete_event",),
    "stride excluded": ("exclude_stride",),
    "sides swapped": ("swap_sides",),
    "found right": ("looked_at",),
}


def level_of(text: object, levels: Levels) -> str | None:
    """Return the word of a closed list that stands for a text.

    Returns
    -------
    str or None
        None when nothing is recorded; ``other`` when no word of the list is meant.
    """
    if not isinstance(text, str) or not text.strip():
        return None
    said = text.strip().lower()
    for level, beginnings in levels.items():
        if said == level or any(_begins_a_word(said, each) for each in beginnings):
            return level
    return OTHER


def _begins_a_word(said: str, beginning: str) -> bool:
    whole = r"\b" if len(beginning) <= 3 or beginning in ("male", "none") else ""
    return re.search(rf"\b{re.escape(beginning)}{whole}", said) is not None


EXCLUDED: Final = "excluded by a person"

_KNOWN_WORDS: Final = frozenset(
    """
    a about above added adults after against ahead aid air all along already am an anatomical
    and angle angles angular ankle another anterior any apart are as at available away back band
    bands barefoot base be been before begin begins believed below beside better between beyond
    block blocks body both bound but by cadence calcaneus calibration came can carried cent
    centimetres central centre change changed circumduction clean clearance clearances close
    columns come comes coming common companion comparable compared comparison comparisons
    compensation condition conditions confidence contact contacts contradict copy corrected
    correlation count counts cover coverage covers cross curve curves cut cycle cycles d day
    days defined defines definition deg degrees deviation differ difference different differs
    dimensional distance divided do does dorsiflexion double down drags drawn each earlier early
    eight else end ends epicondyle error even event events every example exclude excluded exists
    exploratory f fair fall falling falls far fast faster fastest feet femoral few fewer fibula
    fifth figure figures file files filled filter filtered first flat flexes flexion floor foot
    footwear for force forefoot forward found four fraction frame frames freedom from front full
    further g gap gaps get give given gives greater half hand handling has have head headline
    heel height heights held here higher highest hike hiking hip hit horizontal how
    hyperextension hz if in included includes info initial inside insole instant instruction
    interval intervals into is it its itself joint judge kept key kinds knee known label
    labelled labels lack lag landed landing landmark landmarks larger largest last later lateral
    lean least leave leaves left leg length less lie lies limit line loading local long longer
    looked low lower lowering lowest m made make malleolus many map marked marker markers marks
    matched matters maxima maximum mean meaning means measure measured measurement medial median
    metatarsal mid midway min minimum minus missing mm more most move moved movement moves ms
    much must nearer nearly needed negative neither neutral never next no noise none nor not
    nothing number numbers obliquity obstacle of off offs often on once one ones only opposite
    or order origin origins orthosis other others out outer outside outward over overground own
    pair part pass passed passes peak pelvic pelvis people per percent person phase phases pitch
    place places plane plantarflexes plantarflexion planted plate plus point points pooled poor
    positions positive posterior practice promise proposal push quantile quarter range rate
    rates reach reaches read reason reasons recorded recording recordings reference refused
    reports response result right rise risen rises rocker row rows rule running s sacrum
    sagittal same sample samples scatter scuff search second seconds see seen seldom selection
    session several shank share shares sheet shod shoe shoes show shown shows side sides
    sideways signs simultaneous single sit slope slow slower smaller smallest smooth smoothed
    smoothing so sole some source speed speeds spells spine spines stance stand standard
    standing stands start starting starts steepest step steps still stopped stopping straight
    straightest stride strides strike stroke study sum superior support surface swing table
    tables tabulated taken takes taught than that the their them then there these they thigh
    third this three tibia tilt time times to toe together too touch touches toward towards
    treadmill trial trochanter trust trusted tuberosity turn turning turns twice two type types
    typical uncertain under unequal unit unknown until untouched up use used value values
    vaulting verdict vertical very view visit walk walking walks warning was way weeks welch
    were what when where whether which whole whose wider width window with within without worn
    would y yet zero
    """.split()
)


def plain_reason(reason: str) -> str:
    """Return a reason of the program, or that it is kept in the study.

    Returns
    -------
    str
        The reason itself if it is made of known words and short numbers only, so that no name,
        label or date can pass.
    """
    if reason.startswith(EXCLUDED):
        return EXCLUDED
    words = re.findall(r"[^\W\d_]+", reason.lower())
    has_long_number = re.search(r"\d{4}|\d([-/.])\d+\1\d", reason) is not None
    is_known = all(word in _KNOWN_WORDS for word in words) and not has_long_number
    return reason if is_known and reason.isprintable() else OTHER_REASON

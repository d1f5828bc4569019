"""Labels in other languages: what a laboratory may write is read right, or not at all."""

import pytest

from gaittrack.kinematics.label_languages import LANGUAGES
from gaittrack.kinematics.landmarks import find_landmarks, read_label, read_labels
from gaittrack.lab_map import LabMap

ORDER = (
    *("heel", "toe", "ankle", "ankle_medial", "knee", "knee_medial", "hip", "asis", "psis"),
    *("metatarsal_1", "metatarsal_5", "fibula_head"),
)
AS_WRITTEN = {
    # sides as words, as short words and as letters; then a way to call each landmark of ORDER
    "German": (
        ("links rechts", "li re", "L R"),
        *("Ferse", "Zehe", "Außenknöchel", "Knöchel innen", "Knie lateral", "Knie innen"),
        *("Trochanter major", "SIAS", "Becken hinten", "Mittelfuß 1", "5. Mittelfußkopf"),
        "Fibulakopf",
    ),
    "French": (
        ("gauche droite", "gau dte", "G D"),
        *("talon", "gros orteil", "malléole externe", "malléole interne", "genou", "genou int"),
        *("hanche", "EIAS", "EIPS", "1er métatarsien", "métatarse 5", "tête du péroné"),
    ),
    "Danish": (
        ("venstre højre", "ven høj", "V H"),
        *("hæl", "storetå", "ankel udvendig", "ankel indvendig", "knæ yderside", "knæ inderside"),
        *("hofte", "SIAS", "SIPS", "første metatars", "mellemfod 5", "fibulahoved"),
    ),
    "Dutch": (
        ("links rechts", "li re", "L R"),
        *("hiel", "grote teen", "enkel buiten", "binnenenkel", "knie lateraal", "knie mediaal"),
        *("heup", "SIAS", "bekken achter", "eerste middenvoetsbeentje", "metatarsaal 5"),
        "kuitbeenkopje",
    ),
    "Swedish": (
        ("vänster höger", "vän hög", "V H"),
        *("häl", "tå", "yttre fotled", "inre fotled", "knä utsida", "knä insida", "höft", "SIAS"),
        *("bäcken bak", "metatars 1", "femte metatars", "vadbenshuvud"),
    ),
    "Spanish": (
        ("izquierdo derecho", "izq der", "I D"),
        *("talón", "dedo gordo", "maléolo externo", "maléolo interno", "rodilla", "rodilla medial"),
        *("trocánter mayor", "EIAS", "EIPS", "primer metatarsiano", "metatarsiano 5"),
        "cabeza del peroné",
    ),
    "Italian": (
        ("sinistro destro", "sx dx", "S D"),
        *("tallone", "alluce", "malleolo esterno", "malleolo interno", "ginocchio"),
        *("ginocchio mediale", "gran trocantere", "SIAS", "bacino posteriore", "primo metatarso"),
        *("metatarso 5", "testa del perone"),
    ),
    "Portuguese": (
        ("esquerdo direito", "esq dir", "E D"),
        *("calcanhar", "dedão do pé", "maléolo lateral", "maléolo medial", "joelho"),
        *("joelho interno", "quadril", "EIAS", "EIPS", "primeiro metatarso", "quinto metatarso"),
        "cabeça da fíbula",
    ),
}
STYLES = {
    "after": lambda part, side: f"{part} {side}",
    "before, underscores": lambda part, side: f"{side}_{part}".replace(" ", "_"),
    "capitals": lambda part, side: f"{side} {part}".upper().replace("SS", "ss"),
    "camel": lambda part, side: "".join(w[:1].upper() + w[1:] for w in f"{part} {side}".split()),
    "points": lambda part, side: f"{part}.{side}".replace(" ", "."),
}


@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize("language", AS_WRITTEN)
def test_a_file_in_another_language_is_read_whole_and_right(language, style):
    """Words, short words and letters for sides, however written: none wrong, none lost."""
    sides, *parts = AS_WRITTEN[language]
    for pair in sides:
        written = {
            f"{side}_{landmark}": STYLES[style](part, word)
            for side, word in zip(("left", "right"), pair.split(), strict=True)
            for landmark, part in zip(ORDER, parts, strict=True)
        }
        assert find_landmarks(written.values(), LabMap()).labels == written, pair


@pytest.mark.parametrize(
    "label",
    [
        *("Schulter links", "Ellenbogen re", "Handgelenk li", "Kopf vorne", "Oberschenkel re"),
        *("coude droit", "poignet gauche", "épaule D", "cuisse gau", "rotule droite", "doigt D"),
        *("albue venstre", "hoved", "elleboog links", "hoofd", "axel höger", "armbåge vän"),
        *(
            "hombro izq",
            "codo derecho",
            "dedo der",
            "gomito dx",
            "spalla sin",
            "dito S",
            "polso dx",
        ),
        *("ombro esq", "cotovelo dir", "punho E", "V", "H", "li", "re", "sx", "D", "hal v", "ta h"),
        *("US 1 re", "Stock", "Spitze re", "Referenz", "lire", "der", "左踵", "пятка", "👣 re"),
    ],
)
def test_what_spells_no_landmark_in_any_language_is_left_alone(label):
    """Arms, trunk and head, short words that may mean anything, other scripts: no landmark."""
    assert read_label(label) is None and read_labels([label]) == {}


@pytest.mark.parametrize(
    "labels",
    [
        ["D talon", "D genou", "D cheville"],  # one side only
        ["D talon", "G talon"],  # one landmark only
        ["D talon", "G talon", "D genou", "G genou", "D cheville"],  # one without its pair
        ["D rodilla", "G rodilla", "D talon", "G talon", "D cadera"],  # letters of another language
        ["D talon", "G talon", "D genou", "G genou", "LTOE"],  # sides said otherwise as well
    ],
)
def test_a_letter_is_no_side_where_the_file_does_not_bear_it_out(labels):
    """A false match is worse than none: a map must say it."""
    told = read_labels(labels)
    assert all(told[label].side is None for label in labels if label in told and label != "LTOE")
    assert {each for each in find_landmarks(labels, LabMap()).labels.values()} <= {"LTOE"}


def test_no_word_means_two_things_in_two_languages():
    """A side or a part of the body in one language is none other in another one, nor in English."""
    meanings = {}
    for one in LANGUAGES.values():
        for word, meaning in (*one.sides.items(), *one.parts.items()):
            meanings.setdefault(word, set()).add(meaning)
            reading = read_label(word)
            if reading is not None:
                meanings[word].add(reading.landmark if word in one.parts else reading.side)
    assert {word: told for word, told in meanings.items() if len(told) > 1} == {}

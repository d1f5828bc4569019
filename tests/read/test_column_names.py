"""Names of columns are read by what they spell."""

import pytest

from gaittrack.read.tables.column_names import axis_and_stem, read_column_name


@pytest.mark.parametrize(
    "name",
    [
        "Left Knee",
        "Left  Knee",
        "LEFT KNEE",
        "left_knee",
        "left.knee",
        "LKnee",
        "L Knee",
        "kneeL",
        "knee_l",
        "KNEE_L",
        "LKNEE",
        "lknee",
        "Knee (left)",
        "LeftKneeAngle",
        "leftkneeangle",
        "L Knee FE",
        "Left Knee Flexion",
        "left knee flexion/extension [deg]",
        "knee l angle",
        "Lt knee",
    ],
)
def test_separators_case_and_order_do_not_matter(name):
    """Every way to write the left knee is the left knee, flexion positive."""
    spelt = read_column_name(name)
    assert (spelt.role, spelt.side, spelt.joint, spelt.sign) == ("angle", "left", "knee", 1.0)


@pytest.mark.parametrize(
    ("name", "joint", "sign"),
    [
        ("right ankle dorsiflexion", "ankle", 1),
        ("right ankle plantarflexion", "ankle", -1),
        ("right ankle dorsi/plantarflexion", "ankle", 1),
        ("right ankle dorsi/plantarflexion (plantar +)", "ankle", -1),
        ("right knee extension", "knee", -1),
        ("right hip", "hip_pelvis_thigh", 1),
        ("right hip (vertical)", "hip_thigh_vertical", 1),
        ("right hip segment angle", "hip_thigh_vertical", 1),
        ("right thigh", "hip_thigh_vertical", 1),
        ("right shank to vertical", "shank_lean", 1),
        ("right foot to floor angle", "foot_pitch", 1),
        ("right pelvic tilt", "pelvic_tilt", 1),
        ("right posterior pelvic tilt", "pelvic_tilt", -1),
    ],
)
def test_joint_and_direction_come_from_the_words(name, joint, sign):
    """Direction words turn signs; the hip's reference decides which hip angle it is."""
    spelt = read_column_name(name)
    assert (spelt.role, spelt.side, spelt.joint, spelt.sign) == ("angle", "right", joint, sign)


@pytest.mark.parametrize(
    "name",
    ["right hip adduction", "right hip rotation", "knee varus left", "left foot progression",
     "right subtalar angle", "pelvic list", "left ankle inversion"],
)  # fmt: skip
def test_other_planes_are_no_sagittal_angle(name):
    """Frontal and transverse angles never pass for sagittal ones."""
    assert read_column_name(name).role == "other_plane"


@pytest.mark.parametrize("name", ["Left Knee Angles X", "knee x left", "left foot", "left pelvis"])
def test_an_unclear_plane_is_not_guessed(name):
    """An axis letter, a plain foot or a plain pelvis does not tell the plane."""
    assert read_column_name(name).role == "unclear"


@pytest.mark.parametrize(
    ("name", "side", "kind"),
    [
        ("L IC", "left", "initial_contact"),
        ("IC_R", "right", "initial_contact"),
        ("Left foot contact", "left", "initial_contact"),
        ("right heel strike", "right", "initial_contact"),
        ("LHS", "left", "initial_contact"),
        ("left toe off", "left", "toe_off"),
        ("Right Toe-Off", "right", "toe_off"),
        ("RTO", "right", "toe_off"),
        ("TO_L", "left", "toe_off"),
        ("left foot off", "left", "toe_off"),
        ("left_initial_contact", "left", "initial_contact"),
    ],
)
def test_events_are_read_by_spelling(name, side, kind):
    """Side and event words in any order and writing."""
    spelt = read_column_name(name)
    assert (spelt.role, spelt.side, spelt.event) == ("event", side, kind)


@pytest.mark.parametrize(
    ("name", "condition", "cycle"),
    [
        ("left ankle no brace", "no brace", ""),
        ("left ankle with brace", "with brace", ""),
        ("left ankle without brace", "without brace", ""),
        ("left ankle brace off", "brace off", ""),
        ("left ankle AFO 2", "AFO", "2"),
        ("left ankle AFO1", "AFO1", ""),
        ("left ankle stride 12", "", "12"),
        ("L_ankle_3", "", "3"),
    ],
)
def test_what_is_left_over_names_the_condition(name, condition, cycle):
    """``no`` and ``with`` stay with the word they belong to; numbers name the cycle."""
    spelt = read_column_name(name)
    assert (spelt.rest, spelt.cycle) == (condition, cycle)
    assert (spelt.side, spelt.joint) == ("left", "ankle")


@pytest.mark.parametrize(
    ("name", "role", "unit"),
    [
        ("Time", "time", ""),
        ("t (ms)", "time", "ms"),
        ("time_s", "time", "s"),
        ("Frame #", "frame", ""),
        ("% gait cycle", "percent", "%"),
        ("stride time (s)", "cycle_time", "s"),
        ("left ankle SD", "spread", ""),
        ("stride", "cycle", ""),
    ],
)
def test_columns_that_are_no_angle(name, role, unit):
    """Time, frames, per cent, cycle times and spreads are told apart."""
    spelt = read_column_name(name)
    assert (spelt.role, spelt.unit) == (role, unit)


@pytest.mark.parametrize(
    ("name", "expected"),
    [("FHx", ("x", "FH")), ("Mark01 X", ("x", "Mark01")), ("HEEL_Y", ("y", "HEEL")),
     ("Z12", ("z", "")), ("Fz1", ("z", "F1")), ("heel:x (mm)", ("x", "heel")),
     ("heel", ("", "heel"))],
)  # fmt: skip
def test_axis_letters_are_split_off(name, expected):
    """The axis letter at the end, with or without a mark before it."""
    assert axis_and_stem(name) == expected


@pytest.mark.parametrize(
    "name",
    [
        "left ankle moment",
        "L Ankle Mom",
        "RKneePower",
        "left knee (Nm/kg)",
        "right hip [N.mm]",
        "left knee W/kg",
        "right ankle velocity",
        "Left ankle angular speed",
        "left ankle [deg/s]",
        "left ankle angle (\N{DEGREE SIGN}/s)",
        "left ankle emg",
    ],
)
def test_another_quantity_of_a_joint_is_no_angle(name):
    """A moment, a power or a velocity beside the joint's name must never be measured as angle."""
    assert read_column_name(name).role == "other_plane"


@pytest.mark.parametrize("name", ["left ankle powered brace", "left knee angle slow speed"])
def test_a_condition_that_resembles_a_quantity_stays_an_angle(name):
    """Words of a condition do not hide the angle."""
    assert read_column_name(name).role == "angle"


@pytest.mark.parametrize(
    ("name", "side", "joint", "sign"),
    [
        ("Knie links [\u00b0]", "left", "knee", 1),
        ("KNIE LINKS", "left", "knee", 1),
        ("Knieflexion re.", "right", "knee", 1),
        ("Kniegelenk rechts Streckung", "right", "knee", -1),
        ("H\u00fcftwinkel li", "left", "hip_pelvis_thigh", 1),
        ("Oberes Sprunggelenk rechts (Dorsalextension positiv)", "right", "ankle", 1),
        ("OSG links Plantarflexion", "left", "ankle", -1),
        ("Dorsalextension links", "left", "ankle", 1),
        ("Genou gauche (\u00b0)", "left", "knee", 1),
        ("Flexion de la hanche droite", "right", "hip_pelvis_thigh", 1),
        ("Cheville droite, flexion plantaire", "right", "ankle", -1),
        ("Flexi\u00f3n de rodilla derecha", "right", "knee", 1),
        ("Tobillo izquierdo [grados]", "left", "ankle", 1),
        ("Cadera izq.", "left", "hip_pelvis_thigh", 1),
        ("Ginocchio dx", "right", "knee", 1),
        ("Caviglia sinistra", "left", "ankle", 1),
        ("Left dorsiflexion", "left", "ankle", 1),
    ],
)
def test_words_of_other_languages(name, side, joint, sign):
    """German, French, Spanish and Italian names of the sagittal angles."""
    spelt = read_column_name(name)
    assert (spelt.role, spelt.side, spelt.joint, spelt.sign) == ("angle", side, joint, sign)


@pytest.mark.parametrize(
    "name",
    [
        *["H\u00fcftabduktion links", "Innenrotation H\u00fcfte rechts", "Leistung Knie links"],
        *["Geschwindigkeit Knie rechts", "Winkelgeschwindigkeit Knie links", "Moment Knie li"],
        *["Rotation interne hanche gauche", "Puissance genou droit", "moment cheville gauche"],
        *["Vitesse angulaire genou gauche", "Velocidad angular rodilla izquierda"],
        *["Momento rodilla izquierda", "Rotaci\u00f3n cadera derecha", "Potencia tobillo derecho"],
    ],
)
def test_other_quantities_in_other_languages_are_no_angle(name):
    """Power, moment, speed and rotation are not read as flexion."""
    assert read_column_name(name).role == "other_plane"


@pytest.mark.parametrize(
    ("name", "role"),
    [
        *[("Zeit (s)", "time"), ("Temps [ms]", "time"), ("Tiempo", "time"), ("Bild", "frame")],
        *[
            ("Gangzyklus [%]", "percent"),
            ("% du cycle de marche", "percent"),
            ("% ciclo", "percent"),
        ],
        *[
            ("Knie links Standardabweichung", "spread"),
            ("Cheville gauche \u00e9cart-type", "spread"),
        ],
    ],
)
def test_columns_beside_the_angles_in_other_languages(name, role):
    """Time, per cent and spread; a mean is a mean."""
    assert read_column_name(name).role == role
    assert read_column_name("Knie links Mittelwert").is_mean
    assert read_column_name("Cheville gauche moyenne").is_mean


@pytest.mark.parametrize("name", ["Left ankle norm", "Norm R knee", "Normwerte Knie links"])
def test_a_band_of_typical_values_is_not_the_persons(name):
    """It is left out; a condition called normal stays one."""
    assert read_column_name(name).role == "other_plane"
    assert read_column_name("left knee normal").role == "angle"

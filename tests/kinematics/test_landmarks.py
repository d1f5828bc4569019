"""What labels spell: sides, anatomical words, their beginnings, abbreviations of the literature."""

import pytest

from gaittrack.kinematics.landmarks import find_landmarks, has_sides, read_label, unsided_landmarks
from gaittrack.lab_map import LabMap

SPELT = {
    # Words and their beginnings, the side before or after, as letter or word.
    "left_heel": ["L Heel", "l heel", "LeftHeel", "heel_l", "Heel Left", "LHEE", "L.Heel", "LHEEL"],
    "right_heel": ["R.Heel", "r heel", "RightHeel", "heel_r", "RHEE", "RIGHT HEEL", "Right_Calc"],
    "right_toe": ["RTOE", "Right toe", "r.toe", "toe_R", "R_Hallux"],
    "left_ankle": ["LANK", "Left Ankle", "L_lat_mal", "Left lateral malleolus", "L.Malleolus"],
    "right_ankle_medial": ["R_med_mal", "Right medial malleolus", "R.Ankle.Medial"],
    "left_knee": ["LKNE", "left knee", "L.Knee", "Left lateral epicondyle", "L_Knee_Lat"],
    "right_knee_medial": ["R_Knee_Med", "Right medial epicondyle", "R.Knee.Medial"],
    "left_asis": ["LASI", "L_ASIS", "Left asis", "L.IAS"],
    "right_psis": ["RPSI", "R_PSIS", "Right Psis", "R_IPS"],
    "left_hip": ["L Hip", "left hip", "LHJC", "Left greater trochanter", "L_GTR"],
    "left_metatarsal_5": ["LMT5", "left metatarsal 5", "L_5th_metatarsal", "Left fifth metatarsal"],
    "right_metatarsal_1": ["RMT1", "right metatarsal 1", "R.Met1", "Right first metatarsal"],
    "right_metatarsal_2": ["R_2nd_metatarsal_head", "right metatarsal 2", "RMT2"],
    "sacrum": ["SACR", "Sacrum", "sacral", "VSAC"],
    "left_knee ": ["LLEK", "L_knee_out", "L_Lat_Con", "l knee 1"],
    "left_knee_medial": ["LMEK", "L_Med_Con"],
    "left_ankle  ": ["L_ankle_out"],
    "left_ankle_medial": ["L_ankle_in"],
    "right_heel ": ["R.Heel.Top"],
    "right_asis": ["RASIS1"],
    "sacrum ": ["V_Sacral"],
    # Palpation literature (van Sint Jan 2007) and ISB (Wu 2002) abbreviations with a side.
    "left_heel ": ["L_FCC"],
    "right_metatarsal_5 ": ["R_FM5"],
    "right_metatarsal_1 ": ["R_FM1"],
    "left_ankle ": ["L_FAL"],
    "left_ankle_medial ": ["L_TAM"],
    "right_knee ": ["R_FLE"],
    "right_knee_medial ": ["R_FME"],
    "right_fibula_head ": ["R_FAX", "Right Fibular Head"],
    "left_tibial_tuberosity ": ["L_TTC"],
}
ONE_EACH = [(key.strip(), label) for key, labels in SPELT.items() for label in labels]


@pytest.mark.parametrize(("key", "label"), ONE_EACH)
def test_label_is_read_by_what_it_spells(key, label):
    """One label, one landmark."""
    assert find_landmarks([label], LabMap()).labels == {key: label}


@pytest.mark.parametrize(
    ("label", "landmark"),
    [
        *[("LM", "ankle"), ("MM", "ankle_medial"), ("LE", "knee"), ("ME", "knee_medial")],
        *[("FH", "hip"), ("CA", "heel"), ("FM", "metatarsal_1"), ("VM", "metatarsal_5")],
        *[("HF", "fibula_head"), ("TT", "tibial_tuberosity"), ("Heel", "heel")],
    ],
)
def test_abbreviations_without_a_side_are_read_without_one(label, landmark):
    """LE and LM are no left sides; Heel does not end in a left."""
    reading = read_label(label)
    assert (reading.side, reading.landmark) == (None, landmark)
    assert unsided_landmarks([label]) == {landmark: label} and not has_sides([label])
    assert find_landmarks([label], LabMap()).labels == {}
    assert find_landmarks([label], LabMap(), lone_side="left").labels == {f"left_{landmark}": label}


@pytest.mark.parametrize(
    "label",
    [
        *["LAnkleAngles", "RKneeMoment", "LGroundReactionForce", "*12", "#3", "", "HEAD", "C7"],
        *["RS1", "LS2", "LEL", "LEM", "R_Foot_1", "LTHA1", "RSK3", "V_Mid_ASIS", "LMCP1"],
        *["LSHO", "RELB", "L_wrist", "R finger", "CLAV", "T10", "LFHD", "RBHD", "unnamed 4"],
    ],
)
def test_what_spells_no_landmark_of_the_leg_is_left_alone(label):
    """Outputs, arms, trunk, head and unlabelled points are no landmarks."""
    assert read_label(label) is None


def test_first_of_duplicate_labels_is_used_and_the_choice_told():
    """A repeated label is numbered by the reader; the first is the one taken."""
    fit = find_landmarks(["RKNE", "RKNE (2)"], LabMap())
    assert fit.labels == {"right_knee": "RKNE"}
    (problem,) = fit.problems
    assert problem.where == "right_knee" and "RKNE (2)" in problem.what


def test_map_wins_over_spelling():
    """The laboratory's own choice replaces what the labels spell; the rest is still read."""
    lab_map = LabMap(landmarks={"left_heel": "MARK 06"}, path="map.toml")
    fit = find_landmarks(["LHEE", "MARK 06", "LTOE"], lab_map)
    assert fit.labels == {"left_heel": "MARK 06", "left_toe": "LTOE"}


def test_a_label_of_a_map_that_is_absent_leaves_the_rest_to_the_map_and_to_spelling():
    """No label of a map refuses a file: what is there counts, what is not is read by its name."""
    names = {"left_heel": "MARK 07", "right_heel": "MARK 08"}
    fit = find_landmarks(["MARK 08", "LHEE"], LabMap(landmarks=names))
    assert fit.labels == {"right_heel": "MARK 08", "left_heel": "LHEE"}

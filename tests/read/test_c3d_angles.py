"""Joint angles among the points are taken over only with a sure sign and zero.

The curves are the sagittal angles of the handbook's walking trial (Winter; coordinates in
tests/reference, 70 Hz, one stride and a half of a right leg), computed here from its coordinates.
"""

from pathlib import Path

import numpy as np
import pytest

from gaittrack.read import read_trial
from gaittrack.read.c3d_files.c3d_labels import joint_angle_of, quantity_of
from gaittrack.simulate.c3d_writer import write_c3d
from gaittrack.simulate.recipe import WalkRecipe
from gaittrack.simulate.walk import simulate_walk

HANDBOOK = Path(__file__).parents[1] / "reference" / "handbook_walk_2d_coordinates_70hz.txt"
RATE_HZ = 69.9


def lean_deg(low, high):
    """Return the angle of a line against the vertical, upper end ahead positive."""
    along, up = (high - low).T
    return np.degrees(np.arctan2(along, up))


@pytest.fixture(scope="module")
def leg():
    """Right ankle, knee and hip (thigh against the vertical) of the handbook's walk, degrees."""
    lines = [line for line in HANDBOOK.read_text().splitlines() if line.strip()]
    rows = [line.split() for line in lines]
    numbers = np.array([[float(cell) for cell in row] for row in rows if is_numeric(row)])
    places = numbers[:, -16:].reshape(len(numbers), 8, 2)
    _, hip, knee, _, ankle, heel, metatarsal, _ = places.transpose(1, 0, 2)
    thigh, shank = -lean_deg(knee, hip), lean_deg(ankle, knee)
    foot = np.degrees(np.arctan2(*(metatarsal - heel).T[::-1]))
    return {"ankle": shank + foot - np.median(foot), "knee": thigh + shank, "hip": thigh}


def is_numeric(row):
    try:
        [float(cell) for cell in row]
    except ValueError:
        return False
    return len(row) >= 17


def write_angles(path, angles, **parameters):
    """Write angles by label, with two markers of a body."""
    n_frames = len(next(iter(angles.values())))
    body = {"right heel": np.full((n_frames, 3), 0.05), "neck": np.full((n_frames, 3), 1.4)}
    stored = {label: np.column_stack([v, np.ones((len(v), 2))]) for label, v in angles.items()}
    write_c3d(path, rate_hz=RATE_HZ, markers=body, angles=stored, parameters=parameters)


def warnings_of(trial):
    return " ".join(str(problem) for problem in trial.problems if problem.level == "warning")


def read(path):
    return read_trial(path, in_child=False)


def test_the_curves_are_the_handbooks(leg):
    """Peak swing knee flexion of the handbook's trial is near 60 deg, thigh near 25 deg."""
    assert leg["knee"].max() == pytest.approx(60.2, abs=3.0)
    assert leg["hip"].max() == pytest.approx(25.8, abs=2.0)


LABELS = [
    ("RAnkleAngles", "RKneeAngles", "RHipAngles"),
    ("right ankle angle", "right knee angle", "right hip angle"),
    ("R_ANKLE_ANGLE", "R_KNEE_ANGLE", "R_HIP_ANGLE"),
    ("AnkleAngle_Right", "KneeAngle_Right", "HipAngle_Right"),
    ("rankleangle", "rkneeangle", "rhipangle"),
]


@pytest.mark.parametrize("labels", LABELS, ids=lambda labels: labels[0])
@pytest.mark.parametrize("hinted", [True, False])
def test_angles_are_known_by_what_they_spell(tmp_path, leg, labels, hinted):
    """However the labels are spelled, with or without POINT:ANGLES: right side, joint, sign."""
    path = tmp_path / "walk.c3d"
    angles = dict(zip(labels, leg.values(), strict=True))
    write_angles(path, angles, POINT={} if hinted else {"ANGLES": None})
    trial = read(path)
    assert list(trial.markers) == ["right heel", "neck"]
    assert set(trial.angles) == {
        ("right", "ankle"),
        ("right", "knee"),
        ("right", "hip_pelvis_thigh"),
    }
    for joint, name in (("ankle", "ankle"), ("knee", "knee"), ("hip_pelvis_thigh", "hip")):
        np.testing.assert_allclose(trial.angles["right", joint].values, leg[name], atol=1e-4)
    assert not warnings_of(trial)
    assert any("taken over" in problem.what for problem in trial.problems)


@pytest.mark.parametrize("turned", ["ankle", "knee", "hip"])
def test_a_turned_sign_is_turned_back_and_said(tmp_path, leg, turned):
    """Plantarflexion, knee or hip extension positive: our sign comes out, with a warning."""
    path = tmp_path / "walk.c3d"
    angles = {f"R{joint}Angle": (-v if joint == turned else v) for joint, v in leg.items()}
    write_angles(path, angles)
    trial = read(path)
    for (_, joint), signal in trial.angles.items():
        np.testing.assert_allclose(signal.values, leg[joint.split("_")[0]], atol=1e-4)
    assert "sign was turned" in warnings_of(trial)


def test_a_right_angled_ankle_called_90(tmp_path, leg):
    """90 deg is taken off and said."""
    path = tmp_path / "walk.c3d"
    write_angles(path, {"RAnkleAngle": leg["ankle"] + 90.0, "RKneeAngle": leg["knee"]})
    trial = read(path)
    np.testing.assert_allclose(trial.angles["right", "ankle"].values, leg["ankle"], atol=1e-4)
    assert "right angle" in warnings_of(trial)


@pytest.mark.parametrize("unit", ["rad", None])
def test_radians(tmp_path, leg, unit):
    """Radians are known by POINT:ANGLE_UNITS or by their size."""
    path = tmp_path / "walk.c3d"
    angles = {f"R{joint}Angle": np.radians(values) for joint, values in leg.items()}
    write_angles(path, angles, POINT={"ANGLE_UNITS": unit})
    np.testing.assert_allclose(read(path).angles["right", "knee"].values, leg["knee"], atol=1e-3)


def test_an_unsure_sign_is_not_used(tmp_path, leg):
    """An ankle without a knee beside it has no sure sign: left out, with a warning."""
    path = tmp_path / "walk.c3d"
    write_angles(path, {"RAnkleAngle": leg["ankle"]})
    trial = read(path)
    assert not trial.angles
    assert "cannot be made sure" in warnings_of(trial)


def test_a_knee_that_hardly_bends_is_not_used(tmp_path, leg):
    """Standing: the sign of a knee near 0 cannot be known."""
    path = tmp_path / "walk.c3d"
    write_angles(path, {"RKneeAngle": leg["knee"] * 0.05})
    assert not read(path).angles


def test_missing_angles_are_gaps(tmp_path, leg):
    """Frames without an angle are NaN."""
    path = tmp_path / "walk.c3d"
    knee = leg["knee"].copy()
    knee[40:45] = np.nan
    write_angles(path, {"RKneeAngle": knee})
    found = read(path).angles["right", "knee"].values
    np.testing.assert_array_equal(np.isnan(found), np.isnan(knee))


def test_other_outputs_are_no_markers(tmp_path, leg):
    """Moments, powers and forces are left out of the markers and named."""
    path = tmp_path / "walk.c3d"
    write_angles(
        path,
        {
            "RKneeMoment": leg["knee"],
            "RAnklePower": leg["knee"],
            "LGroundReactionForce": leg["hip"],
        },
        POINT={"ANGLES": None},
    )
    trial = read(path)
    assert list(trial.markers) == ["right heel", "neck"]
    assert any("RKneeMoment" in problem.what for problem in trial.problems)


@pytest.mark.parametrize(
    ("label", "meaning"),
    [
        ("LAnkleAngles", ("left", "ankle")),
        ("left knee angle", ("left", "knee")),
        ("R_HIP_ANGLE", ("right", "hip_pelvis_thigh")),
        ("LPelvisAngles", ("left", "pelvic_tilt")),
        ("LFootProgressAngles", None),
        ("TrunkAngle", None),
        ("KneeAngle", None),
    ],
)
def test_what_angle_labels_spell(label, meaning):
    """Side and joint are read from the words; without both there is no angle."""
    assert joint_angle_of(label) == meaning


@pytest.mark.parametrize(
    "label",
    ["LAbsAnkleAngle", "LHipRotationAngles", "left knee varus angle", "LHipAngleY", "RKneeAngleZ"],
)
def test_an_angle_of_another_plane_or_reference_is_none_of_ours(label):
    """Words beside side, joint and flexion may mean anything: not taken for the sagittal angle."""
    assert quantity_of(label) == "angle" and joint_angle_of(label) is None


def test_two_points_that_claim_one_angle_are_both_left_out(tmp_path, leg):
    """The last of them must not win in silence."""
    path = tmp_path / "twice.c3d"
    twice = {"RKneeAngles": leg["knee"], "RKneeFlexionAngle": leg["knee"] - 12.0}
    write_angles(path, {"RHipAngles": leg["hip"], **twice})
    trial = read(path)
    assert ("right", "knee") not in trial.angles
    assert "RKneeAngles, RKneeFlexionAngle" in warnings_of(trial)


@pytest.mark.parametrize("sign", [1.0, -1.0])
@pytest.mark.parametrize("speed_m_s", [0.25, 0.5, 0.8, 1.2, 1.5])
def test_the_ankle_has_its_sign_by_the_flat_foot(tmp_path, speed_m_s, sign):
    """Truth by construction: a right sign is kept, a turned one turned, at every speed."""
    walk = simulate_walk(WalkRecipe(speed_m_s=speed_m_s), seed=3)
    path = tmp_path / "walk.c3d"
    names = {"ankle": sign, "knee": 1.0, "hip_pelvis_thigh": 1.0}
    angles = {
        f"{side} {joint.split('_')[0]} angle": turn * walk.truth.angles_deg[side, joint]
        for side in ("left", "right")
        for joint, turn in names.items()
    }
    write_angles(path, angles)
    trial = read(path)
    for side in ("left", "right"):
        truth = walk.truth.angles_deg[side, "ankle"]
        np.testing.assert_allclose(trial.angles[side, "ankle"].values, truth, atol=1e-3)


@pytest.mark.parametrize(
    "label", ["LKNE", "RHEE", "left ankle", "T10", "LFLE", "r heel", "IJ", "triangle top"]
)
def test_markers_spell_no_quantity(label):
    """A place on the body is a marker."""
    assert quantity_of(label) == ""

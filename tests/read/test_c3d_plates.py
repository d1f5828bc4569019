"""Force plates of all four types come out as upward force and pressure on the plate."""

from pathlib import Path

import ezc3d
import numpy as np
import pytest

from gaittrack.read import read_trial
from gaittrack.simulate.c3d_writer import write_c3d
from tests.read.c3d_variants import CORNERS_M, RATE_HZ, body_markers, loaded_plate, write_variant

REAL_FILE = Path(__file__).parents[1] / "reference" / "walk_two_plates_100hz.c3d"


@pytest.fixture(scope="module")
def real():
    return read_trial(REAL_FILE, in_child=False)


def read_plate(path):
    trial = read_trial(path, in_child=False)
    (plate,) = trial.plates
    return plate, trial


def write_type(path, kind, channels, origin_mm=(0.0, 0.0, -40.0), **platform):
    """Write the body with one plate of a type, from the channels of that type."""
    names = {f"ch{i}": values for i, values in enumerate(channels)}
    group = {
        "USED": 1,
        "TYPE": np.array([kind], dtype=np.int16),
        "ZERO": np.zeros(2, dtype=np.int16),
        "CORNERS": (CORNERS_M.T * 1000)[..., None],
        "ORIGIN": np.array(origin_mm)[:, None],
        "CHANNEL": np.arange(1, len(names) + 1, dtype=np.int16)[:, None],
        **platform,
    }
    units = {"ANALOG": {"UNITS": ["N"] * 3 + ["Nmm"] * (len(names) - 3)}}
    write_c3d(
        path,
        rate_hz=RATE_HZ,
        markers=body_markers(),
        analog=names,
        parameters={"FORCE_PLATFORM": group, **units},
    )


def plate_channels(offset_mm=(0.0, 0.0, -40.0)):
    """Return truth and the six channels of a plate whose z points down, in N and N.mm.

    The corners' order makes the plate's x, y, z the room's x, -y, -z.
    """
    plate = loaded_plate()
    corner_axes = np.array([1.0, -1.0, -1.0])
    force = plate.force_n * corner_axes
    arm = np.nan_to_num(plate.centre_of_pressure_m - CORNERS_M.mean(axis=0)) * corner_axes * 1000
    moment = np.cross(arm + np.array(offset_mm), force)
    return plate, force, moment


def test_contacts_of_the_recorded_walk(real):
    """20 N on each plate of the recorded walk, against independent values of the same file."""
    times = {}
    for plate in real.plates:
        on = np.flatnonzero(plate.force_n[:, 2] > 20.0)
        times[plate.name] = on[[0, -1]] / plate.rate_hz
    np.testing.assert_allclose(times["plate 2"], [2.083, 2.660], atol=0.005)
    np.testing.assert_allclose(times["plate 1"], [2.569, 3.146], atol=0.005)


def test_the_baseline_is_removed(real):
    """Plate 2 of the recorded walk stands at -15.6 N unloaded; here it stands at 0."""
    parsed = ezc3d.c3d(str(REAL_FILE), extract_forceplat_data=True)["data"]["platform"][1]
    raw, ours = parsed["force"][2], real.plates[1].force_n[:, 2]
    assert abs(np.median(raw[:1500])) == pytest.approx(15.6, abs=0.5)
    assert abs(np.median(ours[:1500])) < 1.0


def test_calibration_matrices_as_another_reader_applies_them(real):
    """Type 4: force and pressure of the recorded walk agree with ezc3d's, baseline apart."""
    parsed = ezc3d.c3d(str(REAL_FILE), extract_forceplat_data=True)["data"]["platform"]
    for plate, other in zip(real.plates, parsed, strict=True):
        force = other["force"].T - other["force"].T[:100].mean(axis=0)
        sign = np.sign(force[np.abs(force[:, 2]).argmax(), 2])
        np.testing.assert_allclose(plate.force_n, sign * force, atol=0.01)
        loaded = plate.force_n[:, 2] > 300
        pressure_m = other["center_of_pressure"].T[loaded] / 1000
        assert np.abs(plate.centre_of_pressure_m[loaded] - pressure_m).max() < 0.02


def test_pressure_stays_on_the_plate(real):
    """Under load the centre of pressure lies within the corners; unloaded it is NaN."""
    for plate in real.plates:
        loaded = plate.force_n[:, 2] > 50
        low, high = plate.corners_m.min(axis=0), plate.corners_m.max(axis=0)
        inside = plate.centre_of_pressure_m[loaded]
        assert ((inside[:, :2] > low[:2]) & (inside[:, :2] < high[:2])).all()
        assert np.isnan(plate.centre_of_pressure_m[plate.force_n[:, 2] < 15]).all()


@pytest.mark.parametrize("sign", [1.0, -1.0])
@pytest.mark.parametrize("depth_mm", [-40.0, 40.0])
def test_type_2_whatever_the_sign_of_its_channels_and_origin(tmp_path, sign, depth_mm):
    """Reaction or action, sensor depth written either way: force up, pressure right."""
    plate, force, moment = plate_channels()
    path = tmp_path / "walk.c3d"
    channels = sign * np.hstack([force, moment]).T
    write_type(path, 2, channels, (0.0, 0.0, depth_mm))
    found, _ = read_plate(path)
    np.testing.assert_allclose(found.force_n, plate.force_n, atol=1e-3)
    np.testing.assert_allclose(found.centre_of_pressure_m, plate.centre_of_pressure_m, atol=1e-5)


def test_type_1_gives_its_own_pressure(tmp_path):
    """Forces, pressure in the plate's axes and free moment."""
    plate, force, _ = plate_channels()
    arm = np.nan_to_num(plate.centre_of_pressure_m - CORNERS_M.mean(axis=0)) * 1000
    channels = [*force.T, arm[:, 0], -arm[:, 1], np.zeros(len(force))]
    path = tmp_path / "walk.c3d"
    write_type(path, 1, channels, (0.0, 0.0, 0.0))
    found, _ = read_plate(path)
    np.testing.assert_allclose(found.force_n, plate.force_n, atol=1e-3)
    np.testing.assert_allclose(found.centre_of_pressure_m, plate.centre_of_pressure_m, atol=1e-5)


def test_type_3_adds_eight_sensors(tmp_path):
    """Four vertical and four shear sensors; ezc3d agrees on force and pressure."""
    plate, force, moment = plate_channels((0.0, 0.0, 0.0))
    a_mm, b_mm = 250.0, 150.0
    share = force[:, 2] / 4
    by_mx, by_my = moment[:, 0] / (4 * b_mm), moment[:, 1] / (4 * a_mm)
    vertical = [share + by_mx - by_my, share + by_mx + by_my]
    vertical += [share - by_mx + by_my, share - by_mx - by_my]
    channels = [force[:, 0] / 2, force[:, 0] / 2, force[:, 1] / 2, force[:, 1] / 2, *vertical]
    path = tmp_path / "walk.c3d"
    write_type(path, 3, channels, (a_mm, b_mm, 0.0))
    found, _ = read_plate(path)
    np.testing.assert_allclose(found.force_n, plate.force_n, atol=1e-3)
    np.testing.assert_allclose(found.centre_of_pressure_m, plate.centre_of_pressure_m, atol=1e-5)
    other = ezc3d.c3d(str(path), extract_forceplat_data=True)["data"]["platform"][0]
    loaded = plate.force_n[:, 2] > 0
    np.testing.assert_allclose(np.abs(other["force"].T[loaded, 2]), 700.0, atol=1e-3)
    np.testing.assert_allclose(
        other["center_of_pressure"].T[loaded, :2] / 1000,
        plate.centre_of_pressure_m[loaded, :2],
        atol=1e-5,
    )


def test_type_4_multiplies_by_its_matrix(tmp_path):
    """A matrix with coupling is undone; ezc3d agrees on the force."""
    plate, force, moment = plate_channels()
    rng = np.random.default_rng(3)
    matrix = np.diag([2.0, 3.0, 4.0, 500.0, 600.0, 700.0]) + rng.normal(size=(6, 6)) * 0.01
    channels = np.linalg.solve(matrix, np.hstack([force, moment]).T)
    path = tmp_path / "walk.c3d"
    write_type(path, 4, channels, CAL_MATRIX=matrix[..., None])
    found, _ = read_plate(path)
    np.testing.assert_allclose(found.force_n, plate.force_n, atol=0.01)
    loaded = plate.force_n[:, 2] > 0
    np.testing.assert_allclose(
        found.centre_of_pressure_m[loaded], plate.centre_of_pressure_m[loaded], atol=1e-4
    )
    other = ezc3d.c3d(str(path), extract_forceplat_data=True)["data"]["platform"][0]
    np.testing.assert_allclose(np.abs(other["force"].T), np.abs(plate.force_n), atol=0.01)


@pytest.mark.parametrize("unit", ["Nm", "V", ""])
def test_a_wrong_unit_of_moments_is_seen_by_where_pressure_falls(tmp_path, unit):
    """N.mm called N.m, or volts: pressure still falls on the plate."""
    plate = loaded_plate()
    path = tmp_path / "walk.c3d"
    write_c3d(
        path,
        rate_hz=RATE_HZ,
        markers=body_markers(),
        plates=[plate],
        parameters={"ANALOG": {"UNITS": [unit] * 6}},
    )
    found, _ = read_plate(path)
    np.testing.assert_allclose(found.centre_of_pressure_m, plate.centre_of_pressure_m, atol=1e-5)


def test_rubbish_corners_cost_the_plate_and_not_the_trial(tmp_path):
    """USED larger than the sensible entries, the rest 1e24: the good plate is read."""
    path = tmp_path / "walk.c3d"
    plate = loaded_plate()
    corners = np.full((3, 4, 2), 1e24)
    corners[..., 0] = plate.corners_m.T * 1000
    write_variant(
        path,
        plates=[plate, plate],
        parameters={"FORCE_PLATFORM": {"USED": 3, "CORNERS": corners}},
    )
    trial = read_trial(path, in_child=False)
    assert [plate.name for plate in trial.plates] == ["plate 1"]
    left_out = [problem for problem in trial.problems if "left out" in problem.what]
    assert [problem.where for problem in left_out] == ["plate 2", "plate 3"]


def test_a_plate_that_is_never_loaded_says_so(tmp_path):
    """No load, no pressure, an information."""
    path = tmp_path / "walk.c3d"
    plate = loaded_plate()
    write_type(path, 2, np.zeros((6, len(plate.force_n))))
    found, trial = read_plate(path)
    assert np.isnan(found.centre_of_pressure_m).all()
    assert any("never loaded" in problem.what for problem in trial.problems)


@pytest.mark.parametrize("zero", [(0, 0), (1, 10)])
def test_a_baseline_is_found_with_and_without_zero_frames(tmp_path, zero):
    """An offset of -15 N is removed, from the frames named or from the unloaded samples."""
    plate, force, moment = plate_channels()
    channels = np.hstack([force, moment]).T
    channels[2] += 15.0
    path = tmp_path / "walk.c3d"
    zero_frames = np.array(zero, dtype=np.int16)
    write_type(path, 2, channels, ZERO=zero_frames)
    found, _ = read_plate(path)
    np.testing.assert_allclose(found.force_n, plate.force_n, atol=0.01)

"""Promises that every format keeps: named errors for bad files, a full account of good ones."""

import hashlib
import pickle
from pathlib import Path

import numpy as np
import pytest

from gaittrack.errors import BadFileError, EmptyFileError, GaitTrackError, UnknownFormatError
from gaittrack.read import FORMATS, read_trial
from gaittrack.trial import Trial

REFERENCE = Path(__file__).parents[1] / "reference"
GOOD_FILES = {
    "C3D": REFERENCE / "walk_two_plates_100hz.c3d",
    "marker text table": REFERENCE / "walk_right_leg_with_force_a_150hz.txt",
}
SUFFIXES = {"C3D": ".c3d", "marker text table": ".txt", "joint-angle sheet": ".csv"}
NAMES = [kind.name for kind in FORMATS]


def joint_angle_sheet():
    time_s = np.arange(200) / 100.0
    knee = 30 - 30 * np.cos(2 * np.pi * time_s)
    rows = [f"{t:.2f},{angle:.3f}" for t, angle in zip(time_s, knee, strict=True)]
    return "\n".join(["time (s),left knee flexion (deg)", *rows]) + "\n"


@pytest.fixture(params=NAMES)
def good_file(request, tmp_path):
    """Return one good file of each format, copied to a folder of its own."""
    name = request.param
    path = tmp_path / f"walk{SUFFIXES[name]}"
    if name in GOOD_FILES:
        path.write_bytes(GOOD_FILES[name].read_bytes())
    else:
        path.write_text(joint_angle_sheet(), encoding="utf-8", newline="")
    return name, path


def test_every_format_has_a_good_file():
    """A new format must come with a good file for this battery."""
    assert set(NAMES) <= set(SUFFIXES)


def test_a_good_file_is_fully_accounted_for(good_file):
    """Format, hash, rate, frames and steps are there, and the file is left as it was."""
    name, path = good_file
    before = path.read_bytes()
    trial = read_trial(path)
    assert isinstance(trial, Trial)
    assert trial.provenance.format == name
    assert trial.provenance.file_name == path.name
    assert trial.provenance.sha256 == hashlib.sha256(before).hexdigest()
    assert trial.rate_hz > 0
    assert trial.n_frames > 10
    assert trial.provenance.steps
    assert path.read_bytes() == before


def test_reading_twice_or_in_the_worker_is_the_same(good_file):
    """The worker returns what reading here returns, each time."""
    _, path = good_file
    contents = {pickle.dumps(read_trial(path, in_child=where)) for where in (True, False, True)}
    assert len(contents) == 1


def test_no_folder_is_in_the_trial(good_file):
    """The trial knows the file's name, not where it lies."""
    _, path = good_file
    assert str(path.parent).encode() not in pickle.dumps(read_trial(path))


def test_a_cut_file_is_refused_or_says_less(good_file):
    """Cut at a third: an error of ours that names the file, or fewer frames (text has no count)."""
    name, path = good_file
    content = path.read_bytes()
    whole = read_trial(path).n_frames
    path.write_bytes(content[: len(content) // 3])
    if name == "C3D":
        with pytest.raises(BadFileError, match="walk"):
            read_trial(path)
        return
    try:
        assert read_trial(path).n_frames < whole
    except BadFileError as error:
        assert path.name in str(error)


@pytest.mark.parametrize("suffix", [*SUFFIXES.values(), ".xlsx", ".xyz", ""])
@pytest.mark.parametrize("in_child", [True, False])
def test_an_empty_file_is_named_as_such(tmp_path, suffix, in_child):
    """No bytes, or only blanks."""
    path = tmp_path / f"walk{suffix}"
    for content in (b"", b"\r\n \t\n", b"\0" * 700):
        path.write_bytes(content)
        with pytest.raises(EmptyFileError, match=r"walk.*empty.*Export"):
            read_trial(path, in_child=in_child)


@pytest.mark.parametrize("suffix", [*SUFFIXES.values(), ".xlsx", ".xyz", ""])
def test_random_bytes_are_refused(tmp_path, suffix):
    """Noise is an error of ours that names the file, whatever its ending."""
    path = tmp_path / f"walk{suffix}"
    rng = np.random.default_rng(5)
    for _ in range(5):
        path.write_bytes(rng.bytes(3000))
        with pytest.raises(BadFileError, match="walk"):
            read_trial(path)


@pytest.mark.parametrize("suffix", [".c3d", ".xyz", ""])
def test_a_letter_is_no_recording(tmp_path, suffix):
    """Prose is refused with the kinds of file that are read."""
    path = tmp_path / f"walk{suffix}"
    path.write_text("This is a letter, not a recording.\n" * 40, encoding="utf-8")
    with pytest.raises(UnknownFormatError if suffix == ".c3d" else BadFileError, match="walk"):
        read_trial(path)


def test_a_missing_file_is_named(tmp_path):
    """No such file, and a folder, are errors before any reader runs."""
    with pytest.raises(BadFileError, match=r"walk\.c3d.*no such file.*Check"):
        read_trial(tmp_path / "walk.c3d")
    with pytest.raises(BadFileError, match="folder"):
        read_trial(tmp_path)


@pytest.mark.parametrize("rate_hz", [0.0, -5.0, float("nan"), float("inf")])
def test_an_impossible_rate_is_the_callers_mistake(tmp_path, rate_hz):
    """A rate that is no positive number is a ValueError."""
    with pytest.raises(ValueError, match="rate_hz"):
        read_trial(tmp_path / "walk.c3d", rate_hz=rate_hz)


def test_content_decides_before_the_ending(tmp_path):
    """A C3D file with another ending is read as what it is."""
    path = tmp_path / "walk.txt"
    path.write_bytes(GOOD_FILES["C3D"].read_bytes())
    assert read_trial(path).provenance.format == "C3D"


def test_errors_survive_a_pickle():
    """Errors cross between processes with where, what and action."""
    error = EmptyFileError("Nothing.", where="a.c3d", action="Do.")
    copy = pickle.loads(pickle.dumps(error))
    assert isinstance(copy, GaitTrackError)
    assert (copy.what, copy.where, copy.action) == ("Nothing.", "a.c3d", "Do.")

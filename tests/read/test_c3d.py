"""C3D files in every variant give the same trial, and what is odd about them is said."""

import itertools
import pickle
from pathlib import Path

import numpy as np
import pytest

from gaittrack.errors import BadFileError, DataError, EmptyFileError, HeaderError
from gaittrack.read import read_trial
from gaittrack.read.c3d_files.c3d import looks_like
from gaittrack.simulate.c3d_writer import write_c3d
from tests.read.c3d_variants import (
    N_FRAMES,
    PERSON,
    RATE_HZ,
    body_markers,
    loaded_plate,
    second_reading,
    stacked,
    write_variant,
)

REAL_FILE = Path(__file__).parents[1] / "reference" / "walk_two_plates_100hz.c3d"
INTEGER_STEP_M = 1.7 / 32000
"""Rounding of the made-up recording in integer storage: largest coordinate over 32000."""


def read(path, **options):
    return read_trial(path, in_child=False, **options)


def warned(trial):
    return " ".join(str(problem) for problem in trial.problems if problem.level == "warning")


def test_the_recorded_walk_agrees_with_a_second_reader_point_by_point():
    """All 33 points of the recorded walk (DEC, integers) agree with the c3d package."""
    trial = read(REAL_FILE)
    other = second_reading(REAL_FILE) / 1000
    assert np.isfinite(other).any()
    np.testing.assert_allclose(stacked(trial.markers), other, atol=1e-6)
    assert (trial.rate_hz, trial.n_frames, trial.first_frame) == (100.0, 487, 1)


VARIANTS = list(
    itertools.product(("intel", "dec"), ("float", "integer"), (1, 51), ("mm", "cm", "m"))
)


@pytest.mark.parametrize(("order", "storage", "first_frame", "unit"), VARIANTS)
def test_every_variant_gives_the_same_trial(tmp_path, order, storage, first_frame, unit):
    """Byte order, number type, cropping and unit change neither markers, events nor plates."""
    path = tmp_path / "walk.c3d"
    plate = loaded_plate()
    markers = write_variant(
        path,
        byte_order=order,
        storage=storage,
        first_frame=first_frame,
        unit=unit,
        plates=[plate],
        events=[(0.2, "left", "initial_contact"), (0.4, "left", "toe_off")],
    )
    trial = read(path)
    tolerance_m = 1e-6 if storage == "float" else INTEGER_STEP_M
    assert list(trial.markers) == list(markers)
    np.testing.assert_allclose(stacked(trial.markers), stacked(markers), atol=tolerance_m)
    factor = {"m": 1.0, "cm": 100.0, "mm": 1000.0}[unit]
    np.testing.assert_allclose(
        stacked(trial.markers), second_reading(path) / factor, atol=tolerance_m
    )
    assert trial.first_frame == first_frame
    assert [(event.side, event.kind) for event in trial.events] == [
        ("left", "initial_contact"),
        ("left", "toe_off"),
    ]
    assert [event.time_s for event in trial.events] == pytest.approx([0.2, 0.4], abs=1e-6)
    (read_plate,) = trial.plates
    np.testing.assert_allclose(read_plate.force_n, plate.force_n, atol=0.05)
    np.testing.assert_allclose(
        read_plate.centre_of_pressure_m, plate.centre_of_pressure_m, atol=2e-4
    )


@pytest.mark.parametrize("code", ["negative", "nan", "zero"])
def test_missing_points_are_gaps_whatever_their_code(tmp_path, code):
    """Negative fourth word, NaN and exact zeros all become NaN, in the same frames."""
    path = tmp_path / "walk.c3d"
    markers = write_variant(path, missing=code)
    gaps = np.isnan(stacked(read(path).markers))
    assert gaps.any()
    np.testing.assert_array_equal(gaps, np.isnan(stacked(markers)))


@pytest.mark.parametrize("storage", ["float", "integer"])
def test_all_points_marked_missing_but_moving_are_kept(tmp_path, storage):
    """When every fourth word is negative although coordinates vary, they are kept, with a word."""
    path = tmp_path / "walk.c3d"
    markers = {label: xyz for label, xyz in body_markers().items() if label != "left toe"}
    write_variant(path, markers=markers, storage=storage)
    content = bytearray(path.read_bytes())
    start = (int.from_bytes(content[16:18], "little") - 1) * 512
    words = np.frombuffer(content, "<f4" if storage == "float" else "<i2", offset=start)
    words = words[: N_FRAMES * len(markers) * 4].copy()
    words[3::4] = -1
    content[start : start + words.nbytes] = words.tobytes()
    path.write_bytes(content)
    trial = read(path)
    np.testing.assert_allclose(stacked(trial.markers), stacked(markers), atol=INTEGER_STEP_M)
    assert "marked as missing" in warned(trial)


@pytest.mark.parametrize(
    "parameters",
    [
        {"ANALOG": {"RATE": 0.0}},
        {"ANALOG": {"RATE": None}},
        {"ANALOG": {"RATE": 500.0}},
        {"ANALOG": {"USED": None}},
        {"ANALOG": {"SCALE": None}},
        {"ANALOG": {"OFFSET": None}},
        {"ANALOG": {"OFFSET": np.zeros(6)}},
        {"POINT": {"USED": None}},
        {"POINT": {"USED": 3}},
        {"POINT": {"FRAMES": None}},
        {"POINT": {"FRAMES": float(N_FRAMES)}},
        {"POINT": {"SCALE": None}},
        {"POINT": {"SCALE": 0.05}},
        {"POINT": {"LABELS": None}},
        {"POINT": {"DATA_START": None}},
    ],
    ids=str,
)
def test_a_missing_or_wrong_parameter_never_scrambles_the_points(tmp_path, parameters):
    """The points of a file whose parameters trip ezc3d 1.7.2 come out right, or are refused."""
    path = tmp_path / "walk.c3d"
    markers = write_variant(path, plates=[loaded_plate()], parameters=parameters)
    trial = read(path)
    np.testing.assert_allclose(stacked(trial.markers), stacked(markers), atol=1e-6)
    assert trial.rate_hz == RATE_HZ


def test_more_points_than_one_label_list_holds(tmp_path):
    """LABELS2 continues LABELS; every label keeps its own point."""
    path = tmp_path / "walk.c3d"
    markers = {f"p{i:03d}": body_markers(5)["neck"] + 0.001 * i for i in range(300)}
    write_variant(path, markers=markers)
    trial = read(path)
    assert list(trial.markers) == list(markers)
    np.testing.assert_allclose(stacked(trial.markers), stacked(markers), atol=1e-6)


def test_long_recordings_keep_all_frames(tmp_path):
    """Past 32,767 frames the count, whose sign turns there, and the last frame are right."""
    path, n_frames = tmp_path / "walk.c3d", 40_000
    markers = {label: body_markers(n_frames)[label] for label in ("left heel", "neck")}
    write_variant(path, markers=markers)
    trial = read(path)
    assert trial.n_frames == n_frames
    np.testing.assert_allclose(stacked(trial.markers), stacked(markers), atol=1e-4)


def test_duplicate_labels_are_kept_and_numbered(tmp_path):
    """A label that occurs twice comes out twice, with a warning."""
    path = tmp_path / "walk.c3d"
    body = body_markers()
    write_variant(path, markers={"KNEE": body["left knee"], "KNEE ": body["neck"]})
    trial = read(path)
    assert list(trial.markers) == ["KNEE", "KNEE (2)"]
    np.testing.assert_allclose(trial.markers["KNEE (2)"], body["neck"], atol=1e-6)
    assert "KNEE" in warned(trial)


def test_unlabelled_points_are_named_by_their_place(tmp_path):
    """Stars, hashes and empty labels become unnamed-n."""
    path = tmp_path / "walk.c3d"
    body = body_markers()
    write_variant(path, markers={"*12": body["left knee"], "": body["neck"], "heel": body["neck"]})
    assert list(read(path).markers) == ["unnamed-1", "unnamed-2", "heel"]


def test_no_personal_name_leaves_the_room(tmp_path):
    """A name in SUBJECTS, label prefixes and events is in no part of the trial."""
    path = tmp_path / "walk.c3d"
    write_variant(
        path,
        subject=PERSON,
        events=[(0.1, "left", "initial_contact"), (0.2, "left", f"{PERSON} stumbled")],
        angles={f"{PERSON}:LKneeAngles": np.zeros((N_FRAMES, 3))},
        parameters={"EVENT": {"SUBJECTS": [PERSON, PERSON]}},
    )
    assert PERSON.encode() in path.read_bytes()
    trial = read(path)
    assert "left heel" in trial.markers
    content = pickle.dumps(trial)
    for word in PERSON.split():
        assert word.encode() not in content


def test_no_personal_name_is_in_an_error(tmp_path):
    """Errors about a file do not quote its subject."""
    path = tmp_path / "walk.c3d"
    write_variant(path, subject=PERSON)
    content = path.read_bytes()
    for length in range(600, len(content) - 512, 700):
        path.write_bytes(content[:length])
        with pytest.raises(BadFileError) as caught:
            read(path)
        assert not any(word in str(caught.value) for word in PERSON.split())


def test_a_given_rate_replaces_the_files(tmp_path):
    """An override changes the time base, keeps events on their frames and is recorded."""
    path = tmp_path / "walk.c3d"
    write_variant(path, events=[(0.2, "left", "initial_contact")], plates=[loaded_plate()])
    trial = read(path, rate_hz=200.0)
    assert trial.rate_hz == 200.0
    assert trial.events[0].time_s == pytest.approx(0.1, abs=1e-6)
    assert trial.plates[0].rate_hz == 2000.0
    assert any("200 Hz" in step for step in trial.provenance.steps)


def test_no_rate_at_all_is_an_error_with_a_way_out(tmp_path):
    """Neither parameter nor header: refused, unless the rate is given."""
    path = tmp_path / "walk.c3d"
    write_variant(path, parameters={"POINT": {"RATE": 0.0}})
    with pytest.raises(HeaderError, match="no frame rate"):
        read(path)
    assert read(path, rate_hz=120.0).rate_hz == 120.0


def test_analog_only_files_say_so(tmp_path):
    """A file without points is refused as empty of points."""
    path = tmp_path / "walk.c3d"
    write_c3d(path, rate_hz=RATE_HZ, markers={}, analog={"emg": np.arange(100.0)})
    with pytest.raises(EmptyFileError, match="no points"):
        read(path)


@pytest.mark.parametrize("n_frames", [1, 2])
def test_one_or_two_frames_are_read(tmp_path, n_frames):
    """A very short file is a trial; that it is too short for a cycle is said later."""
    path = tmp_path / "walk.c3d"
    markers = {
        "left heel": body_markers(9)["left heel"][:n_frames],
        "neck": body_markers(9)["neck"][:n_frames],
    }
    write_variant(path, markers=markers)
    assert read(path).n_frames == n_frames


@pytest.mark.parametrize("doubt", ["more bytes", "DEC", "disagree"])
def test_a_doubtful_file_is_refused_when_two_readings_differ(tmp_path, monkeypatch, doubt):
    """Where the layout leaves a doubt ezc3d reads too, and other coordinates refuse the file."""
    path = tmp_path / "walk.c3d"
    write_variant(path, byte_order="dec" if doubt == "DEC" else "intel")
    content = bytearray(path.read_bytes())
    if doubt == "more bytes":
        content += bytes(600)
    if doubt == "disagree":
        content[20:24] = np.float32(RATE_HZ / 2).tobytes()
    path.write_bytes(content)
    assert doubt in read(path).provenance.steps[0]

    class Scrambler:
        def __init__(self, path):
            pass

        def get_points(self):
            return np.ones((4, 6, N_FRAMES))

    monkeypatch.setattr("gaittrack.read.c3d_files.c3d.ezc3d.ezc3d.c3d", Scrambler)
    with pytest.raises(DataError, match="Two readings"):
        read(path)


def test_a_c3d_file_is_known_by_its_content():
    """The key decides; a text that happens to hold it is none."""
    assert looks_like(REAL_FILE.read_bytes(), "")
    assert not looks_like(b"IP addresses and other text\n" * 900, ".txt")


def test_points_that_stand_still_while_the_body_travels_are_left_out(tmp_path):
    """A mark on the floor is no marker of the body; a body on the spot keeps all its markers."""
    path = tmp_path / "walk.c3d"
    for speed, left_out in ((1.0, True), (0.0, False)):
        body = body_markers(300)
        for xyz in body.values():
            xyz[:, 0] += (speed - 1.0) * np.arange(300) / RATE_HZ
        write_variant(path, markers={**body, "corner": np.full((300, 3), 0.01)})
        trial = read(path)
        assert ("corner" not in trial.markers) == left_out
        assert set(body) <= set(trial.markers)
        assert any("stand still" in problem.what for problem in trial.problems) == left_out


def test_a_file_is_written_with_the_same_bytes_each_time(tmp_path):
    """The writer is reproducible."""
    for name in ("a.c3d", "b.c3d"):
        write_variant(tmp_path / name, plates=[loaded_plate()], events=[(0.1, "left", "toe_off")])
    assert (tmp_path / "a.c3d").read_bytes() == (tmp_path / "b.c3d").read_bytes()

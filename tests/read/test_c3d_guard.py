"""The guard lets through no file that ends early or contradicts itself, whatever was flipped."""

import os

import numpy as np
import pytest

from gaittrack.errors import BadFileError, EmptyFileError, HeaderError, TruncatedFileError
from gaittrack.read import read_here, read_trial
from gaittrack.read.c3d_files.c3d_guard import read_layout
from gaittrack.read.in_child import Worker
from tests.read.c3d_variants import N_FRAMES, loaded_plate, stacked, write_variant

N_FLIPS = 400
"""Single flipped bits tried in header and parameters; each is one call of the worker."""


@pytest.fixture
def walk(tmp_path):
    path = tmp_path / "walk.c3d"
    write_variant(path, plates=[loaded_plate(8)], markers=few_markers())
    return path


def few_markers():
    return {
        "left heel": np.linspace([0.0, 0.1, 0.05], [0.1, 0.1, 0.05], 8),
        "left asis": np.linspace([0.0, 0.1, 0.95], [0.1, 0.1, 0.95], 8),
    }


@pytest.mark.parametrize("storage", ["float", "integer"])
@pytest.mark.parametrize("order", ["intel", "dec"])
def test_a_file_cut_at_any_byte_is_refused(tmp_path, storage, order):
    """Every length that loses a frame is our error; one that loses padding changes nothing."""
    path = tmp_path / "walk.c3d"
    markers = few_markers()
    write_variant(
        path, markers=markers, plates=[loaded_plate(8)], storage=storage, byte_order=order
    )
    content = path.read_bytes()
    layout = read_layout(content, path.name)
    data_end = layout.data_start + layout.counts.data_bytes
    for length in range(data_end):
        with pytest.raises(BadFileError) as caught:
            read_layout(content[:length], path.name)
        assert path.name in str(caught.value)
    path.write_bytes(content[:data_end])
    trial = read_trial(path, in_child=False)
    np.testing.assert_allclose(stacked(trial.markers), stacked(markers), atol=1e-4)


def test_a_cut_file_says_how_many_frames_are_there(tmp_path):
    """The message holds the frames that are there and those that should be."""
    path = tmp_path / "walk.c3d"
    write_variant(path)
    content = path.read_bytes()
    layout = read_layout(content, path.name)
    cut = layout.data_start + 20 * layout.counts.frame_bytes + 7
    with pytest.raises(TruncatedFileError, match=rf"walk\.c3d.*20 of {N_FRAMES} frames.*Copy"):
        read_layout(content[:cut], path.name)


def test_a_flipped_bit_ends_in_our_error_or_the_same_numbers_or_a_warning(walk):
    """No flip in header or parameters kills the worker or changes coordinates unsaid.

    Flips inside the labels, units and other words change only these, so the coordinates are
    compared by order.
    """
    content = walk.read_bytes()
    expected = stacked(few_markers())
    records_end = len(content[: read_layout(content, walk.name).data_start].rstrip(b"\0"))
    places = [*range(24), *range(512, records_end)]
    rng = np.random.default_rng(20)
    worker = Worker()  # with the limit that readers have
    process = worker.call(os.getpid, where="")
    unsaid = []
    for number in rng.choice(len(places) * 8, N_FLIPS, replace=False):
        bit = places[number // 8] * 8 + number % 8
        flipped = bytearray(content)
        flipped[bit // 8] ^= 1 << (bit % 8)
        walk.write_bytes(flipped)
        try:
            trial = worker.call(read_here, str(walk), (), None, where=walk.name)
        except BadFileError:
            continue
        found = stacked(trial.markers)
        same = found.shape == expected.shape and np.allclose(found, expected, atol=1e-4)
        if not same and not any(problem.level == "warning" for problem in trial.problems):
            unsaid.append(int(bit))
    assert worker.call(os.getpid, where="") == process
    worker.close()
    assert unsaid == []


def test_records_that_would_hang_the_parser_are_read_without_it(walk):
    """A description longer than its record, which ezc3d 1.7.2 follows out of the file."""
    content = bytearray(walk.read_bytes())
    description = content.index(b"POINT") + len(b"POINT") + 2
    content[description] = 128
    walk.write_bytes(content)
    trial = read_trial(walk, in_child=False)
    np.testing.assert_allclose(stacked(trial.markers), stacked(few_markers()), atol=1e-4)
    assert any("without ezc3d" in step for step in trial.provenance.steps)


def test_an_unknown_processor_is_refused(walk):
    """Any other processor byte is an error that names it."""
    content = bytearray(walk.read_bytes())
    content[512 + 3] = 7
    with pytest.raises(HeaderError, match="processor byte is 7"):
        read_layout(bytes(content), walk.name)


@pytest.mark.parametrize(
    ("parameters", "error"),
    [
        ({"POINT": {"USED": 60000}}, TruncatedFileError),
        ({"POINT": {"FRAMES": 12.5}}, HeaderError),
        ({"POINT": {"FRAMES": 65535, "LONG_FRAMES": 2.0e9}}, TruncatedFileError),
        ({"POINT": {"DATA_START": 200}}, HeaderError),
    ],
    ids=str,
)
def test_declared_counts_are_never_trusted(tmp_path, parameters, error):
    """Huge or impossible counts in a tiny file are refused before anything is allocated."""
    path = tmp_path / "walk.c3d"
    write_variant(path, parameters=parameters)
    content = bytearray(path.read_bytes())
    if "USED" in parameters["POINT"]:
        content[2:4] = (60000).to_bytes(2, "little")
    with pytest.raises(error):
        read_layout(bytes(content), path.name)


def test_no_frames_are_an_error(tmp_path):
    """A file that declares no frame is empty."""
    path = tmp_path / "walk.c3d"
    write_variant(path, parameters={"POINT": {"FRAMES": 0}})
    content = bytearray(path.read_bytes())
    content[6:10] = (1).to_bytes(2, "little") + (0).to_bytes(2, "little")
    with pytest.raises(EmptyFileError, match="no frame"):
        read_layout(bytes(content), path.name)


def test_two_long_counts_that_differ_are_refused(tmp_path):
    """LONG_FRAMES and ACTUAL_*_FIELD must agree."""
    path = tmp_path / "walk.c3d"
    fields = {"ACTUAL_START_FIELD": np.array([1, 0]), "ACTUAL_END_FIELD": np.array([0, 2])}
    long = {"POINT": {"FRAMES": 65535, "LONG_FRAMES": 90000.0}, "TRIAL": fields}
    write_variant(path, parameters=long)
    with pytest.raises(HeaderError, match="LONG_FRAMES"):
        read_layout(path.read_bytes(), path.name)

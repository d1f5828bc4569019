"""From files to results: what is measured, what is refused, what is said."""

import hashlib
import math

import numpy as np
import pandas as pd
import pytest

from gaittrack.errors import DataError, GaitTrackError
from gaittrack.pipeline import (
    MeasuredWalk,
    MeasureOptions,
    RefusedFile,
    chain,
    files_in,
    measure_file,
    measure_files,
    passed_over_in,
)
from tests.made_up_files import write_standing, write_walk


@pytest.fixture(scope="module")
def walk_file(tmp_path_factory):
    """Give a made-up walk as (file, walk with truth)."""
    path = tmp_path_factory.mktemp("walks") / "walk.c3d"
    return path, write_walk(path)


@pytest.fixture(scope="module")
def measured(walk_file):
    """Give the same walk, measured."""
    result = measure_file(walk_file[0])
    assert isinstance(result, MeasuredWalk), result.error
    return result


def test_folder_means_the_recordings_in_it(tmp_path):
    """Recordings in folders within it, sorted; hidden, read-me and other files passed over."""
    wanted = ["a/walk-1.C3D", "a/walk-2.csv", "b.xlsx", "c.txt"]
    passed = [".hidden.c3d", ".git/x.c3d", "README.txt", "a/conditions.toml", "~$b.xlsx", "d.pdf"]
    for name in (*wanted, *passed):
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.touch()
    assert files_in([tmp_path]) == [tmp_path / name for name in wanted]
    passed_over = [path.name for path in passed_over_in([tmp_path])]
    assert passed_over == ["README.txt", "conditions.toml", "d.pdf"]


def test_named_file_is_taken_whatever_it_is_called(tmp_path):
    """Only folders are sifted; what was named must be answered for."""
    odd = tmp_path / "readme.dat"
    assert files_in([odd]) == [odd]


def test_file_and_its_folder_count_once(tmp_path):
    """A file named twice is measured once, where it first occurs."""
    (tmp_path / "b.c3d").touch()
    (tmp_path / "a.c3d").touch()
    roundabout = tmp_path / ".." / tmp_path.name / "b.c3d"
    assert files_in([roundabout, tmp_path]) == [roundabout, tmp_path / "a.c3d"]


def test_what_goes_with_the_walks_is_no_walk(tmp_path):
    """A standing trial in the folder is left out, unless it is named as a walk itself."""
    walk, standing = tmp_path / "walk.c3d", tmp_path / "standing.c3d"
    walk.touch()
    standing.touch()
    assert files_in([tmp_path], leave_out=[standing, None]) == [walk]
    assert files_in([standing], leave_out=[standing]) == [standing]


def test_walk_is_measured_as_it_was_made(measured, walk_file):
    """Cycles lie on the contacts by construction; clearance and hip flexion near theirs."""
    truths = {(t.side, round(t.start_s, 1)): t for t in walk_file[1].truth.cycles}
    kept = [cycle for cycle in measured.cycles if cycle.is_kept]
    assert len(kept) >= 6
    values = {(row.cycle, row.measure): row.value for row in measured.rows}
    for cycle in kept:
        near = [t for t in truths.values() if t.side == cycle.side]
        truth = min(near, key=lambda t: abs(t.start_s - cycle.start_s))
        assert cycle.start_s == pytest.approx(truth.start_s, abs=0.025)
        hip = values[cycle.id, "peak_hip_flexion_thigh_vertical_deg"]
        assert hip == pytest.approx(truth.peak_hip_flexion_thigh_vertical_deg, abs=3.0)


def test_table_has_one_row_per_measure_and_kept_cycle(measured, walk_file):
    """The table says of which bytes, cycle and contact each value is, and never hides a reason."""
    table = measured.strides()
    kept = [cycle for cycle in measured.cycles if cycle.is_kept]
    assert len(table) == len(measured.rows)
    assert set(table["cycle"]) == {cycle.id for cycle in kept}
    assert set(table["sha256"]) == {hashlib.sha256(walk_file[0].read_bytes()).hexdigest()}
    assert (table["value"].isna() == table["reason"].notna()).all()
    assert set(table["gaittrack_version"]) == {MeasuredWalk.strides.__globals__["__version__"]}


def test_one_bad_file_costs_one_result(tmp_path, walk_file):
    """Empty and missing files are refused with a reason; the walk between them is measured."""
    empty, missing = tmp_path / "empty.c3d", tmp_path / "missing.c3d"
    empty.touch()
    first, second, third = measure_files([empty, walk_file[0], missing])
    assert isinstance(first, RefusedFile) and "empty" in str(first.error)
    assert first.sha256 == hashlib.sha256(b"").hexdigest()
    assert isinstance(second, MeasuredWalk)
    assert isinstance(third, RefusedFile) and third.sha256 is None


def test_fault_of_the_program_costs_one_result_and_is_named(walk_file, monkeypatch):
    """A fault in one file is a refusal that says where it arose, and the batch goes on."""
    calls = []

    def faulty(motion, cycles):
        calls.append(motion)
        if len(calls) == 1:
            raise IndexError("index 7 is out of bounds")
        return []

    monkeypatch.setattr(chain, "measure_cycles", faulty)
    first, second = measure_files([walk_file[0], walk_file[0]])
    assert isinstance(first, RefusedFile)
    assert "IndexError in test_pipeline.py line" in first.error.what
    assert "report" in first.error.action
    assert isinstance(second, MeasuredWalk)


def test_same_bytes_twice_are_pointed_out(tmp_path, walk_file):
    """A copy under another name is measured, and says of which file it is a copy."""
    copy = tmp_path / "copy.c3d"
    copy.write_bytes(walk_file[0].read_bytes())
    first, second = measure_files([walk_file[0], copy])
    assert not any("same bytes" in problem.what for problem in first.problems)
    (problem,) = [problem for problem in second.problems if "same bytes" in problem.what]
    assert "walk.c3d" in problem.what and problem.level == "warning"


def test_events_table_belongs_to_one_file(walk_file, tmp_path):
    """One table of events for two files is wrong use, said before anything is read."""
    events = tmp_path / "events.csv"
    with pytest.raises(ValueError, match="one file"):
        measure_files([walk_file[0], walk_file[0]], MeasureOptions(events_csv=events))


@pytest.mark.parametrize("rate_hz", [0.0, -100.0, math.nan, math.inf])
def test_rate_must_be_a_rate(walk_file, rate_hz):
    """A rate that is no rate is wrong use."""
    with pytest.raises(ValueError, match="rate_hz"):
        measure_files([walk_file[0]], MeasureOptions(rate_hz=rate_hz))


def test_wrong_rate_is_doubted(walk_file):
    """The same frames at a third of their rate are no walk, and --rate is named."""
    result = measure_file(walk_file[0], MeasureOptions(rate_hz=30.0))
    assert isinstance(result, MeasuredWalk)
    assert any("--rate" in problem.action for problem in result.problems)


def test_standing_trial_is_read_once_and_sets_the_zero(walk_file, tmp_path, monkeypatch):
    """All walks of a batch take the foot's zero from one reading of the standing trial."""
    standing = tmp_path / "standing.c3d"
    write_standing(standing)
    read, paths = chain.read_trial, []

    def counted(path, **options):
        paths.append(path)
        return read(path, **options)

    monkeypatch.setattr(chain, "read_trial", counted)
    results = list(measure_files([walk_file[0]] * 2, MeasureOptions(standing=standing)))
    assert paths.count(standing) == 1
    for result in results:
        assert {foot.source for foot in result.motion.neutral.values()} == {"standing trial"}


def test_unusable_standing_trial_stops_the_batch(walk_file, tmp_path):
    """Walks are not measured with another zero than the one asked for."""
    broken = tmp_path / "standing.c3d"
    broken.write_bytes(b"")
    with pytest.raises(GaitTrackError, match="standing.c3d"):
        measure_files([walk_file[0]], MeasureOptions(standing=broken))


def test_standing_alone_is_measured_without_cycles(tmp_path):
    """A recording without steps is no error: it says that nothing was measured."""
    path = tmp_path / "standing.c3d"
    write_standing(path)
    result = measure_file(path)
    if isinstance(result, MeasuredWalk):
        assert result.rows == ()
        assert result.strides().empty
        assert any("No gait cycle" in problem.what for problem in result.problems)
    else:
        assert "step" in str(result.error) or "walk" in str(result.error)


def test_problems_stand_once(tmp_path):
    """A problem of the file that later stages hand on is given once."""
    path = tmp_path / "walk.c3d"
    write_walk(path, unit="furlong")
    result = measure_file(path)
    assert isinstance(result, MeasuredWalk)
    (problem,) = [problem for problem in result.problems if "furlong" in problem.what]
    assert problem in result.trial.problems and problem in result.motion.problems


def test_refusal_carries_the_readers_error(tmp_path, monkeypatch):
    """The error of the reader arrives as it is, with all faults found."""
    error = DataError("Wrong.", where="walk.c3d", action="Mend it.")

    def refuse(*_, **__):
        raise error

    monkeypatch.setattr(chain, "read_trial", refuse)
    result = measure_file(tmp_path / "walk.c3d")
    assert isinstance(result, RefusedFile) and result.error is error


def test_empty_table_has_the_same_columns(measured):
    """Tables can be put together whether or not a file gave rows."""
    whole = measured.strides()
    both = pd.concat([whole, whole.iloc[:0]])
    assert list(both.columns) == list(whole.columns)
    assert np.isfinite(whole["start_s"]).all()

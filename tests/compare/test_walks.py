"""Promises of the walks that go into a comparison."""

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import gaittrack
from gaittrack.compare.walked.same_walks import refuse_duplicates
from gaittrack.compare.walked.walks import MEASURE_BY_NAME, Strides, sample_of
from gaittrack.errors import ComparisonError
from gaittrack.reasons import Reason
from tests.compare.made_up_walks import CLEARANCE, SWING, walk, walks
from tests.made_up_files import exported_again

NO_ANKLE = Reason("no_angle", angle="ankle")


def _sample(records, name):
    tables = [each.tables[name, "left"] for each in records]
    return sample_of(tables, MEASURE_BY_NAME[name])


def test_walk_value_is_the_mean_and_of_clearance_the_median():
    """Condition value: mean of walk values, each walk counting once."""
    records = [
        walk("a", 0, {SWING: 1, CLEARANCE: 1}, n_strides=5),
        walk("a", 1, {SWING: 9, CLEARANCE: 9}, n_strides=20),
    ]
    values = {
        name: [each.tables[name, "left"].values for each in records] for name in (SWING, CLEARANCE)
    }
    assert _sample(records, SWING).value == pytest.approx(
        np.mean([v.mean() for v in values[SWING]])
    )
    assert _sample(records, CLEARANCE).value == pytest.approx(
        np.mean([np.median(v) for v in values[CLEARANCE]])
    )
    assert _sample(records, SWING).n_strides == 25


def test_walk_without_a_defined_stride_does_not_count_as_a_walk():
    """But its reasons are kept."""
    records = [*walks("a", {SWING: 1}, n=2), walk("a", 9, {SWING: 1}, reasons={SWING: NO_ANKLE})]
    found = _sample(records, SWING)
    assert (found.n_walks, found.n_not_defined, found.main_reason) == (2, 6, NO_ANKLE)


def test_copy_of_a_walk_is_refused_in_one_condition():
    """Same bytes under another name."""
    one = walk("a", 0, {SWING: 1})
    copy = replace(one, walk_id="other", file_name="copy.c3d")
    with pytest.raises(ComparisonError, match="given twice: a0.c3d in 'a' and copy.c3d in 'a'"):
        refuse_duplicates([one, copy])


def test_copy_of_a_walk_is_refused_across_conditions():
    """Also as another part of the file, with other values; a sheet may hold both conditions."""
    one, two = walk("a", 0, {SWING: 1}), walk("b", 1, {SWING: 1})
    for copy in (replace(one, walk_id="x", condition="b"), replace(two, sha256=one.sha256)):
        with pytest.raises(ComparisonError, match="given twice"):
            refuse_duplicates([one, replace(copy, part="pass 2")])
    both = [replace(each, sha256=one.sha256, part=each.condition) for each in (one, two)]
    refuse_duplicates([replace(each, is_part_of_sheet=True) for each in both])


def test_walk_saved_again_is_refused_by_its_values():
    """Other bytes, same numbers to the last digit."""
    one = walk("a", 0, {SWING: 1})
    with pytest.raises(ComparisonError, match="given twice"):
        refuse_duplicates([one, replace(one, walk_id="x", sha256="f" * 64)])


def test_same_id_twice_is_refused():
    """Even with other content."""
    one, two = walks("a", {SWING: 1}, n=2)
    with pytest.raises(ComparisonError, match="given twice"):
        refuse_duplicates([one, replace(two, walk_id=one.walk_id)])


def test_two_passes_of_one_file_are_two_walks():
    """Told apart by their part."""
    one, two = walks("a", {SWING: 1}, n=2)
    refuse_duplicates([replace(one, part="pass 1"), replace(two, sha256=one.sha256, part="pass 2")])


def test_measure_without_one_of_the_strides_is_refused():
    """The message names it."""
    one = walk("a", 0, {SWING: 1})
    with pytest.raises(ValueError, match=f"{SWING}, left, of a-0 lacks strides"):
        replace(one, tables={(SWING, "left"): Strides(*(c[1:] for c in one.tables[SWING, "left"]))})
    with pytest.raises(ValueError, match=f"{SWING}, right, of a-0 lacks strides"):
        replace(one, tables={(SWING, "right"): one.tables[SWING, "left"]})
    with pytest.raises(ValueError, match="contacts of a-0"):
        replace(one, contacts={"left": ("heel",)})


def test_record_keeps_its_own_strides():
    """Writing to what was given changes nothing, and nobody can write to what is kept."""
    one = walk("a", 0, {SWING: 1})
    given = Strides(*(column.copy() for column in one.tables[SWING, "left"]))
    shown = given.values[:]
    shown.setflags(write=False)
    record = replace(one, tables={(SWING, "left"): given._replace(values=shown)})
    given.values[:] = 0.0
    closed = given._replace(values=one.tables[SWING, "left"].values)
    mixed = replace(one, tables={(SWING, "left"): closed})
    assert not mixed.tables[SWING, "left"].reasons.flags.writeable
    assert (record.tables[SWING, "left"].values == one.tables[SWING, "left"].values).all()
    half = one.tables[SWING, "left"]._replace(values=np.arange(6.0))
    another = replace(one, tables={(SWING, "left"): half})
    assert half.values.flags.writeable
    for kept in (one, record, another):
        for column in kept.tables[SWING, "left"]:
            assert not column.flags.writeable


def test_one_recording_in_two_formats_is_refused_and_two_walks_are_not(tmp_path):
    """A marker table made of a C3D file beside it would count as one more walk."""
    visit = tmp_path / "visit-1"
    shutil.copytree(Path(__file__).parents[2] / "sample_trials/P01/visit-1", visit)
    (first, *_) = sorted((visit / "with-brace").glob("*.c3d"))
    assert gaittrack.compare(visit).changes().shape[0] > 0
    exported_again(first, visit / "with-brace" / "exported again.csv")
    with pytest.raises(ComparisonError, match="one recording in two files"):
        gaittrack.compare(visit)

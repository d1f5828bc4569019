"""Promises of the walks that go into a comparison."""

from dataclasses import replace

import numpy as np
import pytest

from gaittrack.compare.walks import MEASURE_BY_NAME, WalkRecord, refuse_duplicates, sample_of
from gaittrack.errors import ComparisonError
from tests.compare.made_up_walks import CLEARANCE, SWING, walk, walks


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
        name: [each.rows.loc[each.rows["measure"] == name, "value"] for each in records]
        for name in (SWING, CLEARANCE)
    }
    assert _sample(records, SWING).value == pytest.approx(
        np.mean([v.mean() for v in values[SWING]])
    )
    assert _sample(records, CLEARANCE).value == pytest.approx(
        np.mean([v.median() for v in values[CLEARANCE]])
    )
    assert _sample(records, SWING).n_strides == 25


def test_walk_without_a_defined_stride_does_not_count_as_a_walk():
    """But its reasons are kept."""
    records = [*walks("a", {SWING: 1}, n=2), walk("a", 9, {SWING: 1}, reasons={SWING: "no ankle"})]
    found = _sample(records, SWING)
    assert (found.n_walks, found.n_not_defined, found.main_reason) == (2, 6, "no ankle")


def test_copy_of_a_walk_is_refused_in_one_condition():
    """Same bytes under another name."""
    one = walk("a", 0, {SWING: 1})
    copy = replace(one, walk_id="other", file_name="copy.c3d")
    with pytest.raises(ComparisonError, match="given twice: a0.c3d in 'a' and copy.c3d in 'a'"):
        refuse_duplicates([one, copy])


def test_copy_of_a_walk_is_refused_across_conditions():
    """Also as another part of the file."""
    one = walk("a", 0, {SWING: 1})
    with pytest.raises(ComparisonError, match="given twice"):
        refuse_duplicates([one, replace(one, walk_id="x", condition="b", part="pass 2")])


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


def test_table_without_a_column_is_refused():
    """The message names it."""
    one = walk("a", 0, {SWING: 1})
    given = {
        key: getattr(one, key) for key in WalkRecord.__slots__ if key not in ("tables", "contacts")
    }
    with pytest.raises(ValueError, match="lack the columns: contact"):
        WalkRecord(**given | {"rows": one.rows.drop(columns="contact")})


def test_record_keeps_its_own_table():
    """Writing to the table given later changes nothing."""
    one = walk("a", 0, {SWING: 1})
    table = one.rows.copy()
    record = replace(one, rows=table)
    table["value"] = 0.0
    assert record.rows["value"].abs().sum() > 0

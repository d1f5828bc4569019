"""From measured files to walks: names, parts, sources."""

import numpy as np
import pytest

from gaittrack.pipeline import measure_file
from gaittrack.walk_records import match_name, walk_records
from tests.made_up_files import write_walk


@pytest.mark.parametrize(
    ("name", "available", "expected"),
    [
        ("without brace", ["with-brace", "without-brace"], "without-brace"),
        ("with brace", ["without", "with"], "with"),
        ("With_Brace", ["with-brace", "with shoe"], "with-brace"),
        ("with brace", ["with shoe", "with boot"], None),
        ("shoe", ["brace"], None),
    ],
)
def test_names_that_mean_the_same_are_matched(name, available, expected):
    """Same words, else the only one with the same first word; never a guess between two."""
    assert match_name(name, available) == expected


def test_recording_becomes_a_walk_with_its_sources(tmp_path):
    """Rows, curves, speed and sources are those of the kept cycles."""
    path = tmp_path / "walk.c3d"
    write_walk(path)
    measured = measure_file(path)
    (record,) = walk_records(measured, "brace")
    kept = [cycle for cycle in measured.cycles if cycle.is_kept]
    for side in ("left", "right"):
        own = [cycle for cycle in kept if cycle.side == side]
        assert record.cycles[side] == tuple(cycle.id for cycle in own)
        assert record.contacts[side] == tuple(cycle.contact for cycle in own)
    values = {(row.cycle, row.measure): row.value for row in measured.rows}
    for (name, side), own in record.tables.items():
        expected = [values[cycle, name] for cycle in record.cycles[side]]
        np.testing.assert_array_equal(own.values, expected)
    assert record.mean_speed_m_s == pytest.approx(1.2, abs=0.05)
    assert record.angle_origin == "markers"
    assert record.event_source == "markers"
    assert record.neutral_source == "foot-flat"
    n_left = sum(cycle.side == "left" for cycle in kept)
    assert record.curves["left", "ankle"].shape == (n_left, 101)
    assert (record.condition, record.file_name, record.part) == ("brace", "walk.c3d", "")

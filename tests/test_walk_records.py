"""From measured files to walks: names, parts, sources."""

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
    assert set(record.rows["cycle"]) == {cycle.id for cycle in kept}
    assert record.mean_speed_m_s == pytest.approx(1.2, abs=0.05)
    assert record.angle_origin == "markers"
    assert record.event_source == "markers"
    assert record.neutral_source == "foot-flat"
    n_left = sum(cycle.side == "left" for cycle in kept)
    assert record.curves["left", "ankle"].shape == (n_left, 101)
    assert (record.condition, record.file_name, record.part) == ("brace", "walk.c3d", "")

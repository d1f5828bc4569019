"""What is stored comes back as the walks of a comparison, to the precision of float32."""

import json

import numpy as np
import pytest
from sqlalchemy import select

from gaittrack.errors import StudyError
from gaittrack.pipeline import measure_file
from gaittrack.study.checksums import checksums
from gaittrack.study.results.packing import event_rows, result_row, stored_walks
from gaittrack.study.results.walk_means import mean_rows
from gaittrack.study.tables import RESULT, TRIAL
from gaittrack.walk_records import walk_records
from tests.study.planted_results import plant

FACTS = ("sha256", "file_name", "event_source", "neutral_source", "angle_origin", "smoothing")


@pytest.fixture
def walk(people):
    """Give one measured walk."""
    return measure_file(people / "P01" / "visit-2" / "without-brace" / "walk-1.c3d")


def stored(walk):
    row = result_row(walk, "0" * 64, condition="plain")
    trial = {
        "code": "walk-1",
        "file_name": walk.path.name,
        "sha256": walk.trial.provenance.sha256,
    }
    return trial, row | checksums(trial["sha256"], row, event_rows(walk), mean_rows(walk))


def test_a_walk_comes_back_as_it_was(walk):
    """Values, reasons, labels, facts and curves; NaN stays NaN."""
    (expected,) = walk_records(walk, "plain", session="visit-2")
    (found,) = stored_walks(*stored(walk), condition="plain", session="visit-2")
    assert (found.landmarks, found.origins) == (expected.landmarks, expected.origins)
    assert found.origins["peak_swing_dorsiflexion_deg", "left"]
    for name in FACTS:
        assert getattr(found, name) == getattr(expected, name)
    assert (found.cycles, found.contacts) == (expected.cycles, expected.contacts)
    assert list(found.tables) == list(expected.tables)
    for key, own in expected.tables.items():
        for name in ("values", "speeds_m_s"):
            one, other = (getattr(each, name) for each in (found.tables[key], own))
            np.testing.assert_allclose(one, other, rtol=1e-6)
        assert found.tables[key].reasons.tolist() == own.reasons.tolist()
        assert found.tables[key].labels.tolist() == own.labels.tolist()
    assert set(found.curves) == set(expected.curves)
    for key, curves in expected.curves.items():
        np.testing.assert_allclose(found.curves[key], curves, rtol=1e-6, atol=1e-4)


def test_the_blob_is_float32_little_endian(walk):
    """Read without this package: the first numbers are the first stride's measures."""
    _, row = stored(walk)
    numbers = np.frombuffer(row["numbers"], dtype="<f4")
    first = walk.rows[0].cycle
    expected = [one.value for one in walk.rows if one.cycle == first]
    np.testing.assert_array_equal(numbers[: len(expected)], np.array(expected, dtype="<f4"))


def test_a_result_of_an_unknown_kind_is_not_misread(study):
    """The message says to measure again."""
    with study.write() as connection:
        plant(connection, layout='{"version": 99}')
        trial = connection.execute(select(TRIAL).where(TRIAL.c.kind == "walk")).mappings().first()
        mine = select(RESULT).where(RESULT.c.trial_id == trial["id"])
        result = connection.execute(mine).mappings().one()
    with pytest.raises(StudyError, match="recompute"):
        stored_walks(dict(trial), dict(result), condition="plain", session="visit-1")


def test_each_pass_of_a_file_has_its_own_strides(walk):
    """Two passes in one file are two walks, with the values and curves of their own cycles."""
    trial, row = stored(walk)
    facts = json.loads(row["facts"])
    (only,) = facts["walks"]
    left = [name for name in only["cycles"] if name.startswith("left")]
    halves = [left[:1], left[1:]]
    facts["walks"] = [
        only | {"part": f"pass {number}", "cycles": half} for number, half in enumerate(halves, 1)
    ]
    row["facts"] = json.dumps(facts)
    row |= checksums(trial["sha256"], row, (), ())
    parts = stored_walks(trial, row, condition="plain", session="visit-2")
    assert [part.part for part in parts] == ["pass 1", "pass 2"]
    for part, half in zip(parts, halves, strict=True):
        assert part.cycles == {"left": tuple(half)}
        assert {side for _, side in part.tables} == {"left"}
        assert {key[0] for key in part.curves} == {"left"}
        assert {len(curves) for curves in part.curves.values()} == {len(half)}

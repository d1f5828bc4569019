"""The plain forms of results: JSON values."""

import json
import math
from pathlib import Path

import pytest

from gaittrack.errors import DataError, Problem
from gaittrack.measured_walk import RefusedFile, as_json_dict
from gaittrack.pipeline import measure_file
from gaittrack.reasons import Reason
from tests.made_up_files import write_walk


@pytest.fixture(scope="module")
def result(tmp_path_factory):
    """Give a made-up walk, measured."""
    path = tmp_path_factory.mktemp("walks") / "walk.c3d"
    write_walk(path)
    return measure_file(path)


def test_json_has_exactly_the_agreed_fields(result):
    """Field names and their nesting are a promise to other programs."""
    values = as_json_dict(result)
    assert list(values) == [
        *("file", "sha256", "rate_hz", "problems", "events", "cycles", "measures")
    ]
    assert set(values["events"][0]) == {"time_s", "side", "kind", "source", "contact"}
    assert set(values["cycles"][0]) == {
        *("id", "side", "start_s", "toe_off_s", "end_s", "speed_m_s", "contact", "reject_reasons")
    }
    assert set(values["measures"][0]) == {
        *("measure", "side", "cycle", "value", "unit", "reason", "labels")
    }


def test_json_is_strict(result):
    """No NaN, no numpy types: what is not defined is null and has a reason."""
    values = json.loads(json.dumps(as_json_dict(result), allow_nan=False))
    missing = [row for row in values["measures"] if row["value"] is None]
    assert all(row["reason"] for row in missing)
    assert len(missing) == sum(math.isnan(row.value) for row in result.rows)


def test_json_of_a_refused_file_says_why():
    """A refused file gives error and problems in place of measures."""
    problem = Problem("warning", Reason("last_number_jumps"), "DATA")
    error = DataError("Cut.", where="x.c3d", action="Copy again.", problems=(problem,))
    assert as_json_dict(RefusedFile(Path("a") / "x.c3d", "00", error)) == {
        "file": "a/x.c3d",
        "sha256": "00",
        "problems": [
            {
                "level": "warning",
                "what": "The file has no line end and its last number jumps: it may be cut short.",
                "where": "DATA",
                "action": "The number is taken as a gap.",
                "reason": {"code": "last_number_jumps"},
            }
        ],
        "error": {"what": "Cut.", "where": "x.c3d", "action": "Copy again."},
    }

"""What is stored of a walk's measures is what a table of them says, to the last digit."""

import json
import math
import pickle
from dataclasses import replace

import pytest

from gaittrack.measures import MEASURES, walk_records_of
from gaittrack.measures.recording import NOT_TRUSTED
from gaittrack.pipeline import InputFile, Recording, measure_file, measure_recording
from gaittrack.reasons import Reason, from_plain
from gaittrack.study.results.kept_walk import kept_of
from gaittrack.study.results.walk_means import StrideTable, mean_rows
from tests.contracts.test_house_rules import ROOT

WALKS = [
    ROOT / "sample_trials" / name
    for name in ("P01/visit-1/with-brace/walk-1.c3d", "P03/visit-1/with-brace/walk-1.csv")
]
NO_MINIMUM = Reason("no_minimum")
MISTRUSTED = Reason(NOT_TRUSTED, why=NO_MINIMUM)


@pytest.fixture(params=WALKS, ids=["c3d", "csv"])
def walk(request):
    """Give a walk of which strides lack measures: none, some and all, for one reason and two."""
    found = measure_file(request.param)
    whys = {1: (NO_MINIMUM,), 2: (MISTRUSTED, NO_MINIMUM), 3: (MISTRUSTED,)}
    rows = []
    for place, row in enumerate(found.rows):
        stride, measure = divmod(place, len(MEASURES))
        which = measure % 4
        if row.reason is None and which and (which == 3 or stride % 3 == 0):
            reason = whys[which][stride // 3 % len(whys[which])]
            row = row._replace(value=math.nan, reason=reason, labels=())
        rows.append(row)
    return replace(found, rows=tuple(rows))


def test_walk_values_are_those_of_the_table(walk):
    """Means, medians, how many strides have them, and why others have not."""
    expected = {
        (row["side"], row["measure"]): (
            None if math.isnan(row["value"]) else float(row["value"]),
            row["n_defined"],
            row["n_not_defined"],
            row["reasons"],
        )
        for row in walk_records_of(walk.rows)
    }
    found = {}
    for side, measure, value, n_defined, n_not_defined, told in mean_rows(walk):
        reasons = {from_plain(each["reason"]): each["n"] for each in json.loads(told)}
        found[side, measure] = value, n_defined, n_not_defined, reasons
    assert found == expected
    assert {len(reasons) for *_, reasons in found.values()} >= {0, 1, 2}
    assert any(value is None for value, *_ in found.values())


def test_rows_that_do_not_come_stride_by_stride_are_not_taken_for_others(walk):
    """A measure out of its place, or one too few, would stand under another's name."""
    first, second, *others = walk.rows
    for rows in ((second, first, *others), (first, *others), (*walk.rows, first)):
        with pytest.raises(ValueError, match="stride by stride"):
            StrideTable.of(replace(walk, rows=rows))


def test_what_is_kept_of_a_walk_is_small():
    """No series of points or angles is held, or sent from one process to another."""
    recording = Recording(InputFile(WALKS[0]), condition="with-brace")
    result = measure_recording(recording)
    whole, kept = (len(pickle.dumps(each)) for each in (result, kept_of(recording, result)))
    assert kept < whole / 10

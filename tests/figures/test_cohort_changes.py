"""The picture of a cohort holds each person's own change and nothing that is not comparable."""

import re
from collections import Counter
from dataclasses import replace

import pandas as pd
import pytest

from gaittrack.answer.sentences import CHIPS
from gaittrack.cohort.asking.answering import CohortAnswer
from gaittrack.cohort.asking.question import CohortQuestion
from gaittrack.cohort.tables.selection import EVERYBODY
from gaittrack.compare.intervals.verdict import LARGER, NO_CHANGE, NO_ERROR_FIGURE, NOT_COMPARABLE
from gaittrack.figures.cohort_changes import MOST_MARKS, draw_changes
from gaittrack.report.cohort_changes import changes_html

PAIR = ("orthosis_shod", "no-orthosis_shod")
NAN = float("nan")


def answered(rows):
    """Make an answer of rows: person, side, difference, half width, error, verdict."""
    names = ("person", "side", "difference", "half", "measurement_error", "verdict")
    first = pd.DataFrame(rows, columns=names)
    for name, sign, part in (("low", -1, 1), ("high", 1, 1), ("walks_low", -1, 0.5)):
        first[name] = first["difference"] + sign * part * first["half"]
    first["walks_high"] = first["difference"] + 0.5 * first["half"]
    compared = first[first["verdict"] != NOT_COMPARABLE]
    question = CohortQuestion(EVERYBODY, "peak_swing_dorsiflexion_deg", "affected", PAIR)
    differences = compared.groupby("person")["difference"].mean()
    return CohortAnswer(question, first, first, differences, Counter(), Counter(), (), 0, None)


def test_changes_stand_in_order_with_intervals_error_and_mean():
    """The lowest first; heights by one scale; no bar without an interval; legs told apart."""
    rows = [
        ("P02", "left", 5.0, 2.0, 3.0, LARGER),
        ("P01", "left", -1.0, NAN, 3.0, NO_CHANGE),
        ("P02", "right", 7.0, 1.0, 4.0, LARGER),
        ("P03", "left", 60.0, 1.0, 3.0, NOT_COMPARABLE),
    ]
    picture = draw_changes(answered(rows))
    labels = [each[1] for each in picture.ticks]
    assert labels == ["−4°", "−2°", "0°", "+2°", "+4°", "+6°", "+8°"]
    here, left, right = picture.points
    assert [each.label for each in picture.points] == ["P01", "P02 L", "P02 R"]
    assert (here.walks, here.whole) == (None, None)
    assert here.change == pytest.approx(75) and picture.zero == pytest.approx(66.67)
    assert (left.change, left.walks, left.whole) == (25, (33.33, 16.67), (41.67, 8.33))
    assert [tuple(map(round, band)) for band in picture.bands] == [
        (0, 67, 42, 92),
        (67, 100, 33, 100),
    ]
    assert picture.mean == pytest.approx(100 * (8 - 2.5) / 12, abs=0.01)
    assert picture.interval == (100, 0), "two people: wider than the scale"
    assert right.says == f"P02 R: +7.0, 95 % +6.0 to +8.0: {CHIPS[LARGER]}"
    assert [each.at for each in picture.points] == [16.667, 50.0, 83.333]
    assert [each.verdict for each in picture.points] == [NO_CHANGE, LARGER, LARGER]
    assert draw_changes(answered(rows[3:])).points == ()


def test_what_is_not_known_is_not_drawn():
    """No band without an error, no point without a change; the largest error is on the scale."""
    rows = [
        ("P01", "left", 1.0, 0.5, 9.0, NO_CHANGE),
        ("P02", "left", 2.0, 0.5, NAN, NO_ERROR_FIGURE),
        ("P03", "left", 3.0, 0.5, NAN, NO_ERROR_FIGURE),
        ("P04", "left", NAN, NAN, 1.0, NO_CHANGE),
        ("P05", "left", 4.0, 0.5, 1.0, NO_CHANGE),
    ]
    picture = draw_changes(answered(rows))
    assert [each.label for each in picture.points] == ["P01", "P02", "P03", "P05"]
    assert [each[:2] for each in picture.bands] == [(0, 25), (75, 100)]
    assert all(0 <= end <= 100 for each in picture.bands for end in each)
    told = answered(rows[:1])
    half = replace(told, first=told.first.assign(low=NAN))
    (point,) = draw_changes(half).points
    assert point.whole is None and point.walks is not None


def test_many_people_are_few_shapes():
    """A thousand are four paths and one of dashes, without a mark or a code each; all are drawn."""
    n = MOST_MARKS + 800
    told = answered([(f"P{i}", "left", i % 7 - 3.0, 2.0, 3.0, NO_CHANGE) for i in range(n)])
    drawn = changes_html(told, draw_changes(told))
    assert drawn.count("<path") == 5 and 'class="mark' not in drawn and "<span" not in drawn
    dashes = re.search('class="dashes" d="([^"]*)"', drawn)[1]
    assert dashes.count("M") == n
    few = answered([(f"P<{i}", "left", i % 7 - 3.0, 2.0, 3.0, NO_CHANGE) for i in range(30)])
    drawn = changes_html(few, draw_changes(few))
    assert drawn.count('class="mark ') == 30 and "upright" in drawn and "P&lt;3" in drawn

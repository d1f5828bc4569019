"""Promises of the eight questions as one family."""

import math

import numpy as np
import pytest

from gaittrack.compare.comparison import compare_walks
from gaittrack.compare.intervals.holm import adjust, share_out
from gaittrack.compare.intervals.verdict import LARGER, NOT_COMPARABLE
from gaittrack.compare.judged.watch import LIMIT_SIGNS
from gaittrack.compare.walked.questions import QUESTION_CODES, QUESTION_MEASURES, QUESTIONS
from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.reasons import Reason
from tests.compare.made_up_walks import RATE, SWING, row_of, walk, walks

MID_SWING = "mid_swing_dorsiflexion_deg"
PITCH, AT_CONTACT = "foot_pitch_at_contact_deg", "dorsiflexion_at_contact_deg"
FOOT_RATE, SPEED, KNEE = (
    *("foot_to_floor_rate_deg_s", "walking_speed_m_s"),
    "stance_knee_flexion_minimum_deg",
)
PUSH_OFF = "push_off_range_deg"
STANCE, SWING_TIME = "stance_percent", "swing_percent"
FOOT, FALL, LIFT, TOE, LEG, HOLDS, FREE, WALKS = QUESTION_CODES


def compared(before, after, *, scatter=1.0, options=None, **more):
    """Compare four walks each."""
    given = [*walks("shoe", before, scatter=scatter, **more)]
    given += walks("brace", after, scatter=scatter, **more)
    return compare_walks(given, reference="shoe", **(options or {}))


def test_every_measure_of_a_question_is_known_and_asked_once():
    """A renamed measure would silence its question."""
    asked = [name for one in QUESTIONS for ladder in one.marks for name in ladder]
    beside = [name for one in QUESTIONS for name in one.beside]
    assert len(asked + beside) == len(set(asked + beside))
    assert set(asked) | set(beside) <= set(MEASURE_BY_NAME)
    assert [one.code for one in QUESTIONS] == list(QUESTION_CODES)
    assert all(str(Reason(code)) != code for code in QUESTION_CODES)


def test_the_first_comparable_measure_of_a_ladder_stands_for_its_question():
    """Foot pitch where there is one, else the ankle's angle; whatever changed more."""
    values = {PITCH: 10.0, AT_CONTACT: 0.0}
    found = compared(values, {PITCH: 10.0, AT_CONTACT: 9.0})
    assert row_of(found, PITCH).question == FOOT and row_of(found, AT_CONTACT).question == ""
    without = {PITCH: Reason("no_angle", angle="foot_pitch")}
    found = compared(values, {PITCH: 10.0, AT_CONTACT: 9.0}, reasons=without)
    assert row_of(found, PITCH).question == "" and row_of(found, AT_CONTACT).question == FOOT


def test_what_cannot_be_compared_takes_no_share():
    """A heel contact regained leaves the other questions their shares."""
    before, after = {RATE: 80.0, MID_SWING: 0.0}, {RATE: 300.0, MID_SWING: 3.0}
    given = [*walks("shoe", before, contact="forefoot"), *walks("brace", after)]
    found = compare_walks(given, reference="shoe")
    assert row_of(found, RATE).verdict == NOT_COMPARABLE
    row = row_of(found, MID_SWING)
    assert row.question == LIFT and row.adjusted_p == row.p


def test_p_values_of_other_rows_take_no_share_of_the_questions():
    """Two questions: the smaller p counts twice; a row outside is labelled where it is called."""
    values = {MID_SWING: 0.0, PUSH_OFF: 20.0, SWING: 0.0}
    found = compared(values, {MID_SWING: 9.0, PUSH_OFF: 20.0, SWING: 9.0})
    lift, free, swing = (row_of(found, name) for name in values)
    assert lift.adjusted_p == pytest.approx(2 * lift.p) and free.adjusted_p == free.p
    assert (swing.question, swing.adjusted_p, swing.verdict) == ("", swing.p, LARGER)
    assert (
        Reason("outside_questions") in swing.labels
        and Reason("outside_questions") not in lift.labels
    )


def test_rows_outside_the_questions_are_judged_together():
    """Three rows: the smallest p counts three times, and one of three chances is not called."""
    values = {
        SWING: 0.0,
        AT_CONTACT: 0.0,
        PITCH: 0.0,
        MID_SWING: 0.0,
        STANCE: 60.0,
        SWING_TIME: 40.0,
    }
    found = compared(values, values | {STANCE: 70.0})
    rows = [row_of(found, name) for name in (SWING, AT_CONTACT, STANCE, SWING_TIME)]
    assert {row.question for row in rows} == {""}
    least = min(rows, key=lambda row: row.p)
    assert (least.measure, least.verdict) == (STANCE, LARGER)
    assert least.adjusted_p == pytest.approx(len(rows) * least.p)


def test_two_marks_share_the_part_of_their_question():
    """Both rates and one other question: a quarter, a quarter, a half."""
    marks = [(FALL, RATE), (FALL, FOOT_RATE), (LIFT, MID_SWING)]
    assert share_out(marks, question_of=lambda mark: mark[0]) == pytest.approx(
        dict(zip(marks, (0.25, 0.25, 0.5), strict=True))
    )
    values = {RATE: 200.0, FOOT_RATE: 200.0, MID_SWING: 0.0}
    found = compared(values, {RATE: 200.0, FOOT_RATE: 200.0, MID_SWING: 3.0}, scatter=2.0)
    row = row_of(found, MID_SWING)
    assert row.adjusted_p == pytest.approx(2 * row.p)
    ps = {mark: row_of(found, mark[1]).p for mark in marks}
    expected = adjust(ps, question_of=lambda mark: mark[0])
    assert {mark: row_of(found, mark[1]).adjusted_p for mark in marks} == pytest.approx(expected)


def test_speed_is_asked_once_for_both_legs():
    """Its rows of both sides carry one p."""
    given = [
        walk(name, f"{k}{side}", {SPEED: speed}, side=side, scatter=0.02)
        for name, speed in (("shoe", 1.0), ("brace", 1.4))
        for k in range(4)
        for side in ("left", "right")
    ]
    found = compare_walks(given, reference="shoe")
    rows = [row_of(found, SPEED, side) for side in ("left", "right")]
    assert {row.question for row in rows} == {WALKS}
    assert {row.adjusted_p for row in rows} == {max(row.p for row in rows)}


def test_an_aim_is_called_where_it_would_not_be_among_all():
    """Of seven questions, the one that was an aim has 80 % of the error; on its leg only."""
    values = dict.fromkeys((PITCH, RATE, MID_SWING, KNEE, PUSH_OFF, SPEED), 100.0)
    after = {**values, MID_SWING: 103.6}
    by_aims = {
        aims: row_of(compared(values, after, options={"aims": aims, **more}), MID_SWING)
        for aims, more in (((), {}), ((LIFT,), {"affected": "left"}))
    }
    plain, aimed = by_aims[()], by_aims[(LIFT,)]
    assert plain.p == aimed.p and aimed.adjusted_p == pytest.approx(aimed.p / 0.8)
    other = row_of(
        compared(values, after, options={"aims": (LIFT,), "affected": "right"}), MID_SWING
    )
    assert other.adjusted_p == plain.adjusted_p > aimed.adjusted_p


def test_an_aim_that_is_no_question_is_refused():
    """With those there are."""
    with pytest.raises(ValueError, match="how_it_is_lifted_in_swing"):
        compared({SWING: 0.0}, {SWING: 1.0}, options={"aims": ("lift",)})


RUNS = 150


def _person(rng):
    """Give eight walks of one person, both legs, that walked alike all day."""
    names = [*QUESTION_MEASURES, *(sign.measure for sign in LIMIT_SIGNS)]
    found = []
    for number in range(8):
        record = None
        for side in ("left", "right"):
            values = {name: 10.0 + rng.normal() for name in names}
            one = walk("day", f"{number}-{rng.integers(10**9)}", values, side=side)
            record = (
                one
                if record is None
                else record.known_as(
                    tables={**record.tables, **one.tables},
                    contacts={**record.contacts, **one.contacts},
                    cycles={**record.cycles, **one.cycles},
                )
            )
        found.append(record)
    return found


def test_one_persons_walks_split_at_random_claim_a_change_in_at_most_5_percent():
    """All questions, both legs, signs included; row by row it is many times that."""
    rng = np.random.default_rng(5)
    claims, alone = [], []
    for _ in range(RUNS):
        order = rng.permutation(8)
        split = [
            record.known_as(condition="a" if place in order[:4] else "b")
            for place, record in enumerate(_person(rng))
        ]
        found = compare_walks(split, reference="a")
        asked = [row for row in found.rows if row.question]
        is_sign = any(item.status == "fires" for item in found.watch)
        claims.append(is_sign or any(row.adjusted_p <= 0.05 for row in asked))
        alone.append(any(row.walks_low > 0 or row.walks_high < 0 for row in asked))
    assert np.mean(claims) <= 0.05 + 3 * math.sqrt(0.05 * 0.95 / RUNS)
    assert np.mean(alone) > 0.3

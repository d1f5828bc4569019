"""Each question against a setting of the brace: one small panel, a mark for each setting.

In come answers with what was set, out come panels whose places are in per cent of the drawing.
Nothing is ordered by its result, and nothing is drawn through the marks.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from gaittrack.answer import Answer, Finding
from gaittrack.answer.sentences import chip_of
from gaittrack.compare.judged.rows import ComparisonRow
from gaittrack.compare.row_words import doubts, interval_words, number, said_once
from gaittrack.compare.walked.questions import QUESTIONS
from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.figures.board import title_of, told_change
from gaittrack.figures.error_axis import has_mark, walks_interval, why_of
from gaittrack.figures.plain_numbers import with_minus
from gaittrack.figures.visit_panels import height_on, round_ticks, tick_label
from gaittrack.vocabulary import Side

_EDGE: Final = 14.0
"""Per cent of the width beside the first and the last mark."""
_LEGS_APART: Final = 5.0


@dataclass(frozen=True, slots=True)
class SetAnswer:
    """What a setting changes.

    Attributes
    ----------
    style : int
        Place among the conditions of its comparison: its colour and line.
    place : float or None
        Its number; None to stand by date, after the one before.
    said, below : str
        The setting in words, and what stands below it: the condition, or the visit.
    """

    answer: Answer
    style: int
    place: float | None
    said: str
    below: str


@dataclass(frozen=True, slots=True)
class SetMark:
    """One change in a panel, in per cent; heights from the top.

    Attributes
    ----------
    walks, whole : tuple of float
        Upper and lower end: of the walks alone, and with what markers can do.
    words : str
        All of it, for who does not see it.
    """

    at: float
    style: int
    height: float
    walks: tuple[float, float]
    whole: tuple[float, float]
    verdict: str
    words: str


@dataclass(frozen=True, slots=True)
class SetLabel:
    """What stands below a place: the setting and whose it is."""

    at: float
    style: int
    said: str
    below: str


@dataclass(frozen=True, slots=True)
class SetPanel:
    """One question.

    Attributes
    ----------
    band, zero : float
        Heights of one measurement error up and down, and of no change; of the largest error where
        conditions differ in it.
    whys : tuple of str
        Why a setting has no mark.
    doubts : tuple of str
        What makes its values doubtful, and of which settings where not of all.
    """

    title: str
    measure: str
    has_sign: bool
    ticks: tuple[tuple[float, str], ...]
    band: tuple[float, float]
    zero: float
    marks: tuple[SetMark, ...]
    labels: tuple[SetLabel, ...]
    whys: tuple[str, ...]
    doubts: tuple[str, ...]


def draw_setting_panels(told: Sequence[SetAnswer]) -> list[SetPanel]:
    """Return a panel for each question that the answers have."""
    places = _places([each.place for each in told])
    labels = tuple(
        SetLabel(at, each.style, with_minus(each.said), each.below)
        for at, each in zip(places, told, strict=True)
    )
    return [
        _panel(measure, own, labels)
        for question in QUESTIONS
        for measure, own in _of_question(question.code, told)
    ]


def _places(numbers: Sequence[float | None]) -> list[float]:
    """Return where settings stand: true to their numbers, else one after the other."""
    known = [each for each in numbers if each is not None]
    room = 100 - 2 * _EDGE
    if len(known) == len(numbers) and len(set(known)) == len(known) > 1:
        low, high = min(known), max(known)
        return [round(_EDGE + room * (each - low) / (high - low), 2) for each in known]
    n = max(len(numbers) - 1, 1)
    return [round(_EDGE + room * place / n, 2) for place in range(len(numbers))]


_Rows = list[tuple[int, Side, ComparisonRow | None, bool]]
"""By the setting's place among them: leg, row, whether a sign fires on it."""


def _of_question(code: str, told: Sequence[SetAnswer]) -> Iterator[tuple[str, _Rows]]:
    """Yield the measure of a question and its rows: that which decides in the first answer."""
    found = [[each for each in one.answer.findings if each.question == code] for one in told]
    first = next((each for own in found for each in own if each.rows), None)
    if first is None:
        return
    measure = first.rows[0].measure
    rows: _Rows = []
    for place, (one, own) in enumerate(zip(told, found, strict=True)):
        signs = {(item.measure, item.side) for item in one.answer.new_signs}
        for each in own:
            row = _row_of(each, measure)
            rows.append((place, each.side, row, (measure, each.side) in signs))
    yield measure, rows


def _row_of(finding: Finding, measure: str) -> ComparisonRow | None:
    own = (*finding.rows, *finding.companions)
    return next((row for row in own if row.measure == measure), None)


def _panel(measure: str, own: _Rows, labels: Sequence[SetLabel]) -> SetPanel:
    drawn = [(place, side, row) for place, side, row, _ in own if row is not None and has_mark(row)]
    error = max((row.measurement_error for _, _, row in drawn), default=math.nan)
    ends = [bound for _, _, row in drawn for bound in (row.low, row.high)]
    ticks = round_ticks([0.0, *ends, *([-error, error] if drawn else [])])
    sides = sorted({side for _, side, _, _ in own})
    apart = {side: _LEGS_APART * (2 * n - len(sides) + 1) / 2 for n, side in enumerate(sides)}
    question = next(q for q in QUESTIONS if any(measure in ladder for ladder in q.marks))
    one = MEASURE_BY_NAME[measure]
    return SetPanel(
        title_of(question.code),
        f"{one.title}, change ({one.unit})",
        any(fires for *_, fires in own),
        tuple((height_on(at, ticks), tick_label(at, measure)) for at in ticks),
        (height_on(error, ticks), height_on(-error, ticks)) if drawn else (0.0, 0.0),
        height_on(0.0, ticks),
        tuple(
            _mark(row, labels[place], apart[side], f", {side}" if len(sides) > 1 else "", ticks)
            for place, side, row in drawn
        ),
        tuple(labels),
        tuple(said_once(_whys(own, labels), len({label.said for label in labels}))),
        tuple(said_once(_doubts(own, labels), len({label.said for label in labels}))),
    )


def _mark(
    row: ComparisonRow, label: SetLabel, apart: float, leg: str, ticks: Sequence[float]
) -> SetMark:
    decimals = MEASURE_BY_NAME[row.measure].decimals
    walks = walks_interval(row)
    whole = interval_words(row.low, row.high, decimals)
    told = " to ".join(number(each, decimals) for each in (row.reference_value, row.value))
    said = f"{label.said}, {label.below}{leg}: {told}, {told_change(row)} ({whole})"
    low, high = ticks[0], ticks[-1]
    return SetMark(
        round(label.at + apart, 2),
        label.style,
        height_on(row.difference, ticks),
        (height_on(min(walks[1], high), ticks), height_on(max(walks[0], low), ticks)),
        (height_on(row.high, ticks), height_on(row.low, ticks)),
        row.verdict,
        with_minus(f"{said}: {chip_of(row)}"),
    )


def _whys(own: _Rows, labels: Sequence[SetLabel]) -> Iterator[tuple[str, str]]:
    """Yield which setting has no mark, and why."""
    for place, _, row, _ in own:
        if row is None:
            yield labels[place].said, "measured otherwise"
        elif not has_mark(row):
            yield labels[place].said, why_of(row)


def _doubts(own: _Rows, labels: Sequence[SetLabel]) -> Iterator[tuple[str, str]]:
    """Yield which setting has doubtful values, and why."""
    for place, _, row, _ in own:
        for text in () if row is None else doubts(row.labels):
            yield labels[place].said, with_minus(text)

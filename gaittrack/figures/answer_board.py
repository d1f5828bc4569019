"""The eight questions as a board: values, change on one scale of measurement errors, what is said.

In comes an answer, out come rows whose marks have their places in per cent of the axis, so that
screens and pages only set them. One scale for all rows: 1 is a change as large as its own error.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from gaittrack.answer import Answer, Finding
from gaittrack.answer.findings import UNTOLD
from gaittrack.answer.sentences import chip_of, chip_of_finding
from gaittrack.compare.row_words import (
    NO_NUMBER,
    doubts,
    interval_words,
    missing_words,
    number,
    signed,
    verdict_words,
)
from gaittrack.compare.rows import ComparisonRow
from gaittrack.compare.verdict import LARGER, NOT_COMPARABLE
from gaittrack.compare.walks import MEASURE_BY_NAME
from gaittrack.figures.plain_numbers import with_minus
from gaittrack.reasons import Reason
from gaittrack.vocabulary import Side

_LEAST_REACH: Final = 2
_MOST_TICKS: Final = 12
_UNITS: Final = {"deg": "°", "deg/s": "°/s"}
_Bounds = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Mark:
    """One change on the axis, in per cent of its width.

    Attributes
    ----------
    walks, whole : tuple of float
        Interval of the walks alone, and with what putting markers on again can do.
    """

    at: float
    walks: _Bounds
    whole: _Bounds


@dataclass(frozen=True, slots=True)
class Line:
    """One measure of one leg.

    Attributes
    ----------
    leg : str
        ``L`` or ``R`` where two legs stand in a row; else empty.
    mark : Mark or None
        None with the reason in ``why``.
    """

    leg: str
    measure: str
    before: str
    here: str
    unit: str
    mark: Mark | None
    why: str
    change: str
    interval: str
    verdict: str

    @property
    def has_value(self) -> bool:
        """Whether one condition has a value at least."""
        return {self.before, self.here} != {NO_NUMBER}


@dataclass(frozen=True, slots=True)
class BoardRow:
    """One question.

    Attributes
    ----------
    heels : tuple of str
        Heel-first steps without and with, leg by leg; of the first question.
    chips : tuple of (str, str, str)
        Leg, verdict and its words; one without a leg where all legs agree.
    doubts : tuple of str
        What makes its values doubtful.
    rows : tuple of ComparisonRow
        What it is made from, with what stands beside it.
    """

    title: str
    note: str
    doubts: tuple[str, ...]
    heels: tuple[str, ...]
    lines: tuple[Line, ...]
    chips: tuple[tuple[str, str, str], ...]
    is_aim: bool
    has_sign: bool
    rows: tuple[ComparisonRow, ...]


@dataclass(frozen=True, slots=True)
class Board:
    """The board of one answer.

    Attributes
    ----------
    ticks : tuple of (float, str)
        Place in per cent and label, in measurement errors.
    band : tuple of float
        Where a change is smaller than its error, per cent.
    """

    head: str
    condition: str
    reference: str
    ticks: tuple[tuple[float, str], ...]
    band: _Bounds
    rows: tuple[BoardRow, ...]


def draw_board(answer: Answer, findings: Sequence[Finding]) -> Board:
    """Return a board of an answer.

    Parameters
    ----------
    findings : sequence of Finding
        What it shows: of the legs of the answer, or of the other one.
    """
    reach = reach_of([row for finding in findings for row in finding.rows])
    signs = {(item.measure, item.side) for item in answer.new_signs}
    questions = dict.fromkeys(finding.question for finding in findings)
    rows = [
        _row([each for each in findings if each.question == question], reach, signs)
        for question in questions
    ]
    ticks, band = scale_of(reach)
    return Board(legs_of(findings), answer.condition, answer.reference, ticks, band, tuple(rows))


def legs_of(findings: Sequence[Finding]) -> str:
    """Return whose legs findings are of, as a heading."""
    sides = dict.fromkeys(each.side for each in findings if not each.is_of_both_legs)
    return "both legs" if len(sides) != 1 else f"the {next(iter(sides))} leg"


def title_of(question: str) -> str:
    """Return a question as the head of a row."""
    name = str(Reason(question))
    return f"{name[0].upper()}{name[1:]}"


def unit_sign(measure: str) -> str:
    """Return what stands behind a value of a measure: ``°``, `` mm``."""
    unit = MEASURE_BY_NAME[measure].unit
    return _UNITS.get(unit, f" {unit}")


def before_and_here(row: ComparisonRow) -> str:
    """Return both values with their unit: ``3.0 → 8.2°``."""
    decimals = MEASURE_BY_NAME[row.measure].decimals
    before, here = (number(x, decimals) for x in (row.reference_value, row.value))
    return with_minus(f"{before} → {here}{unit_sign(row.measure)}")


def reach_of(rows: Sequence[ComparisonRow]) -> tuple[int, int]:
    """Return the ends of the axis that holds the intervals of rows, in measurement errors."""
    drawn = [row for row in rows if has_mark(row)]
    bounds = [bound / row.measurement_error for row in drawn for bound in _ends(row)]
    low = math.floor(min([-_LEAST_REACH, *bounds]))
    return low, math.ceil(max([_LEAST_REACH, *bounds]))


def scale_of(reach: tuple[int, int]) -> tuple[tuple[tuple[float, str], ...], _Bounds]:
    """Return places and labels of whole numbers on an axis, and the band of one error."""
    low, high = reach
    step = math.ceil((high - low) / _MOST_TICKS)
    ticks = tuple(
        (_place(at, reach), with_minus(f"{at:+d}") if at else "0")
        for at in range(low, high + 1, step)
    )
    return ticks, (_place(-1, reach), _place(1, reach))


def _ends(row: ComparisonRow) -> _Bounds:
    return row.low, row.high


def has_mark(row: ComparisonRow) -> bool:
    """Whether a row has an interval and an error to draw it in."""
    return row.verdict not in UNTOLD and math.isfinite(row.low) and row.measurement_error > 0


def _place(errors: float, reach: tuple[int, int]) -> float:
    low, high = reach
    return round(100 * (errors - low) / (high - low), 2)


def _row(
    findings: Sequence[Finding], reach: tuple[int, int], signs: Collection[tuple[str, Side]]
) -> BoardRow:
    first = findings[0]
    legs = [each.side[0].upper() if len(findings) > 1 else "" for each in findings]
    lines = tuple(
        _line(row, leg, reach)
        for finding, leg in zip(findings, legs, strict=True)
        for row in finding.rows
    )
    chips = [chip for leg, each in zip(legs, findings, strict=True) for chip in _chips(leg, each)]
    heels = tuple(_heels(findings, legs))
    agree = len(chips) == len(findings) and len({words for _, _, words in chips}) == 1
    return BoardRow(
        title_of(first.question),
        "; ".join(dict.fromkeys([*(["heel first"] if heels else []), *(x.measure for x in lines)])),
        doubts_of(
            [
                (f"{leg} {MEASURE_BY_NAME[row.measure].title}".strip(), row)
                for finding, leg in zip(findings, legs, strict=True)
                for row in finding.rows
            ]
        ),
        heels,
        lines,
        (("", *chips[0][1:]),) if agree else tuple(chips),
        first.is_aim,
        any((row.measure, each.side) in signs for each in findings for row in each.rows),
        tuple(row for each in findings for row in (*each.rows, *each.companions)),
    )


def doubts_of(named: Sequence[tuple[str, ComparisonRow]]) -> tuple[str, ...]:
    """Return what makes the values of rows doubtful; of whose where it is not of all of them."""
    held: dict[str, list[str]] = {}
    for name, row in named:
        for text in doubts(row.labels):
            held.setdefault(with_minus(text), []).append(name)
    return tuple(
        text if len(names) == len(named) else f"{', '.join(dict.fromkeys(names))}: {text}"
        for text, names in held.items()
    )


def _chips(leg: str, finding: Finding) -> Iterator[tuple[str, str, str]]:
    """Yield the verdict of the mark that decides, and of another one that alone is larger."""
    yield leg, finding.verdict, str(chip_of_finding(finding))
    if finding.verdict != LARGER:
        for row in finding.changed:
            title = MEASURE_BY_NAME[row.measure].title
            yield leg, row.verdict, f"{chip_of(row)}: {title.lower()}"


def _heels(findings: Sequence[Finding], legs: Sequence[str]) -> Iterator[str]:
    for finding, leg in zip(findings, legs, strict=True):
        if finding.heel is not None:
            own, other = finding.heel.counts.own, finding.heel.counts.reference
            told = f"{other.n_kind} of {other.n_steps} → {own.n_kind} of {own.n_steps}"
            yield f"{leg} {told} steps".strip()


def _line(row: ComparisonRow, leg: str, reach: tuple[int, int]) -> Line:
    measure = MEASURE_BY_NAME[row.measure]
    unit = unit_sign(row.measure)
    is_told = row.verdict not in UNTOLD
    low, high = row.low, row.high
    return Line(
        leg,
        measure.title,
        with_minus(number(row.reference_value, measure.decimals)),
        with_minus(number(row.value, measure.decimals)),
        unit,
        mark_of(row, reach) if has_mark(row) else None,
        why_of(row),
        with_minus(f"{signed(row.difference, measure.decimals)}{unit}") if is_told else "",
        with_minus(interval_words(low, high, measure.decimals))
        if is_told and math.isfinite(low)
        else "",
        row.verdict,
    )


def mark_of(row: ComparisonRow, reach: tuple[int, int]) -> Mark:
    """Return the mark of a row that has one."""

    def place(value: float) -> float:
        return _place(value / row.measurement_error, reach)

    walks = (row.walks_low, row.walks_high) if math.isfinite(row.walks_low) else _ends(row)
    return Mark(
        place(row.difference),
        (max(place(walks[0]), 0.0), min(place(walks[1]), 100.0)),
        (place(row.low), place(row.high)),
    )


def why_of(row: ComparisonRow) -> str:
    """Return why a row has no mark; empty where it has one."""
    if row.verdict == NOT_COMPARABLE:
        return verdict_words(row)
    if row.verdict in UNTOLD:
        return missing_words(row.verdict_reason)
    return "" if has_mark(row) else str(row.interval_reason or Reason(row.verdict))

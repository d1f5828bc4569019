"""The eight questions as a board: values, change on one scale of measurement errors, what is said.

In come the answers of a comparison, out come rows whose marks have their places in per cent of the
axis, so that screens and pages only set them. One scale for all rows: 1 is a change as large as its
own error. A condition keeps its place in all rows. One condition alone has a line for each mark of
a question; several have the measure that decides, and another one where that alone is larger.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from gaittrack.answer import Answer, Finding
from gaittrack.answer.findings import UNTOLD
from gaittrack.answer.sentences import chip_of, chip_of_finding
from gaittrack.compare.intervals.verdict import LARGER
from gaittrack.compare.judged.rows import ComparisonRow
from gaittrack.compare.row_words import (
    doubts,
    interval_words,
    number,
    said_once,
    signed,
)
from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.figures.error_axis import (
    Bounds,
    Mark,
    Reach,
    has_mark,
    mark_of,
    reach_of,
    scale_of,
    why_of,
)
from gaittrack.figures.plain_numbers import with_minus
from gaittrack.reasons import Reason
from gaittrack.vocabulary import Side
from gaittrack.words import unit_behind

_BESIDE: Final = {
    "loading_knee_flexion_peak_deg": "knee_yield_in_loading_deg",
    "loading_knee_flexion_rate_deg_s": "knee_yield_in_loading_deg",
}
"""Measures that only signs look at, and the one whose question they belong to."""
_Findings = Sequence[Finding]
_Legs = Mapping[Side, str]


@dataclass(frozen=True, slots=True)
class ValueLine:
    """A measure of a leg in all conditions.

    Attributes
    ----------
    leg : str
        ``L`` or ``R`` where two legs stand in a row; else empty.
    before : tuple of str
        Of the reference; several where conditions were held against other points of it.
    here : tuple of str
        Of each condition; empty where another measure answers its question.
    unit : str
        Stands behind a value; empty for counts of heel-first steps.
    """

    leg: str
    before: tuple[str, ...]
    here: tuple[str, ...]
    unit: str


@dataclass(frozen=True, slots=True)
class Line:
    """The change of one measure of one leg in one condition.

    Attributes
    ----------
    mark : Mark or None
        None where the row says why.
    """

    condition: int
    mark: Mark | None
    verdict: str
    change: str
    interval: str


@dataclass(frozen=True, slots=True)
class Said:
    """What may be said of one condition on one leg.

    Attributes
    ----------
    condition : int or None
        None where it is said of all.
    """

    condition: int | None
    leg: str
    verdict: str
    words: str


@dataclass(frozen=True, slots=True)
class BoardRow:
    """One question.

    Attributes
    ----------
    doubts : tuple of str
        What makes its values doubtful.
    whys : tuple of str
        Why lines have no mark.
    rows : tuple of ComparisonRow
        What it is made from, with what stands beside it.
    """

    title: str
    note: str
    doubts: tuple[str, ...]
    is_aim: bool
    has_sign: bool
    values: tuple[ValueLine, ...]
    lines: tuple[Line, ...]
    whys: tuple[str, ...]
    said: tuple[Said, ...]
    rows: tuple[ComparisonRow, ...]


@dataclass(frozen=True, slots=True)
class Board:
    """The board of the answers of a comparison.

    Attributes
    ----------
    ticks : tuple of (float, str)
        Place in per cent and label, in measurement errors.
    band : tuple of float
        Where a change is smaller than its error, per cent.
    """

    head: str
    reference: str
    conditions: tuple[str, ...]
    ticks: tuple[tuple[float, str], ...]
    band: Bounds
    rows: tuple[BoardRow, ...]


def draw_board(told: Sequence[Answer], findings: Sequence[_Findings]) -> Board:
    """Return the board of the answers of a comparison.

    Parameters
    ----------
    findings : sequence of sequence of Finding
        What it shows of each answer: of its legs, or of the other one.
    """
    every = [each for own in findings for each in own]
    reach = reach_of([row for each in every for row in _shown(each, len(told))])
    keys = dict.fromkeys(each.question for each in every)
    rows = (
        _row([[one for one in own if one.question == key] for own in findings], told, reach)
        for key in keys
    )
    return Board(
        _legs_of(every),
        told[0].reference,
        tuple(each.condition for each in told),
        *scale_of(reach),
        tuple(rows),
    )


def _legs_of(findings: _Findings) -> str:
    """Return whose legs findings are of, as a heading."""
    sides = dict.fromkeys(each.side for each in findings if not each.is_of_both_legs)
    return "both legs" if len(sides) != 1 else f"the {next(iter(sides))} leg"


def title_of(question: str) -> str:
    """Return a question as the head of a row."""
    name = str(Reason(question))
    return f"{name[0].upper()}{name[1:]}"


def unit_sign(measure: str) -> str:
    """Return what stands behind a value of a measure: ``°``, `` mm``."""
    return unit_behind(MEASURE_BY_NAME[measure].unit)


def before_and_here(row: ComparisonRow) -> str:
    """Return both values with their unit: ``3.0 → 8.2°``."""
    decimals = MEASURE_BY_NAME[row.measure].decimals
    before, here = (number(x, decimals) for x in (row.reference_value, row.value))
    return with_minus(f"{before} → {here}{unit_sign(row.measure)}")


def told_change(row: ComparisonRow) -> str:
    """Return the change with its unit: ``+5.2°``."""
    decimals = MEASURE_BY_NAME[row.measure].decimals
    return with_minus(f"{signed(row.difference, decimals)}{unit_sign(row.measure)}")


def _alone_larger(finding: Finding) -> list[ComparisonRow]:
    """Return rows that are larger than error where the one that decides is not."""
    return [] if finding.verdict == LARGER else list(finding.changed)


def _shown(finding: Finding, n_conditions: int) -> Sequence[ComparisonRow]:
    if n_conditions == 1:
        return finding.rows
    return [*finding.rows[:1], *_alone_larger(finding)]


@dataclass(frozen=True, slots=True)
class _Placed:
    """A row with where it stands: its condition's place, its leg."""

    condition: int
    leg: str
    row: ComparisonRow


def _row(own: Sequence[_Findings], told: Sequence[Answer], reach: Reach) -> BoardRow:
    every = [each for findings in own for each in findings]
    sides = dict.fromkeys(each.side for each in every)
    legs = {side: side[0].upper() if len(sides) > 1 else "" for side in sides}
    placed = [
        _Placed(place, leg, row)
        for side, leg in legs.items()
        for place, findings in enumerate(own)
        for each in findings
        if each.side == side
        for row in _shown(each, len(told))
    ]
    heels = tuple(_heels(own, legs))
    titles = dict.fromkeys(_title(each.row) for each in placed)
    return BoardRow(
        title_of(every[0].question),
        "; ".join([*(["heel first"] if heels else []), *titles]),
        _doubts(placed, told),
        any(each.is_aim for each in every),
        _has_sign(own, told),
        (*heels, *_values(placed, len(told))),
        tuple(_line(each, reach) for each in placed),
        tuple(said_once(_whys(placed, told), len(told))),
        tuple(_said(own, legs)),
        tuple(row for each in every for row in (*each.rows, *each.companions)),
    )


def _title(row: ComparisonRow) -> str:
    return MEASURE_BY_NAME[row.measure].title


def _has_sign(own: Sequence[_Findings], told: Sequence[Answer]) -> bool:
    """Tell whether a new sign is of what a question asks, of what stands folded beside it too."""
    signs = [
        {(_BESIDE.get(item.measure, item.measure), item.side) for item in answer.new_signs}
        for answer in told
    ]
    return any(
        (row.measure, row.side) in signs[place]
        for place, findings in enumerate(own)
        for each in findings
        for row in (*each.rows, *each.companions)
    )


def _doubts(placed: Sequence[_Placed], told: Sequence[Answer]) -> tuple[str, ...]:
    """Return what makes values doubtful; of whose where it is not of all of them."""
    held: dict[str, list[str]] = {}
    for each in placed:
        of = _title(each.row) if len(told) == 1 else told[each.condition].condition
        for text in doubts(each.row.labels):
            held.setdefault(with_minus(text), []).append(f"{each.leg} {of}".strip())
    return tuple(
        text if len(names) == len(placed) else f"{', '.join(dict.fromkeys(names))}: {text}"
        for text, names in held.items()
    )


def _whys(placed: Sequence[_Placed], told: Sequence[Answer]) -> Iterator[tuple[str, str]]:
    """Yield which condition has no mark, and why."""
    for each in placed:
        if not has_mark(each.row):
            yield told[each.condition].condition, why_of(each.row)


def _heels(own: Sequence[_Findings], legs: _Legs) -> Iterator[ValueLine]:
    """Yield the counts of heel-first steps, leg by leg."""
    for side, leg in legs.items():
        counts = [
            next((each.heel.counts for each in findings if each.side == side and each.heel), None)
            for findings in own
        ]
        known = [each for each in counts if each is not None]
        if known:
            first = known[0].reference
            here = (
                "" if each is None else f"{each.own.n_kind} of {each.own.n_steps}"
                for each in counts
            )
            yield ValueLine(leg, (f"{first.n_kind} of {first.n_steps}",), tuple(here), "")


def _values(placed: Sequence[_Placed], n_conditions: int) -> Iterator[ValueLine]:
    for leg, measure in dict.fromkeys((each.leg, each.row.measure) for each in placed):
        decimals = MEASURE_BY_NAME[measure].decimals
        rows = {
            each.condition: each.row
            for each in placed
            if (each.leg, each.row.measure) == (leg, measure)
        }
        before = dict.fromkeys(
            with_minus(number(row.reference_value, decimals)) for row in rows.values()
        )
        here = ["" for _ in range(n_conditions)]
        for place, row in rows.items():
            here[place] = with_minus(number(row.value, decimals))
        yield ValueLine(leg, tuple(before), tuple(here), unit_sign(measure))


def _line(placed: _Placed, reach: Reach) -> Line:
    row = placed.row
    change = interval = ""
    if row.verdict not in UNTOLD:
        change = told_change(row)
        if math.isfinite(row.low):
            decimals = MEASURE_BY_NAME[row.measure].decimals
            interval = with_minus(interval_words(row.low, row.high, decimals))
    mark = mark_of(row, reach) if has_mark(row) else None
    return Line(placed.condition, mark, row.verdict, change, interval)


def _said(own: Sequence[_Findings], legs: _Legs) -> Iterator[Said]:
    """Yield what may be said: once where all agree, or conditions of a leg; else of each."""
    lines = [
        Said(place, legs[each.side], verdict, words)
        for place, findings in enumerate(own)
        for each in findings
        for verdict, words in _chips(each)
    ]
    if len({line.words for line in lines}) == 1 and len(lines) == len(own) * len(legs):
        yield Said(None, "", lines[0].verdict, lines[0].words)
        return
    for leg in legs.values():
        of_leg = [line for line in lines if line.leg == leg]
        if len({line.words for line in of_leg}) == 1 and len(of_leg) == len(own):
            yield Said(None, leg, of_leg[0].verdict, of_leg[0].words)
        else:
            yield from of_leg


def _chips(finding: Finding) -> Iterator[tuple[str, str]]:
    """Yield the verdict of the mark that decides, and of another one that alone is larger."""
    yield finding.verdict, str(chip_of_finding(finding))
    for row in _alone_larger(finding):
        yield row.verdict, f"{chip_of(row)}: {_title(row).lower()}"

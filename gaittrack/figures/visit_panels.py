"""One question over the visits: the course of each condition, and what the brace changed each time.

In come the answers of visits, out come panels whose places are in per cent of the drawing, so that
screens and pages only set them.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from gaittrack.answer import Finding
from gaittrack.answer.findings import UNTOLD
from gaittrack.answer.sentences import chip_of
from gaittrack.compare.intervals.verdict import LARGER
from gaittrack.compare.judged.rows import ComparisonRow
from gaittrack.compare.row_words import doubts, measure_words, number, said_once, signed
from gaittrack.compare.walked.questions import QUESTIONS
from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.figures.board import title_of, unit_sign
from gaittrack.figures.plain_numbers import with_minus
from gaittrack.reasons import Reason
from gaittrack.study.results.visit_answers import VisitAnswer
from gaittrack.vocabulary import Side

_EDGE: Final = 12.0
"""Per cent of the width beside the first and the last visit."""
_NEAREST_IN_PANEL: Final = 33.0
_STEPS: Final = (1.0, 2.0, 5.0)
_TICKS: Final = 4


@dataclass(frozen=True, slots=True)
class VisitPoint:
    """One visit in a panel.

    Attributes
    ----------
    at : float
        Place across, per cent.
    before, here : float or None
        Height of the reference and of the condition, per cent from the top.
    before_text, here_text, change, interval : str
        The same as words; empty where not defined.
    verdict, words : str
        Of the change, and as a chip says it; empty without one.
    """

    visit: str
    at: float
    before: float | None
    here: float | None
    before_text: str
    here_text: str
    change: str
    interval: str
    verdict: str
    words: str


@dataclass(frozen=True, slots=True)
class Panel:
    """One question over the visits.

    Attributes
    ----------
    said : str
        What the changes come to.
    ticks : tuple of (float, str)
        Height in per cent from the top, and label.
    has_sign : bool
        A sign to look at fires on its measure at the newest visit.
    doubts : tuple of str
        What makes its values doubtful, and at which visits where not at all of them.
    """

    title: str
    measure: str
    side: str
    said: str
    ticks: tuple[tuple[float, str], ...]
    points: tuple[VisitPoint, ...]
    has_sign: bool
    doubts: tuple[str, ...]

    @property
    def is_known(self) -> bool:
        """Whether any visit has a value."""
        return any(each.before is not None or each.here is not None for each in self.points)

    @property
    def lines(self) -> Iterator[tuple[str, float, float, float, float]]:
        """Yield the course of each condition, then what the brace changed: kind and both ends."""
        for kind in ("before", "here"):
            for one, other in pairwise(self.points):
                ends = getattr(one, kind), getattr(other, kind)
                if None not in ends:
                    yield kind, one.at, ends[0], other.at, ends[1]
        for one in self.points:
            if one.before is not None and one.here is not None:
                yield "stem", one.at, one.before, one.at, one.here


def visit_places(told: Sequence[VisitAnswer], *, nearest: float) -> tuple[float, ...]:
    """Return where visits stand, in per cent: by their days where all are known and far enough.

    Parameters
    ----------
    nearest : float
        Per cent between two that their words need.
    """
    days = [each.visit.facts["days_since_first_visit"] for each in told]
    if len(told) == 1:
        return (50.0,)
    room = 100 - 2 * _EDGE
    even = tuple(_EDGE + room * place / (len(told) - 1) for place in range(len(told)))
    if any(day is None for day in days) or days[-1] == days[0]:
        return even
    places = tuple(_EDGE + room * (day - days[0]) / (days[-1] - days[0]) for day in days)
    gaps = [after - before for before, after in zip(places, places[1:], strict=False)]
    return places if min(gaps) >= nearest else even


def draw_panels(told: Sequence[VisitAnswer]) -> list[Panel]:
    """Return a panel for each question that the newest answer has, and each of its legs."""
    newest = next((each.answer for each in reversed(told) if each.answer is not None), None)
    if newest is None:
        return []
    signs = {(item.measure, item.side) for item in newest.new_signs}
    places = visit_places(told, nearest=_NEAREST_IN_PANEL)
    order = [question.code for question in QUESTIONS]
    found = sorted(newest.findings, key=lambda each: order.index(each.question))
    return [_panel(each, told, places, signs) for each in found if each.rows]


def _panel(
    finding: Finding,
    told: Sequence[VisitAnswer],
    places: Sequence[float],
    signs: Collection[tuple[str, Side]],
) -> Panel:
    name = finding.rows[0].measure
    rows = [_row_of(each, finding, name) for each in told]
    ticks = round_ticks([value for row in rows if row is not None for value in _values(row)])
    return Panel(
        title_of(finding.question),
        measure_words(name),
        "" if finding.is_of_both_legs else finding.side,
        str(_said([row for row in rows if row is not None])),
        tuple((height_on(at, ticks), tick_label(at, name)) for at in ticks),
        tuple(
            _point(each, row, at, ticks) for each, row, at in zip(told, rows, places, strict=True)
        ),
        any((row.measure, finding.side) in signs for row in finding.rows),
        _doubts({each.visit.code: row for each, row in zip(told, rows, strict=True) if row}),
    )


def _doubts(rows: Mapping[str, ComparisonRow]) -> tuple[str, ...]:
    """Return what makes values doubtful, each once."""
    told = ((visit, with_minus(x)) for visit, row in rows.items() for x in doubts(row.labels))
    return tuple(said_once(told, len(rows)))


def _row_of(told: VisitAnswer, wanted: Finding, measure: str) -> ComparisonRow | None:
    """Return the row of a measure at a visit, whatever leg a measure of both was read on there."""
    found = () if told.answer is None else (*told.answer.findings, *told.answer.other_leg)
    rows = (
        row
        for each in found
        if each.question == wanted.question
        for row in (*each.rows, *each.companions)
        if row.measure == measure and (wanted.is_of_both_legs or row.side == wanted.side)
    )
    return next(rows, None)


def _values(row: ComparisonRow) -> Iterator[float]:
    yield from (each for each in (row.reference_value, row.value) if math.isfinite(each))


def _said(rows: Sequence[ComparisonRow]) -> Reason:
    larger = [row for row in rows if row.verdict == LARGER]
    ways = {row.difference > 0 for row in larger}
    if all(row.verdict in UNTOLD for row in rows):
        return Reason("at_no_visit_compared", n=len(rows))
    if not larger:
        return Reason("at_no_visit_larger", n=len(rows))
    if len(ways) > 1:
        return Reason("visits_differ", n_larger=len(larger), n=len(rows))
    way = Reason("higher") if ways == {True} else Reason("lower")
    return Reason("larger_at_visits", n_larger=len(larger), n=len(rows), way=way)


def round_ticks(values: Sequence[float], *, n_ticks: int = _TICKS) -> list[float]:
    """Return round numbers, about so many, that hold all values."""
    low, high = (min(values), max(values)) if values else (0.0, 1.0)
    span = max(high - low, abs(high) * 0.1, 1e-6)
    raw = span / (n_ticks - 1)
    magnitude = 10.0 ** math.floor(math.log10(raw))
    step = next((each * magnitude for each in _STEPS if each * magnitude >= raw), 10 * magnitude)
    first = math.floor(low / step)
    last = max(math.ceil(high / step), first + 1)
    return [round(step * place, 10) for place in range(first, last + 1)]


def height_on(value: float, ticks: Sequence[float]) -> float:
    """Return where a value stands between the ends of a scale, in per cent from the top."""
    return round(100 * (ticks[-1] - value) / (ticks[-1] - ticks[0]), 2)


def tick_label(value: float, measure: str) -> str:
    """Return the number beside a line of the scale."""
    unit = unit_sign(measure)
    return with_minus(f"{value:g}{unit if unit == '°' else ''}")


def _short(bound: float, decimals: int) -> str:
    return with_minus(number(bound, decimals))


def _point(
    told: VisitAnswer, row: ComparisonRow | None, at: float, ticks: Sequence[float]
) -> VisitPoint:
    if row is None:
        return VisitPoint(told.visit.code, at, None, None, "", "", "", "", "", "")
    decimals = MEASURE_BY_NAME[row.measure].decimals
    fewer = decimals if decimals > 1 else 0
    before, here = (
        height_on(value, ticks) if math.isfinite(value) else None
        for value in (row.reference_value, row.value)
    )
    return VisitPoint(
        told.visit.code,
        round(at, 2),
        before,
        here,
        "" if before is None else with_minus(number(row.reference_value, decimals)),
        "" if here is None else with_minus(number(row.value, decimals)),
        with_minus(signed(row.difference, decimals)) if math.isfinite(row.difference) else "",
        f"{_short(row.low, fewer)} to {_short(row.high, fewer)}" if math.isfinite(row.low) else "",
        row.verdict,
        str(chip_of(row)),
    )

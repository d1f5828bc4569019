"""The eight questions of several conditions in one board: one mark each, on one scale of errors.

In come the answers of one comparison, out come rows whose marks have their places in per cent of
the axis. A row shows the measure that decides, and another one where that alone is larger; each
condition keeps its place in all rows.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from gaittrack.answer import Answer, Finding
from gaittrack.answer.sentences import chip_of, chip_of_finding
from gaittrack.compare.row_words import number
from gaittrack.compare.rows import ComparisonRow
from gaittrack.compare.verdict import LARGER
from gaittrack.compare.walks import MEASURE_BY_NAME
from gaittrack.figures.answer_board import (
    Mark,
    doubts_of,
    has_mark,
    legs_of,
    mark_of,
    reach_of,
    scale_of,
    title_of,
    unit_sign,
    why_of,
)
from gaittrack.figures.plain_numbers import with_minus
from gaittrack.vocabulary import Side

_Findings = Sequence[Finding]


@dataclass(frozen=True, slots=True)
class ValueLine:
    """A measure of a leg in all conditions.

    Attributes
    ----------
    leg : str
        ``L`` or ``R`` where two legs stand in a row; else empty.
    before : str
        Of the reference.
    here : tuple of str
        Of each condition; empty where another measure answers its question.
    """

    leg: str
    before: str
    here: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PlacedMark:
    """The mark of one condition."""

    condition: int
    leg: str
    mark: Mark
    verdict: str


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
class SeveralRow:
    """One question.

    Attributes
    ----------
    doubts : tuple of str
        What makes its values doubtful.
    whys : tuple of str
        Why a condition has no mark.
    rows : tuple of ComparisonRow
        What it is made from, with what stands beside it.
    """

    title: str
    note: str
    doubts: tuple[str, ...]
    is_aim: bool
    has_sign: bool
    values: tuple[ValueLine, ...]
    marks: tuple[PlacedMark, ...]
    whys: tuple[str, ...]
    said: tuple[Said, ...]
    rows: tuple[ComparisonRow, ...]


@dataclass(frozen=True, slots=True)
class SeveralBoard:
    """The board of all answers of a comparison.

    Attributes
    ----------
    ticks, band
        As of :class:`gaittrack.figures.answer_board.Board`.
    """

    head: str
    reference: str
    conditions: tuple[str, ...]
    ticks: tuple[tuple[float, str], ...]
    band: tuple[float, float]
    rows: tuple[SeveralRow, ...]


def draw_several(told: Sequence[Answer], findings: Sequence[_Findings]) -> SeveralBoard:
    """Return the board of several answers.

    Parameters
    ----------
    findings : sequence of sequence of Finding
        What it shows of each answer: of its legs, or of the other one.
    """
    drawn = [row for own in findings for each in own for row in shown_rows(each)]
    reach = reach_of(drawn)
    keys = dict.fromkeys(each.question for own in findings for each in own)
    rows = [
        _row([[one for one in own if one.question == key] for own in findings], told, reach)
        for key in keys
    ]
    return SeveralBoard(
        legs_of([each for own in findings for each in own]),
        told[0].reference,
        tuple(each.condition for each in told),
        *scale_of(reach),
        tuple(rows),
    )


def shown_rows(finding: Finding) -> list[ComparisonRow]:
    """Return the measure that decides, and others where they alone are larger than error."""
    others = [row for row in finding.changed if row is not finding.rows[0]]
    return [*finding.rows[:1], *(others if finding.verdict != LARGER else [])]


def _row(own: Sequence[_Findings], told: Sequence[Answer], reach: tuple[int, int]) -> SeveralRow:
    every = [each for findings in own for each in findings]
    sides = list(dict.fromkeys(each.side for each in every))
    legs = {side: side[0].upper() if len(sides) > 1 else "" for side in sides}
    placed = [
        (place, legs[each.side], row)
        for side in sides
        for place, findings in enumerate(own)
        for each in findings
        if each.side == side
        for row in shown_rows(each)
    ]
    signs = [{(item.measure, item.side) for item in answer.new_signs} for answer in told]
    heels = tuple(_heels(own, legs))
    titles = dict.fromkeys(MEASURE_BY_NAME[row.measure].title for _, _, row in placed)
    return SeveralRow(
        title_of(every[0].question),
        "; ".join([*(["heel first"] if heels else []), *titles]),
        doubts_of([(f"{leg} {told[place].condition}".strip(), row) for place, leg, row in placed]),
        any(each.is_aim for each in every),
        any((row.measure, row.side) in signs[place] for place, _, row in placed),
        (*heels, *_values(placed, len(own))),
        tuple(
            PlacedMark(place, leg, mark_of(row, reach), row.verdict)
            for place, leg, row in placed
            if has_mark(row)
        ),
        tuple(_whys(placed, told)),
        tuple(_said(own, legs)),
        tuple(row for each in every for row in (*each.rows, *each.companions)),
    )


def _whys(
    placed: Sequence[tuple[int, str, ComparisonRow]], told: Sequence[Answer]
) -> Iterator[str]:
    """Yield why there is no mark, once where it is the same of all conditions."""
    groups: dict[str, list[str]] = {}
    for place, _, row in placed:
        if not has_mark(row):
            groups.setdefault(why_of(row), []).append(told[place].condition)
    for why, names in groups.items():
        of_all = len(set(names)) == len(told)
        yield why if of_all else f"{', '.join(dict.fromkeys(names))}: {why}"


def _heels(own: Sequence[_Findings], legs: Mapping[Side, str]) -> Iterator[ValueLine]:
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
            yield ValueLine(leg, f"{first.n_kind} of {first.n_steps}", tuple(here))


def _values(
    placed: Sequence[tuple[int, str, ComparisonRow]], n_conditions: int
) -> Iterator[ValueLine]:
    keys = dict.fromkeys((leg, row.measure) for _, leg, row in placed)
    for leg, measure in keys:
        decimals, unit = MEASURE_BY_NAME[measure].decimals, unit_sign(measure)
        rows = {place: row for place, own, row in placed if (own, row.measure) == (leg, measure)}
        before = dict.fromkeys(number(row.reference_value, decimals) for row in rows.values())
        here = ["" for _ in range(n_conditions)]
        for place, row in rows.items():
            here[place] = _with_unit(number(row.value, decimals), unit)
        told = " / ".join(_with_unit(each, unit) for each in before)
        yield ValueLine(leg, told, tuple(here))


def _with_unit(text: str, unit: str) -> str:
    return with_minus(f"{text}{unit}") if any(letter.isdigit() for letter in text) else text


def _said(own: Sequence[_Findings], legs: Mapping[Side, str]) -> Iterator[Said]:
    """Yield what may be said: once where conditions agree, else of each."""
    lines: list[Said] = []
    for place, findings in enumerate(own):
        for each in findings:
            said = str(chip_of_finding(each))
            lines.append(Said(place, legs[each.side], each.verdict, said))
            for row in shown_rows(each)[1:]:
                title = MEASURE_BY_NAME[row.measure].title.lower()
                lines.append(Said(place, legs[each.side], row.verdict, f"{chip_of(row)}: {title}"))
    if len({line.words for line in lines}) == 1 and len(lines) == len(own) * len(legs):
        yield Said(None, "", lines[0].verdict, lines[0].words)
        return
    for leg in legs.values():
        of_leg = [line for line in lines if line.leg == leg]
        if len({line.words for line in of_leg}) == 1 and len(of_leg) == len(own):
            yield Said(None, leg, of_leg[0].verdict, of_leg[0].words)
        else:
            yield from of_leg

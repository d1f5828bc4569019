"""What was measured, as the page for the file has it: the eight questions, results, what to know.

In come the effects that stand beside one another, out come lines of plain words and codes of
verdicts. Nothing is judged here.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from gaittrack.answer import Answer, Finding
from gaittrack.answer.findings import UNTOLD
from gaittrack.answer.sentences import CHIPS, chip_of, chip_of_finding, phrases_of
from gaittrack.compare.comparison import Comparison
from gaittrack.compare.intervals.verdict import (
    CHANGE_IN_THESE_WALKS,
    LARGER,
    NO_CHANGE,
    NOT_COMPARABLE,
    NOT_SHOWN,
    NOT_TRUSTED,
)
from gaittrack.compare.judged.rows import ComparisonRow
from gaittrack.compare.row_words import (
    doubts,
    family_words,
    interval_words,
    number,
    range_words,
    said_once,
)
from gaittrack.compare.walked.questions import QUESTIONS
from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.figures.board import before_and_here, title_of, told_change, unit_sign
from gaittrack.figures.error_axis import why_of
from gaittrack.figures.plain_numbers import with_minus
from gaittrack.reasons import Reason
from gaittrack.record.visit_facts import VisitFacts, examined_points
from gaittrack.report.board import told_signs
from gaittrack.report.comparison_tables import sources_of_errors
from gaittrack.report.html_parts import numbered

_KEY: Final = (LARGER, CHANGE_IN_THESE_WALKS, NO_CHANGE, NOT_SHOWN, NOT_COMPARABLE, NOT_TRUSTED)
_READING: Final = (
    "Values are means of walks; the change is from the reference. Interval: 95 %, with the walk as "
    "the unit and what putting markers on again can do. Error: the smallest difference beyond "
    "measurement error. 'Not shown' says nothing of how small a change is."
)


@dataclass(frozen=True, slots=True)
class Effect:
    """What stands in one column: a condition against its reference.

    Attributes
    ----------
    label : str
        Empty where there is one column.
    """

    label: str
    answer: Answer
    comparison: Comparison


@dataclass(frozen=True, slots=True)
class QuestionWords:
    """A verdict with its words; ``verdict`` is empty where there is nothing to compare."""

    verdict: str
    words: str


@dataclass(frozen=True, slots=True)
class Result:
    """A measure of a leg, with and without, in each column.

    Attributes
    ----------
    cells : tuple of tuple of str
        Of each column: without, with, change, interval, error, verdict.
    """

    question: str
    measure: str
    typical: str
    cells: tuple[tuple[str, ...], ...]


def shapes() -> list[QuestionWords]:
    """Return the key: what each shape says."""
    return [QuestionWords(verdict, str(CHIPS[verdict])) for verdict in _KEY]


def question_lines(effects: Sequence[Effect]) -> list[tuple[str, bool, list[QuestionWords]]]:
    """Return the eight questions: what is asked of which leg, whether it is an aim, each answer."""
    lines = []
    for question in QUESTIONS:
        for side in _sides(question.code, effects):
            found = [_finding(each, question.code, side) for each in effects]
            several = len(_sides(question.code, effects)) > 1
            title = f"{title_of(question.code)}{f', {side}' if several else ''}"
            is_aim = any(each is not None and each.is_aim for each in found)
            lines.append((title, is_aim, [_told(each, len(effects)) for each in found]))
    return lines


def _sides(code: str, effects: Sequence[Effect]) -> list[str]:
    own = (one for each in effects for one in each.answer.findings if one.question == code)
    return list(dict.fromkeys(each.side for each in own))


def _finding(effect: Effect, code: str, side: str) -> Finding | None:
    own = effect.answer.findings
    return next((one for one in own if (one.question, one.side) == (code, side)), None)


def _told(finding: Finding | None, n_columns: int) -> QuestionWords:
    """Return what a question finds: counts, values and change, and what may be said of it."""
    if finding is None or not finding.rows:
        return QuestionWords("", "not in these recordings")
    row = finding.rows[0]
    counts = [f"heel first in {_counts(finding)} steps"] if finding.heel is not None else []
    chip = str(chip_of_finding(finding))
    if row.verdict in UNTOLD:
        why = why_of(row) if n_columns == 1 else chip
        return QuestionWords(finding.verdict, "; ".join([*counts, why]))
    said = [*counts, f"{before_and_here(row)}, change {told_change(row)}"]
    others = [
        f"{MEASURE_BY_NAME[each.measure].title}: {before_and_here(each)}, {chip_of(each)}"
        for each in finding.rows[1:]
    ]
    if n_columns > 1:
        return QuestionWords(finding.verdict, "; ".join(said))
    return QuestionWords(finding.verdict, "; ".join([f"{'; '.join(said)}: {chip}", *others]))


def _counts(finding: Finding) -> str:
    if finding.heel is None:
        return ""
    own, other = finding.heel.counts.own, finding.heel.counts.reference
    return f"{other.n_kind} of {other.n_steps} → {own.n_kind} of {own.n_steps}"


def result_table(effects: Sequence[Effect]) -> list[Result]:
    """Return every measure that answers a question, on each leg of the answers.

    Of two legs in several columns that alone which decides.
    """
    is_many = len(effects) > 1 and any(len(each.answer.legs) > 1 for each in effects)
    n_marks = 1 if is_many else None
    numbers = doubt_numbers(effects)
    found = []
    for question in QUESTIONS:
        for side in _sides(question.code, effects):
            own = [_finding(each, question.code, side) for each in effects]
            rows = [one.rows[:n_marks] if one is not None else () for one in own]
            heads = [title_of(question.code), *[""] * 9]
            legs = f", {side}" if len(_sides(question.code, effects)) > 1 else ""
            if any(one is not None and one.heel is not None for one in own):
                found.append(_heel_result(heads.pop(0), legs, own))
            for measure in dict.fromkeys(row.measure for each in rows for row in each):
                cells = tuple(
                    _cells(next((row for row in each if row.measure == measure), None))
                    for each in rows
                )
                title = f"{MEASURE_BY_NAME[measure].title}{legs}{_places(measure, rows, numbers)}"
                found.append(Result(heads.pop(0), title, _typical(effects, measure), cells))
    return found


def doubt_numbers(effects: Sequence[Effect]) -> dict[str, int]:
    """Return a number for each thing that makes a value doubtful: it stands beside the measure."""
    return numbered(_doubts(each) for each in effects)


def _doubts(effect: Effect) -> list[str]:
    return [
        text for one in effect.answer.findings for row in one.rows for text in doubts(row.labels)
    ]


def doubt_words(effects: Sequence[Effect]) -> list[str]:
    """Return those things in words, with the columns that they are of where these are not all."""
    lines = []
    for text, place in doubt_numbers(effects).items():
        labels = [each.label for each in effects if text in _doubts(each)]
        of = "" if len(labels) == len(effects) else f"{', '.join(labels)}: "
        lines.append(with_minus(f"! {place} {of}{text}"))
    return lines


def _places(
    measure: str, rows: Sequence[Sequence[ComparisonRow]], numbers: Mapping[str, int]
) -> str:
    own = [row for each in rows for row in each if row.measure == measure]
    places = sorted({numbers[text] for row in own for text in doubts(row.labels)})
    return f" ! {', '.join(map(str, places))}" if places else ""


def _heel_result(head: str, legs: str, own: Sequence[Finding | None]) -> Result:
    cells: list[tuple[str, ...]] = []
    for each in own:
        if each is None or each.heel is None:
            cells.append(("",) * 6)
        else:
            counts = each.heel.counts
            before, here = counts.reference, counts.own
            told = [f"{one.n_kind} of {one.n_steps}" for one in (before, here)]
            cells.append((*told, "", "", "", ""))
    return Result(head, f"heel first, steps{legs}", "", tuple(cells))


def _cells(row: ComparisonRow | None) -> tuple[str, ...]:
    if row is None:
        return ("",) * 6
    decimals, unit = MEASURE_BY_NAME[row.measure].decimals, unit_sign(row.measure)
    before, here = (
        "no value" if math.isnan(x) else with_minus(f"{number(x, decimals)}{unit}")
        for x in (row.reference_value, row.value)
    )
    error = row.measurement_error
    error_said = f"{number(error, decimals)}{unit}" if math.isfinite(error) else ""
    if row.verdict in UNTOLD:
        return before, here, "", "", error_said, row.verdict
    interval = interval_words(row.low, row.high, decimals) if math.isfinite(row.low) else ""
    return before, here, told_change(row), with_minus(interval), error_said, row.verdict


def _typical(effects: Sequence[Effect], measure: str) -> str:
    ranges: dict[str, dict[str, Any]] = effects[0].comparison.settings["typical_ranges"]
    own = ranges.get(measure)
    return "" if own is None else with_minus(range_words(measure, own["low"], own["high"]))


def typical_words(effects: Sequence[Effect]) -> str:
    """Return whose range stands beside, and at which speeds."""
    ranges: dict[str, dict[str, Any]] = effects[0].comparison.settings["typical_ranges"]
    used = {
        row.measure for each in effects for one in each.answer.findings for row in one.rows
    } & ranges.keys()
    told = dict.fromkeys(
        f"{ranges[name]['source']} ({ranges[name]['lowest_speed_m_s']:g} to "
        f"{ranges[name]['highest_speed_m_s']:g} m/s)"
        for name in sorted(used)
    )
    return f"Typical: {'; '.join(told)}." if told else "Typical: no range is known of these."


def other_leg_words(effects: Sequence[Effect]) -> list[str]:
    """Return in a line for each column what changed on the leg that is not braced."""
    lines = []
    for each in effects:
        if not each.answer.other_leg:
            continue
        rows = [row for one in each.answer.other_leg for row in one.changed]
        said = "; ".join(
            f"{MEASURE_BY_NAME[row.measure].title} {before_and_here(row)}" for row in rows
        )
        name = f"{each.label}: " if each.label else ""
        side = each.answer.other_leg[0].side
        lines.append(
            f"{name}{side} leg, without a brace: {said or 'nothing changed by more than error'}."
        )
    return lines


def looked_at(effects: Sequence[Effect], visits: Sequence[VisitFacts]) -> list[str]:
    """Return what got worse or is to be looked at, the examination too."""
    losses = [
        f"{each.label or each.answer.condition}: {phrase}"
        for each in effects
        for finding in each.answer.findings
        if finding.kind == "loss"
        for phrase in phrases_of(finding, each.answer.names[1])
    ]
    signs = [
        f"{head}: {line}"
        for head, name in (
            ("new", "new_signs"),
            ("there without it too", "signs_without_too"),
            ("in some steps only", "seen_in_some"),
        )
        for line in _signs(effects, name)
    ]
    examined = [f"examination: {line}" for line in examined_points(visits)]
    found = list(dict.fromkeys([*examined, *losses, *signs]))
    return found or ["No sign was seen of those that could be looked for."]


def _signs(effects: Sequence[Effect], name: str) -> Iterator[str]:
    """Yield signs in words: conditions of one reference together, each visit by itself."""
    of_visit: dict[int, list[Effect]] = {}
    for each in effects:
        of_visit.setdefault(id(each.comparison), []).append(each)
    for own in of_visit.values():
        start = f"{own[0].label}, " if len(of_visit) > 1 else ""
        items = [item for each in own for item in getattr(each.answer, name)]
        yield from (f"{start}{line}" for line in told_signs(items))


def untold(effects: Sequence[Effect]) -> list[str]:
    """Return what could not be told and why, what was not the same, what no recording shows."""
    why = (
        (
            each.label,
            f"{title_of(one.question)}: {why_of(one.rows[0]) if one.rows else 'no value'}",
        )
        for each in effects
        for one in each.answer.untold
    )
    signs = dict.fromkeys(str(Reason(c)) for each in effects for c in each.answer.not_looked_for)
    comparisons = {id(each.comparison): each.comparison for each in effects}
    fair = dict.fromkeys(
        line
        for each in comparisons.values()
        for line in said_once((note.condition, str(note.reason)) for note in each.fairness)
    )
    unseen = effects[-1].comparison.settings["cannot_show"]
    looked = [f"Signs not looked for: {', '.join(signs)}"] if signs else []
    return [*said_once(why, len(effects)), *looked, *fair, unseen]


def how_measured(comparisons: Sequence[Comparison]) -> list[str]:
    """Return how to read the numbers, and what they were made with."""
    walks = [walk for each in comparisons for walk in each.settings["walks"]]
    filters = dict.fromkeys(walk["smoothing"] for walk in walks)
    events = dict.fromkeys(walk["event_source"] or "not known" for walk in walks)
    zero = dict.fromkeys(walk["neutral_source"] or "not known" for walk in walks)
    asked = dict.fromkeys(filter(None, map(family_words, comparisons)))
    return [
        _READING,
        *asked,
        f"Smoothing: {'; '.join(filters)}.",
        f"Events: {', '.join(events)}. Zero of the foot: {', '.join(zero)}.",
        comparisons[0].settings["caution"],
    ]


def error_lines(effects: Sequence[Effect]) -> list[tuple[str, str]]:
    """Return where the errors come from: what several measures share is said once for them."""
    rows = [row for each in effects for one in each.answer.findings for row in one.rows]
    parts: dict[str, list[str]] = {}
    for source, names in sources_of_errors(rows):
        for part in source.split("; "):
            parts.setdefault(part, []).append(names)
    found: dict[str, list[str]] = {}
    for part, measures in parts.items():
        found.setdefault(", ".join(dict.fromkeys(measures)), []).append(part)
    return [("; ".join(told), names) for names, told in found.items()]

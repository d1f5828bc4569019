"""The answer of a comparison as text for a terminal, at most 100 columns wide.

In comes an answer, out come its sentences, the signs, and the eight questions with the measures
that answer them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Final

from gaittrack.answer import Answer, Finding
from gaittrack.answer.findings import UNTOLD
from gaittrack.answer.sentences import chip_of, chip_of_finding
from gaittrack.commands.walk_text import wrapped
from gaittrack.compare.intervals.verdict import NOT_COMPARABLE
from gaittrack.compare.judged.rows import ComparisonRow
from gaittrack.compare.judged.watch import WatchItem
from gaittrack.compare.row_words import (
    doubts,
    interval_words,
    measure_words,
    missing_words,
    number,
    signed,
    verdict_words,
)
from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.reasons import Reason

_QUESTION, _MEASURE, _VALUES, _CHANGE = 57, 46, 20, 10
"""Widths of the columns."""
_SIGNS: Final = (
    ("new", "new_signs"),
    ("in the reference too", "signs_without_too"),
    ("in some steps only", "seen_in_some"),
)


def answer_text(answer: Answer, examined: Sequence[str] = ()) -> str:
    """Return an answer as text.

    Parameters
    ----------
    examined : sequence of str
        What was examined that day and recordings cannot show.
    """
    legs = "both legs" if len(answer.legs) > 1 else f"{answer.legs[0]} leg"
    head = f"{answer.condition} against {answer.reference}, {legs}".upper()
    lines = [head, *map(wrapped, answer.sentences()), *_signs(answer, examined), ""]
    lines += [line for finding in answer.findings for line in _finding_lines(finding)]
    return "\n".join([*lines, *_other_leg(answer.other_leg)])


def _signs(answer: Answer, examined: Sequence[str]) -> Iterator[str]:
    if examined:
        yield wrapped(f"Signs to look at, from the examination: {'; '.join(examined)}.")
    told = [
        f"{head}: {', '.join(_named(items))}"
        for head, name in _SIGNS
        if (items := getattr(answer, name))
    ]
    unseen = ", ".join(str(Reason(code)) for code in answer.not_looked_for)
    told += [f"could not be looked for: {unseen}"] if unseen else []
    yield wrapped(f"Signs to look at: {'; '.join(told) or 'none seen'}.")


def _named(items: Iterable[WatchItem]) -> list[str]:
    return [f"{Reason(item.sign)} {item.side}" for item in items]


def _finding_lines(finding: Finding) -> Iterator[str]:
    side = "" if finding.is_of_both_legs else f", {finding.side}"
    aim = " (aim)" if finding.is_aim else ""
    name = str(Reason(finding.question))
    title = f"{name[0].upper()}{name[1:]}{side}{aim}"
    yield f"{title:<{_QUESTION}}{chip_of_finding(finding)}".rstrip()
    if finding.heel is not None:
        own, other = finding.heel.counts.own, finding.heel.counts.reference
        counts = f"{other.n_kind} of {other.n_steps} -> {own.n_kind} of {own.n_steps}"
        yield f"    {'heel first (steps)':<{_MEASURE}}{counts}"
    for place, row in enumerate(finding.rows):
        yield from _row_lines(row, is_first=place == 0)


def _row_lines(row: ComparisonRow, *, is_first: bool) -> Iterator[str]:
    measure = MEASURE_BY_NAME[row.measure]
    if row.verdict in UNTOLD:
        why = (
            verdict_words(row)
            if row.verdict == NOT_COMPARABLE
            else missing_words(row.verdict_reason)
        )
        yield wrapped(f"{measure.title}: {why}", indent="    ")
        return
    values = " -> ".join(number(x, measure.decimals) for x in (row.reference_value, row.value))
    change = signed(row.difference, measure.decimals)
    interval = interval_words(row.low, row.high, measure.decimals)
    name = measure_words(row.measure)
    chip = "" if is_first else f"  {chip_of(row)}"
    yield f"    {name:<{_MEASURE}}{values:<{_VALUES}}{change:<{_CHANGE}}{interval}"
    if chip:
        yield f"    {'':<{_MEASURE}}{chip.strip()}"
    yield from (wrapped(f"! {each}", indent="      ") for each in doubts(row.labels))


def _other_leg(findings: Sequence[Finding]) -> list[str]:
    """Return one line of what changed on the leg that is not braced."""
    if not findings:
        return []
    changed = [str(Reason(each.question)) for each in findings if each.kind != "none"]
    said = (
        f"changed by more than error in {', '.join(changed)}"
        if changed
        else "nothing changed by more than error"
    )
    return ["", wrapped(f"The {findings[0].side} leg: {said}; --all shows it.")]

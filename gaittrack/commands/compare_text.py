"""A comparison as text for a terminal, at most 100 columns wide.

In comes a comparison, out come its answers, the watch list when a sign fires, what to know about
fairness, if asked for the table of all measures, and the watch list's other signs.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Sequence
from typing import Final

from gaittrack.answer import answers
from gaittrack.answer.outcomes import outcomes
from gaittrack.commands.answer_text import answer_text
from gaittrack.commands.outcome_text import outcomes_text
from gaittrack.commands.walk_text import wrapped
from gaittrack.compare.comparison import Comparison
from gaittrack.compare.intervals.verdict import NOT_DEFINED, NOT_TRUSTED
from gaittrack.compare.judged.rows import ComparisonRow, MatchedResult
from gaittrack.compare.judged.watch import Status, WatchItem
from gaittrack.compare.row_words import (
    affected_first,
    count_words,
    family_words,
    heel_words,
    interval_words,
    number,
    shared_labels,
    short_labels,
    sign_words,
    signed,
    told_apart,
    unit_words,
    verdict_words,
    walks_interval_words,
)
from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.reasons import Reason

_WITHOUT: Final = (NOT_DEFINED, NOT_TRUSTED)
"""Verdicts of rows that have no number: told together, by their reason."""
_WIDTHS: Final = (46, 6, 10, 10, 10, 18)
"""Measure, side, reference, condition, difference, interval: 100 columns."""
_HEADS: Final = ("", "", "reference", "here", "change", "95 % interval")
_INDENT: Final = "    "


def comparison_text(
    comparison: Comparison, examined: Sequence[str] = (), *, everything: bool = False
) -> str:
    """Return a comparison as text.

    Parameters
    ----------
    examined : sequence of str
        What was examined that day and recordings cannot show.
    everything : bool
        Also the table of all measures.
    """
    parts = [
        *(
            answer_text(each, () if place else examined)
            for place, each in enumerate(answers(comparison))
        ),
        outcomes_text(outcomes(comparison)),
        *_fired(comparison),
        *_fairness(comparison),
        *(_tables(comparison, comparison.rows) if everything else ()),
        wrapped(family_words(comparison)),
        *_rest(comparison, everything=everything),
    ]
    return "\n\n".join(part for part in parts if part)


def _fired(comparison: Comparison) -> Iterator[str]:
    fired = [item for item in comparison.watch if item.status == "fires"]
    if not fired:
        return
    lines = ["WATCH LIST"]
    lines += [wrapped(f"{sign_words(item)}", indent="  ") for item in fired]
    lines += [wrapped(words, indent="  ") for words in told_apart(comparison)]
    lines += [wrapped(comparison.settings[key]) for key in ("cannot_show", "caution")]
    yield "\n".join(lines)


def _fairness(comparison: Comparison) -> Iterator[str]:
    if not comparison.fairness:
        return
    lines = ["IS THE COMPARISON FAIR?"]
    for note in comparison.fairness:
        mark = "!" if note.level == "warning" else "?"
        lines.append(wrapped(f"{mark} {note.condition}: {note.reason}", indent="  "))
    lines.append("! the conditions differ in it    ? it could not be checked")
    yield "\n".join(lines)


def _tables(comparison: Comparison, rows: Sequence[ComparisonRow]) -> Iterator[str]:
    for condition in dict.fromkeys(row.condition for row in rows):
        own = affected_first([row for row in rows if row.condition == condition], comparison)
        lines = [f"{condition.upper()} AGAINST {own[0].reference.upper()}"]
        lines += [wrapped(_counts(comparison, condition, own[0].reference)), _line(_HEADS)]
        shared = shared_labels(own)
        for row in own:
            lines += _row_lines(row, leave_out=shared)
        if shared:
            lines.append(wrapped(f"note on every row: {'; '.join(map(str, shared))}"))
        lines += [wrapped(_walk_value_words(own)), *_undefined(own)]
        lines += [wrapped(words) for words in heel_words(comparison, condition)]
        yield "\n".join(lines)


def _counts(comparison: Comparison, condition: str, reference: str) -> str:
    walks = comparison.settings["walks"]
    said = [
        f"{name}: {count_words(sum(walk['condition'] == name for walk in walks), 'walk')}"
        for name in (reference, condition)
    ]
    return f"{', '.join(said)}; markers: {comparison.settings['markers'][condition]}"


def _walk_value_words(rows: Sequence[ComparisonRow]) -> str:
    shown = dict.fromkeys(MEASURE_BY_NAME[r.measure] for r in rows if r.verdict not in _WITHOUT)
    medians = [measure.title for measure in shown if measure.walk_value == "median"]
    exception = f"; median for {', '.join(medians)}" if medians else ""
    return f"walk value: mean of the strides{exception}"


def _line(texts: Sequence[str]) -> str:
    first, side, *rest = texts
    cells = [text.rjust(width) for text, width in zip(rest, _WIDTHS[2:], strict=True)]
    return f"{first[: _WIDTHS[0]]:<{_WIDTHS[0]}}{side:<{_WIDTHS[1]}}{''.join(cells)}".rstrip()


def _row_lines(row: ComparisonRow, *, leave_out: Collection[Reason]) -> list[str]:
    if row.verdict in _WITHOUT:
        return []
    measure = MEASURE_BY_NAME[row.measure]
    numbers = [number(x, measure.decimals) for x in (row.reference_value, row.value)]
    unit = unit_words(measure.unit)
    head = f"{measure.title} ({unit})"
    first = [head] if len(head) <= _WIDTHS[0] else [measure.title, f"({unit})"]
    line = [
        first[-1],
        row.side,
        *numbers,
        signed(row.difference, measure.decimals),
        interval_words(row.low, row.high, measure.decimals),
    ]
    lines = [*first[:-1], _line(line), wrapped(_second_line(row), indent=_INDENT)]
    if row.matched is not None:
        lines.append(wrapped(_matched_words(row.matched, measure.decimals), indent=_INDENT))
    if labels := short_labels(row, leave_out=leave_out):
        lines.append(wrapped(f"note: {'; '.join(labels)}", indent=_INDENT))
    return lines


def _second_line(row: ComparisonRow) -> str:
    decimals = MEASURE_BY_NAME[row.measure].decimals
    error = row.measurement_error
    told = "" if math.isnan(error) else f" (error {number(error, decimals)})"
    counts = (
        f"{row.n_walks_reference}+{row.n_walks} walks, "
        f"{row.n_strides_reference}+{row.n_strides} strides"
    )
    walks = walks_interval_words(row)
    return "; ".join(part for part in (f"{verdict_words(row)}{told}", walks, counts) if part)


def _matched_words(matched: MatchedResult, decimals: int) -> str:
    head = f"at {matched.common_speed_m_s:.2f} m/s: "
    if math.isnan(matched.difference):
        return f"{head}no strides at this speed in both conditions"
    interval = interval_words(matched.low, matched.high, decimals)
    counts = f"{matched.n_strides_reference}+{matched.n_strides} strides"
    return f"{head}change {signed(matched.difference, decimals)} ({interval}); {counts}"


def _undefined(rows: Sequence[ComparisonRow]) -> list[str]:
    """Return one line per reason with the measures that have no number for it."""
    found: dict[tuple[str, Reason | None], list[str]] = {}
    for row in sorted(rows, key=lambda row: row.verdict != NOT_TRUSTED):
        if row.verdict in _WITHOUT:
            title = f"{MEASURE_BY_NAME[row.measure].title} {row.side}"
            found.setdefault((row.verdict, row.verdict_reason), []).append(title)
    return [
        wrapped(f"{Reason(code)}: {', '.join(names)}: {why}")
        for (code, why), names in found.items()
    ]


def _rest(comparison: Comparison, *, everything: bool) -> Iterator[str]:
    has_fired = any(item.status == "fires" for item in comparison.watch)
    lines = [] if has_fired else ["Watch list: no new sign seen."]
    lines += [] if has_fired else told_apart(comparison)
    if clear := _signs(comparison.watch, "clear", with_text=False):
        lines.append(f"Looked for and not seen: {', '.join(clear)}.")
    if unseen := _signs(comparison.watch, "not_assessed", with_text=everything):
        lines.append(f"Not assessed: {', '.join(unseen)}.")
    if not has_fired:
        lines.append(comparison.settings["cannot_show"])
    yield "\n".join(wrapped(line) for line in lines)
    if not everything:
        yield "--all shows every measure of both legs, with counts and notes."


def _signs(watch: Sequence[WatchItem], status: Status, *, with_text: bool) -> list[str]:
    """Return the signs of one status; with its side where the sides differ."""
    found = []
    for item in watch:
        if item.status != status:
            continue
        others = {each.status for each in watch if each.sign == item.sign}
        name = str(Reason(item.sign)) + (f" {item.side}" if len(others) > 1 else "")
        found.append(f"{name} ({item.reason})" if with_text else name)
    return list(dict.fromkeys(found))

"""The words and numbers of everyday outcomes, the same wherever they are printed.

In come outcomes, out come phrases: values with their repeats, the change, the error, whose it is.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

from gaittrack.answer.outcomes import Outcome, Told
from gaittrack.compare.row_words import interval_words, number, signed
from gaittrack.record.registry import Fact
from gaittrack.record.wording import fact_label, full_label


def outcome_title(outcome: Outcome) -> str:
    """Return what an outcome is called, with the unit of its values."""
    label = full_label(outcome.fact)
    if not outcome.unit or outcome.unit == outcome.fact.unit:
        return label
    return f"{label.removesuffix(f' ({outcome.fact.unit})')} ({outcome.unit})"


def told_value(told: Told, decimals: int) -> str:
    """Return the value of one condition, or what was answered in its place."""
    return number(told.value, decimals) if told.repeats else told.answer


def told_repeats(told: Told, fact: Fact) -> str:
    """Return every repeat as it was recorded; empty where the value is all there is."""
    if not told.repeats or (len(told.repeats) == 1 and told.values == told.repeats):
        return ""
    return f"{'; '.join(f'{each:g}' for each in told.repeats)} {fact.unit}"


def change_words(outcome: Outcome) -> str:
    """Return the change with its sign; empty where none may be told."""
    told = not math.isnan(outcome.difference)
    return signed(outcome.difference, outcome.decimals) if told else ""


def repeats_interval_words(outcome: Outcome) -> str:
    """Return the interval of the change by the repeats; empty without one."""
    if math.isnan(outcome.low):
        return ""
    return f"95 % by the repeats {interval_words(outcome.low, outcome.high, outcome.decimals)}"


def error_words(outcome: Outcome) -> str:
    """Return the measurement error; empty where none is known."""
    decimals = max(outcome.decimals, 1)
    return "" if math.isnan(outcome.error) else number(outcome.error, decimals)


def source_words(outcomes: Iterable[Outcome]) -> list[tuple[str, str]]:
    """Return whose errors these are and where they come from, with the outcomes they are of."""
    found: dict[str, dict[str, None]] = {}
    for each in outcomes:
        if each.error_source is not None:
            found.setdefault(str(each.error_source), {})[outcome_title(each)] = None
    return [(", ".join(names), source) for source, names in found.items()]


def visit_outcome_words(told: Iterable[tuple[Fact, str]]) -> str:
    """Return the outcomes of a visit in one line; empty without any."""
    return "; ".join(f"{fact_label(fact)}: {said}" for fact, said in told)

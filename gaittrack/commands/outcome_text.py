"""Everyday outcomes as text for a terminal, at most 100 columns wide.

In come outcomes, out come lines: values, the change, what may be said, and whose errors it was
judged by.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any, Final

from gaittrack.answer.outcome_words import (
    change_words,
    outcome_title,
    source_words,
    told_repeats,
    told_value,
    visit_outcome_words,
)
from gaittrack.answer.outcomes import Outcome, Told
from gaittrack.commands.walk_text import wrapped
from gaittrack.compare.walked.plain import plain_value

if TYPE_CHECKING:  # the database takes a fifth of a start, and a comparison of files has none
    from gaittrack.study.results.visit_outcomes import VisitOutcomes

_INDENT: Final = "    "


def outcomes_text(found: Sequence[Outcome]) -> str:
    """Return the outcomes of a comparison as text; empty without any."""
    if not found:
        return ""
    return "\n".join(["EVERYDAY", *_lines(found), *_sources(found)])


def visits_outcomes_text(told: Sequence[VisitOutcomes]) -> str:
    """Return the outcomes of a person over the visits as text; empty without any."""
    lines = []
    for each in (one for one in told if one.is_told):
        lines += [f"{each.visit.code}:", *_lines(each.outcomes)]
        if each.counted:
            lines.append(wrapped(visit_outcome_words(each.counted), indent="  "))
    found = [outcome for each in told for outcome in each.outcomes]
    return "\n".join(["Everyday", *lines, *_sources(found)]) if lines else ""


def plain_outcome(outcome: Outcome) -> dict[str, Any]:
    """Return an outcome as plain values for JSON; NaN is None."""
    names = ("unit", "difference", "low", "high", "error", "error_source", "p", "adjusted_p")
    return {
        "outcome": outcome.fact.name,
        **{name: plain_value(getattr(outcome, name)) for name in names},
        "reference": _plain(outcome.reference),
        "condition": _plain(outcome.own),
        "verdict": outcome.verdict.code,
        "words": outcome.verdict.say(),
    }


def _plain(told: Told) -> dict[str, Any]:
    own = {"value": plain_value(told.value), "repeats": list(told.repeats), "answer": told.answer}
    return {"name": told.condition, **own}


def _lines(found: Sequence[Outcome]) -> Iterator[str]:
    for each in found:
        title = outcome_title(each)
        if not each.is_of_both:
            (own,) = each.known
            yield wrapped(f"{title}: {own.condition} {_said(own, each)}", indent="  ")
            continue
        values = " -> ".join(_said(told, each) for told in each.known)
        change = "; ".join(filter(None, (change_words(each), each.verdict.say())))
        yield wrapped(f"{title}: {values}", indent="  ")
        yield wrapped(f"{each.own.condition}: {change}", indent=_INDENT)


def _said(told: Told, outcome: Outcome) -> str:
    repeats = told_repeats(told, outcome.fact)
    return told_value(told, outcome.decimals) + (f" ({repeats})" if repeats else "")


def _sources(found: Sequence[Outcome]) -> Iterator[str]:
    for names, source in source_words(found):
        yield wrapped(f"error of {names}: {source}")

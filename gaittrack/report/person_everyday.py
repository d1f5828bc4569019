"""One everyday test in plain words, for the page for the person.

In comes a comparison of one day, out comes a line: the first test that was done both ways, what it
took, and how sure the change is.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

from gaittrack.answer.outcomes import Outcome, Told, outcomes
from gaittrack.compare.comparison import Comparison
from gaittrack.compare.intervals.verdict import (
    CHANGE_IN_THESE_WALKS,
    LARGER,
    NO_CHANGE,
    NO_ERROR_FIGURE,
    NOT_COMPARABLE,
    NOT_SHOWN,
)
from gaittrack.report.person_words import Words

_HOW_SURE: Final[Mapping[str, str]] = {
    LARGER: "sure",
    CHANGE_IN_THESE_WALKS: "too_little",
    NO_CHANGE: "no_change",
    NOT_SHOWN: "not_shown",
    NO_ERROR_FIGURE: "not_shown",
}


def everyday(comparison: Comparison, words: Words) -> Iterator[tuple[str, str]]:
    """Yield the line, and how sure it is; nothing where no test can be told both ways."""
    texts = words.language.texts
    told = (
        each
        for each in outcomes(comparison)
        if each.verdict.code != NOT_COMPARABLE and f"everyday.{each.fact.name}" in texts
    )
    for outcome in list(told)[:1]:
        said = {
            "before_value": _said(outcome.reference, outcome, words),
            "here_value": _said(outcome.own, outcome, words),
        }
        how_sure = words.say(f"everyday.{_HOW_SURE[outcome.verdict.code]}")
        yield words.say(f"everyday.{outcome.fact.name}", **said), how_sure


def _said(told: Told, outcome: Outcome, words: Words) -> str:
    """Return the mean of the repeats as they were recorded: seconds rather than a speed."""
    value = sum(told.repeats) / len(told.repeats)
    return words.language.number(value, 1 if outcome.fact.unit == "s" else 0)

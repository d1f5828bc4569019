"""Everyday outcomes of two conditions: every repeat, the difference, and what may be said of it.

In come two conditions of one person, out comes an :class:`Outcome` per test or answer, with the
verdicts of measures. A difference past the published error of the test is larger than measurement
error; where both have repeats, these must agree. None is told without the same day, shoe and aid.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

import numpy as np

from gaittrack.compare.comparison import Comparison
from gaittrack.compare.fair.condition import Condition
from gaittrack.compare.fair.fairness import Group, worn_notes
from gaittrack.compare.intervals.certainty import ALPHA, Certainty, certainties
from gaittrack.compare.intervals.decision import Evidence, decide
from gaittrack.compare.intervals.holm import adjust
from gaittrack.compare.intervals.verdict import (
    CHANGE_IN_THESE_WALKS,
    LARGER,
    NO_ERROR_FIGURE,
    NOT_COMPARABLE,
    NOT_SHOWN,
    Verdict,
)
from gaittrack.compare.measurement_error.placement import UNTOUCHED
from gaittrack.reasons import Reason
from gaittrack.record.checking import repeats_of
from gaittrack.record.closed_lists import OTHER
from gaittrack.record.published_errors import OUTCOMES, OutcomeLine, PublishedError
from gaittrack.record.registry import CONDITION, FACTS, Fact
from gaittrack.record.wording import NOT_RECORDED

OF_CONDITION: Final = tuple(CONDITION[name] for name in OUTCOMES if name in CONDITION)
OF_VISIT: Final = tuple(FACTS["visit"][name] for name in OUTCOMES if name not in CONDITION)
"""Outcomes that are told of what was worn, and of a visit."""
_UNFAIR: Final = {
    "barefoot_against_shoe": "other_shoes",
    "footwear_not_recorded": "shoes_not_known_in_both",
    "walking_aid_differs": "other_aid",
    "walking_aid_not_recorded": "aid_not_known_in_both",
    "hand_support_differs": "other_support",
}
"""Code of a note on fairness to that of why no difference may be told."""
_SHOE_DIFFERS: Final = "footwear_differs"
_OF_LISTS: Final = ("footwear", "walking_aid")
_INSIDE_THE_SHOE: Final = ("insole", "foot_orthosis")
_STARTS: Final = ("walk_10m_comfortable_s", "walk_10m_fast_s")
_95_PERCENT: Final = 1.96
NOTHING_WORN: Final = Condition("another condition")
"""Stands for what a single condition of a visit is not compared with."""


@dataclass(frozen=True, slots=True)
class Told:
    """What was recorded of one outcome in one condition.

    Attributes
    ----------
    condition : str
        Its name.
    repeats : tuple of float
        As they were recorded, in the unit of the fact.
    answer : str
        Why there are none; empty with repeats.
    values : tuple of float
        The repeats in the unit of the outcome.
    """

    condition: str
    repeats: tuple[float, ...]
    answer: str
    values: tuple[float, ...]

    @property
    def value(self) -> float:
        """Mean of the repeats; NaN without any."""
        return sum(self.values) / len(self.values) if self.values else math.nan


@dataclass(frozen=True, slots=True)
class Outcome:
    """One outcome in a condition and in the reference.

    Attributes
    ----------
    unit : str
        Of values, difference, interval and error.
    difference : float
        Condition minus reference; NaN where none may be told.
    low, high : float
        95 % interval of the difference by the repeats; NaN with fewer than two in one of them.
    error : float
        Smallest difference that exceeds measurement error; NaN where none is known.
    error_source : Reason or None
        Of whom and from where.
    p, adjusted_p : float
        By error and repeats, and adjusted for all outcomes of the pair; NaN when not judged.
    """

    fact: Fact
    unit: str
    decimals: int
    own: Told
    reference: Told
    difference: float = math.nan
    low: float = math.nan
    high: float = math.nan
    error: float = math.nan
    error_source: Reason | None = None
    p: float = math.nan
    adjusted_p: float = math.nan
    verdict: Verdict = field(default_factory=lambda: Verdict(NOT_COMPARABLE))

    @property
    def known(self) -> tuple[Told, ...]:
        """What was recorded: of the reference and the condition, or of one of them."""
        return tuple(each for each in (self.reference, self.own) if each.answer != NOT_RECORDED)

    @property
    def is_of_both(self) -> bool:
        """Whether something was recorded in both."""
        return len(self.known) > 1


def outcomes(comparison: Comparison) -> list[Outcome]:
    """Return the outcomes of each condition of a comparison against its reference."""
    settings = comparison.settings
    worn = {name: Condition(name, **facts) for name, facts in settings["conditions"].items()}
    other_days = {n.condition for n in comparison.fairness if n.reason.code == "other_day"}
    reference = worn[settings["reference"]]
    return [
        each
        for name, own in worn.items()
        if own is not reference
        for each in outcomes_of_pair(
            own, reference, is_other_day=name in other_days, cause=settings.get("cause")
        )
    ]


def outcomes_of_pair(
    own: Condition, reference: Condition, *, is_other_day: bool = False, cause: object = None
) -> list[Outcome]:
    """Return the outcomes that were recorded in at least one of two conditions.

    Parameters
    ----------
    cause : str or None
        Of the person: whose published error counts first.
    """
    unfair = Reason("on_other_day") if is_other_day else _why_unfair(own, reference)
    recorded = {
        fact.name: _recorded(fact, own, reference, unfair)
        for fact in OF_CONDITION
        if fact.name in own.facts or fact.name in reference.facts
    }
    drafts = recorded | _compared(recorded, cause)
    adjusted = adjust({name: each.p for name, each in drafts.items()})
    return [_judged(replace(each, adjusted_p=adjusted[name])) for name, each in drafts.items()]


def counted_outcomes(facts: Mapping[str, Any]) -> list[tuple[Fact, str]]:
    """Return the outcomes of a visit that were recorded, each in words."""
    told = []
    for fact in (each for each in OF_VISIT if facts.get(each.name) is not None):
        said = f"{facts[fact.name]:g}"
        if fact.name == "questionnaire_total":
            low, high = facts.get("questionnaire_low"), facts.get("questionnaire_high")
            said += f" of {low:g} to {high:g}" if None not in (low, high) else ""
            said = ": ".join(filter(None, (facts.get("questionnaire_name"), said)))
        told.append((fact, said))
    return told


def _why_unfair(own: Condition, reference: Condition) -> Reason | None:
    """Return what was not the same, or is not known to be: shoe, aid or a hand; None for nothing.

    What lies inside the shoe may differ: that is what is tried.
    """
    groups = [Group(worn.name, (), _listed(worn)) for worn in (own, reference)]
    for note in worn_notes(*groups):
        if note.reason.code in _UNFAIR:
            return Reason(_UNFAIR[note.reason.code])
        if _is_other_shoe(note.reason):
            return Reason("other_shoes")
    return None


def _listed(worn: Condition) -> Condition:
    """Return a condition without shoes or an aid of no list: two of these may be two things."""
    kept = {n: v for n, v in worn.facts.items() if n not in _OF_LISTS or v != OTHER}
    return Condition(worn.name, **kept)


def _is_other_shoe(reason: Reason) -> bool:
    if reason.code != _SHOE_DIFFERS:
        return False
    fields = reason["fields"] if isinstance(reason["fields"], tuple) else (reason["fields"],)
    return any(each.code != "named" or each["name"] not in _INSIDE_THE_SHOE for each in fields)


def _told(fact: Fact, line: OutcomeLine, worn: Condition) -> Told:
    found = worn.facts.get(fact.name)
    repeats = repeats_of(found) if fact.kind == "repeats" else () if found is None else (found,)
    answer = "" if repeats else str(found or NOT_RECORDED)
    values = tuple(line.over_m / each for each in repeats) if line.over_m else repeats
    return Told(worn.name, repeats, answer, values)


def _recorded(fact: Fact, own: Condition, reference: Condition, unfair: Reason | None) -> Outcome:
    """Return an outcome as recorded; not comparable with a reason where something forbids it."""
    line = OUTCOMES[fact.name]
    here, before = (_told(fact, line, worn) for worn in (own, reference))
    unit = line.unit or fact.unit.removeprefix("1")
    found = Outcome(fact, unit, line.decimals, here, before)
    if obstacle := _obstacle(fact, own, reference, (before, here)) or unfair:
        return replace(found, verdict=Verdict(NOT_COMPARABLE, obstacle))
    return found


def _compared(recorded: Mapping[str, Outcome], cause: object) -> dict[str, Outcome]:
    """Return those that can be compared with their differences, all intervals at once."""
    found = {name: each for name, each in recorded.items() if each.verdict.reason is None}
    cases = [
        (np.array(each.own.values, float), np.array(each.reference.values, float), UNTOUCHED)
        for each in found.values()
    ]
    return {
        name: _drafted(each, sure, cause)
        for (name, each), sure in zip(found.items(), certainties(cases), strict=True)
    }


def _drafted(found: Outcome, sure: Certainty, cause: object) -> Outcome:
    """Return an outcome with its difference, still without a verdict."""
    here, before = found.own, found.reference
    published = OUTCOMES[found.fact.name].error_for(cause, here.value, before.value)
    error = math.nan if published is None else published.of_values(here.value, before.value)
    by_error = _p(sure.difference, error)
    return replace(
        found,
        difference=sure.difference,
        low=sure.walks[0],
        high=sure.walks[1],
        error=error,
        error_source=_source(published, cause),
        p=by_error if math.isnan(sure.p) else max(by_error, sure.p),
        verdict=Verdict(NO_ERROR_FIGURE),
    )


def _obstacle(
    fact: Fact, own: Condition, reference: Condition, told: Sequence[Told]
) -> Reason | None:
    for each in (each for each in told if each.answer):
        answer = Reason("answered", answer=each.answer)
        return Reason("in_condition", condition=each.condition, reason=answer)
    if fact.name in _STARTS and own.walk_10m_start != reference.walk_10m_start:
        return Reason("start_of_walk_differs")
    return None


def _p(difference: float, error: float) -> float:
    """Return how rare so large a difference is where nothing changed, by the published error.

    Such an error is the bound that 95 % of differences between two tests keep to.
    """
    if math.isnan(error):
        return math.nan
    return math.erfc(_95_PERCENT * abs(difference) / error / math.sqrt(2))


def _source(error: PublishedError | None, cause: object) -> Reason | None:
    if error is None:
        return None
    told = Reason("outcome_error", people=error.people, source=error.source)
    return told if error.is_of(cause) else Reason("outcome_error_of_others", source=told)


def _judged(outcome: Outcome) -> Outcome:
    """Return an outcome with its verdict, by the rule of measures.

    Where there are no repeats, the published error is all that is known of how they scatter.
    """
    if math.isnan(outcome.error):
        return outcome
    has_repeats = not math.isnan(outcome.low)
    evidence = Evidence(
        difference=outcome.difference,
        walks_half=(outcome.high - outcome.low) / 2 if has_repeats else outcome.error,
        error=outcome.error,
        is_error_inside=False,
        adjusted_p=outcome.adjusted_p,
    )
    code = decide(evidence)
    direction = ""
    reason = None
    if code == LARGER:
        direction = "higher" if outcome.difference > 0 else "lower"
    elif code == CHANGE_IN_THESE_WALKS:
        is_past = abs(outcome.difference) >= outcome.error and outcome.p <= ALPHA
        reason = Reason("one_of_many_questions" if is_past else "size_of_error")
    elif code == NOT_SHOWN:
        reason = Reason("interval_too_wide" if has_repeats else "within_error_of_one_try")
    return replace(outcome, verdict=Verdict(code, reason, direction))

"""The effect of a condition with what else may go with it: speed, order, visit, days, start, group.

In come a :class:`CohortView` and an answer, out come effects with their intervals, each with the
change that goes with one unit of each of its terms. What was simulated is shown, nothing else
(``coverage.py``).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd

from gaittrack.cohort.asking.answering import CohortAnswer
from gaittrack.cohort.asking.view import CohortView
from gaittrack.cohort.inference.coverage import Method, why_not_shown
from gaittrack.cohort.inference.mixed_model import MixedEffect, mixed_effect, no_model
from gaittrack.cohort.inference.statistics import NO_PAIR
from gaittrack.compare.measurement_error.marker_errors import SPEED_MEASURE
from gaittrack.reasons import Reason

LEAST_IN_GROUP: Final = 2
"""Fewest people of each group; as simulated."""
SUBGROUPS: Final = ("sex", "cause", "affected_side", "age_band", "brace_classes")
"""Columns of the table ``people`` whose groups may differ in the effect."""
_METHODS: Final[dict[str, tuple[Method, ...]]] = {
    "difference_in_speed": ("by_visit",),
    "walked_first": ("by_group",),
    "further_visit": ("by_visit",),
    "hundred_days": ("by_visit",),
    "value_in_reference": ("by_visit", "by_person"),
}
ORDER_AND_VISIT, TOGETHER, SEQUENCE = "order_and_visit", "together", "sequence"
"""Two terms; all that can be told; and no effect but the mean of both conditions, by order."""
_TOGETHER: Final = ("difference_in_speed", "walked_first", "further_visit", "value_in_reference")
_TWO: Final = 2
"""Of two groups one against the other says all; fewer terms are none together."""
_PER_PERSON: Final = ("walked_first", "of_group")


@dataclass(frozen=True, slots=True)
class Adjusted:
    """One effect.

    Attributes
    ----------
    term : str
        Code of what is held; empty for none.
    group : str
        Where the term is a group of people: which; the effect of it is against all others.
    left_out : tuple of str
        Of several terms those that cannot be told.
    """

    term: str
    effect: MixedEffect
    group: str = ""
    left_out: tuple[str, ...] = ()


def adjusted_effects(view: CohortView, answer: CohortAnswer) -> list[Adjusted]:
    """Return the effect of all chosen visits, alone, with each term, and with several at once."""
    means = _differences(view, answer)
    terms = [name for name in _METHODS if name != "difference_in_speed" or not _is_speed(answer)]
    alone = [Adjusted(term, _fitted(means, [term], *_METHODS[term])) for term in terms]
    both = _fitted(means, ["walked_first", "further_visit"], "by_two")
    return [
        Adjusted("", _fitted(means, [], "model")),
        *alone,
        Adjusted(ORDER_AND_VISIT, both),
        _together(means, [name for name in _TOGETHER if name in terms]),
        Adjusted(SEQUENCE, _sequence(means)),
    ]


def _together(means: pd.DataFrame, terms: Sequence[str]) -> Adjusted:
    """Return the effect with all terms that are known and not the same everywhere."""
    told = [name for name in terms if means[name].nunique() > 1]
    left_out = tuple(name for name in terms if name not in told)
    if len(told) < _TWO:
        nothing = no_model(len(means), len(means), Reason("no_several_terms"))
        return Adjusted(TOGETHER, nothing, left_out=left_out)
    return Adjusted(TOGETHER, _fitted(means, told, "by_four"), left_out=left_out)


def _sequence(means: pd.DataFrame) -> MixedEffect:
    """Return how the mean of both conditions differs by which was walked first.

    Source
    ------
    Grizzle 1965, Biometrics 21:467: what the first condition leaves behind for the second shows
    there; between people, so that it is told weakly.
    """
    level = means["reference_value"] + means["difference"] / 2
    return _fitted(means.assign(difference=level), ["walked_first"], "by_group")


def subgroup_effects(view: CohortView, answer: CohortAnswer) -> list[Adjusted]:
    """Return of each group of people how its effect differs from that of all others."""
    means = _differences(view, answer)
    people = view.people.set_index("person")
    found = []
    for column in SUBGROUPS:
        words = people[column].reindex(means.index.get_level_values("person")).to_numpy(dtype=str)
        levels = sorted(set(words))
        for word in levels[:1] if len(levels) == _TWO else levels if len(levels) > _TWO else ():
            own = means.assign(of_group=(words == word).astype(float))
            own["of_group"] -= own["of_group"].mean()
            effect = _fitted(own, ["of_group"], "by_group")
            found.append(Adjusted("of_group", effect, f"{column.replace('_', ' ')}: {word}"))
    return found


def _is_speed(answer: CohortAnswer) -> bool:
    return answer.question.measure == SPEED_MEASURE


def _fitted(means: pd.DataFrame, terms: list[str], *methods: Method) -> MixedEffect:
    """Fit the model with terms; no number where its interval was not seen to cover."""
    own = means.dropna(subset=terms)
    people = own.index.get_level_values("person").to_numpy(dtype=str)
    n_people = len(set(people))
    if terms and not n_people:
        unknown = next((name for name in terms if means[name].isna().all()), None)
        told = unknown and Reason("term_not_recorded", term=Reason(unknown))
        return no_model(0, 0, told or Reason("terms_of_nobody"))
    for term in set(terms) & set(_PER_PERSON):
        if _smallest_group(own, term, people) < LEAST_IN_GROUP:
            return no_model(len(own), n_people, Reason("too_few_in_group", least=LEAST_IN_GROUP))
    given = {name: own[name].to_numpy(dtype=float) for name in terms}
    found = mixed_effect(own["difference"].to_numpy(dtype=float), people, terms=given)
    why = next(filter(None, (why_not_shown(method, people) for method in methods)), None)
    return found if why is None or found.reason else no_model(len(own), n_people, why)


def _smallest_group(own: pd.DataFrame, term: str, people: np.ndarray[Any, Any]) -> int:
    n_each = pd.Series(people).groupby(own[term].to_numpy()).nunique()
    return int(n_each.min()) if len(n_each) > 1 else 0


def _differences(view: CohortView, answer: CohortAnswer) -> pd.DataFrame:
    """Return one difference per person and visit with its terms; NaN where not known."""
    changes = answer.changes[~answer.changes["verdict"].isin(NO_PAIR)]
    columns = ["difference", "reference_value"]
    means = changes.groupby(["person", "visit_no"])[columns].mean().astype(float)
    places = list(means.index)
    visits = view.source.visits.assign(visit_no=view.source.visits["visit"].astype(int))
    days = visits.set_index(["person", "visit_no"])["days_since_first_visit"]
    means["difference_in_speed"] = _faster(view, answer).reindex(means.index)
    means["walked_first"] = list(_walked_first(view, answer, places))
    means["further_visit"] = [float(visit - 1) for _, visit in places]
    means["hundred_days"] = days.reindex(means.index).astype(float) / 100
    start = means["reference_value"]
    means["value_in_reference"] = start - start.mean()
    return means


def _faster(view: CohortView, answer: CohortAnswer) -> pd.Series:
    """Return how much faster the condition was walked, per person and visit."""
    speeds = view.changes_of(SPEED_MEASURE)
    condition, reference = answer.question.pair
    fits = (speeds["condition_code"] == condition) & (speeds["reference_code"] == reference)
    own = speeds[fits].groupby(["person", "visit_no"])[["value", "reference_value"]].mean()
    found: pd.Series = (own["value"] - own["reference_value"]).astype(float)
    return found


def _walked_first(
    view: CohortView, answer: CohortAnswer, places: list[tuple[str, int]]
) -> Iterator[float]:
    """Yield a half where the condition was walked before the reference, minus a half after it."""
    known = view.source.conditions
    for person, visit in places:
        worn = [known.get((person, str(visit), code)) for code in answer.question.pair]
        facts: list[Any] = [None if each is None else each.facts.get("order") for each in worn]
        here, reference = (math.nan if each is None else float(each) for each in facts)
        yield 0.5 if here < reference else -0.5 if here > reference else math.nan

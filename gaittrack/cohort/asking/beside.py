"""All that stands beside the mean of a cohort: effects, groups, shares, outcomes, missing, power.

In come a :class:`CohortView` and an answer, out comes a :class:`Beside`, made when it is asked for.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from scipy import stats

from gaittrack.cohort.asking.answering import HIGHER, LOWER, CohortAnswer
from gaittrack.cohort.asking.declared import (
    Declaration,
    OutcomeResult,
    declaration_of,
    declared_results,
)
from gaittrack.cohort.asking.missing import Missing, missing_of
from gaittrack.cohort.asking.terms import Adjusted, adjusted_effects, subgroup_effects
from gaittrack.cohort.asking.view import CohortView
from gaittrack.cohort.inference.mixed_model import LEVEL
from gaittrack.cohort.inference.power import people_needed, scatter
from gaittrack.cohort.inference.ranks import RankEffect, rank_effect
from gaittrack.compare.walked.declared_outcomes import ImportantChange
from gaittrack.reasons import Reason
from gaittrack.trial import FloatArray


@dataclass(frozen=True, slots=True)
class PeopleShare:
    """How many people of those compared, with the 95 % interval of their share, between 0 and 1."""

    what: Reason
    n: int
    n_people: int
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Needed:
    """How many people show a mean change of that size.

    Attributes
    ----------
    at_80, at_90, at_80_wide : int or None
        With a power of 80 and 90 %; with 80 % where the scatter is the upper end of its interval.
    """

    what: Reason
    difference: float
    at_80: int | None
    at_90: int | None
    at_80_wide: int | None


@dataclass(frozen=True, slots=True)
class Beside:
    """What stands beside the mean.

    Attributes
    ----------
    scatter : (float, float, float)
        Standard deviation of changes between people, and its 95 % interval, in the unit of the
        measure.
    """

    ranks: RankEffect
    adjusted: tuple[Adjusted, ...]
    groups: tuple[Adjusted, ...]
    shares: tuple[PeopleShare, ...]
    declaration: Declaration
    outcomes: tuple[OutcomeResult, ...]
    missing: Missing
    scatter: tuple[float, float, float]
    needed: tuple[Needed, ...]


def beside(view: CohortView, answer: CohortAnswer) -> Beside:
    """Return all that stands beside the mean of an answer."""
    declaration = declaration_of(view.study)
    important = declaration.outcomes.important.get(answer.question.measure)
    own = answer.differences.to_numpy(dtype=float)
    spread = scatter(own)
    return Beside(
        rank_effect(own),
        tuple(adjusted_effects(view, answer)),
        tuple(subgroup_effects(view, answer)),
        tuple(_shares(answer, important)),
        declaration,
        tuple(declared_results(view, answer.question, declaration.outcomes)),
        missing_of(answer),
        spread,
        tuple(_needed(answer, important, spread)),
    )


def share_interval(n: int, n_people: int) -> tuple[float, float]:
    """Return the 95 % interval of a share, between 0 and 1; NaN without people.

    Source
    ------
    Clopper & Pearson 1934, Biometrika 26:404: covers at least 95 % whatever the share.
    """
    if not n_people:
        return math.nan, math.nan
    found = stats.binomtest(n, n_people).proportion_ci(LEVEL, method="exact")
    return float(found.low), float(found.high)


def _shares(answer: CohortAnswer, important: ImportantChange | None) -> Iterator[PeopleShare]:
    counts = {
        Reason("past_error_higher"): answer.counts[HIGHER],
        Reason("past_error_lower"): answer.counts[LOWER],
    }
    if important is not None:
        own = answer.differences.to_numpy(dtype=float)
        size, whole = important.difference, _ends(answer, important.difference)
        past = Reason("past_important", difference=size, source=important.source)
        counts[past] = _n_past(own, size)
        counts[Reason("past_important_surely", difference=size)] = _n_past(whole, size)
    for what, n in counts.items():
        low, high = share_interval(n, answer.n_people)
        yield PeopleShare(what=what, n=n, n_people=answer.n_people, low=low, high=high)


def _n_past(values: FloatArray, limit: float) -> int:
    return int((values >= limit).sum() if limit > 0 else (values <= limit).sum())


def _ends(answer: CohortAnswer, limit: float) -> FloatArray:
    """Return of each person the end of the whole interval that is nearer to 0; of two legs too."""
    rows = answer.first[answer.first["person"].isin(answer.differences.index)]
    own = rows.groupby("person")
    ends = own["low"].min() if limit > 0 else own["high"].max()
    return ends.to_numpy(dtype=float)


def _needed(
    answer: CohortAnswer, important: ImportantChange | None, spread: tuple[float, float, float]
) -> Iterator[Needed]:
    errors = answer.first["measurement_error"].astype(float) if len(answer.first) else None
    sizes = {
        Reason("size_of_mean"): abs(answer.mean[0]),
        Reason("size_of_measurement_error"): math.nan if errors is None else float(errors.median()),
    }
    if important is not None:
        called = Reason("size_called_important", source=important.source)
        sizes[called] = abs(important.difference)
    sd, _, widest = spread
    for what, size in sizes.items():
        if size > 0 and sd > 0:
            yield Needed(
                what=what,
                difference=size,
                at_80=people_needed(size, sd),
                at_90=people_needed(size, sd, wanted=0.9),
                at_80_wide=people_needed(size, widest),
            )

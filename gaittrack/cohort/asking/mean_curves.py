"""The mean change of an angle along the cycle over people, and where it is not 0.

In come a study, the answer to a question and a joint, out comes the mean of one change curve per
person with a simultaneous band: of each person the mean of the walks in the condition less that in
the reference, at the visit the answer takes, on the sides it takes.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from gaittrack.cohort.asking.answering import CohortAnswer
from gaittrack.cohort.people.deidentify import closed
from gaittrack.cohort.people.from_study import cohort_source
from gaittrack.cohort.people.source import CohortWalk, PlaceKey
from gaittrack.cohort.people.tracking import Track, untracked
from gaittrack.cohort.tables.table import walks_by_place
from gaittrack.compare.comparison import compare_curves
from gaittrack.compare.intervals.curve_bands import (
    LEAST_WALKS_FOR_BAND,
    Band,
    mean_band,
    stretches_beyond,
)
from gaittrack.reasons import Reason
from gaittrack.study.store import Study
from gaittrack.trial import FloatArray
from gaittrack.vocabulary import Joint

_AT_ONCE: Final = 10
"""People whose walks are held at once; own choice."""


@dataclass(frozen=True, eq=False, slots=True)
class CohortCurve:
    """The mean change of an angle over people.

    Attributes
    ----------
    band : Band
        Degrees over 0–100 % of the cycle; its walks are people here.
    stretches : tuple of (float, float)
        Where the band leaves out 0: starts and ends in per cent of the cycle.
    people, left_out : tuple of str
        Whose curves are in it, and who has none that may be compared.
    """

    joint: Joint
    band: Band
    stretches: tuple[tuple[float, float], ...]
    people: tuple[str, ...]
    left_out: tuple[str, ...]

    def say(self) -> Reason:
        """Return where the mean change is not 0, or why that is not told."""
        n = len(self.people)
        if n < LEAST_WALKS_FOR_BAND:
            return Reason("curve_of_too_few", n_people=n, least=LEAST_WALKS_FOR_BAND)
        if not self.stretches:
            return Reason("curve_nowhere", n_people=n)
        told = tuple(f"{first:.0f} to {last:.0f} %" for first, last in self.stretches)
        return Reason("curve_differs_at", n_people=n, where=told)


def cohort_curve(
    study: Study, answer: CohortAnswer, joint: Joint, track: Track = untracked
) -> CohortCurve:
    """Return the mean change of an angle in those who are asked about.

    Returns
    -------
    CohortCurve
        People whose curves have another origin or other points in the two conditions are left out.
    """
    steps = curve_changes(study, answer, joint)
    return curve_of(answer, joint, track("Reading curves", steps, n_curve_steps(answer)))


def n_curve_steps(answer: CohortAnswer) -> int:
    """Return how many steps :func:`curve_changes` takes."""
    return -(-len(_people(answer)) // _AT_ONCE)


def curve_changes(
    study: Study, answer: CohortAnswer, joint: Joint
) -> Iterator[dict[str, FloatArray]]:
    """Yield the mean change curve of people, some at a time: walks of all are not held at once."""
    pair, wanted = answer.question.pair, _people(answer)
    places = answer.first[["person", "visit_no", "side"]].drop_duplicates()
    for start in range(0, len(wanted), _AT_ONCE):
        some = wanted[start : start + _AT_ONCE]
        source = closed(cohort_source(study, people=some), {code: code for code in some})
        walks = walks_by_place(source)
        found: dict[str, list[FloatArray]] = {}
        own = places[places["person"].isin(some)]
        for person, visit, side in own.itertuples(index=False, name=None):
            changes = _change(walks, (person, str(visit)), side, pair, joint)
            found.setdefault(person, []).extend(changes)
        yield {person: np.mean(curves, axis=0) for person, curves in found.items() if curves}


def curve_of(
    answer: CohortAnswer, joint: Joint, changes: Iterable[dict[str, FloatArray]]
) -> CohortCurve:
    """Return the mean of the changes that :func:`curve_changes` yields."""
    means: dict[str, FloatArray] = {}
    for some in changes:
        means |= some
    left_out = tuple(person for person in _people(answer) if person not in means)
    band = mean_band(np.array([*means.values()]) if means else np.full((1, 101), math.nan))
    return CohortCurve(joint, band, where_not_0(band), tuple(means), left_out)


def where_not_0(band: Band) -> tuple[tuple[float, float], ...]:
    """Return the stretches where a band lies above 0 or below, each of one sign."""
    return tuple(sorted((*stretches_beyond(band.low > 0), *stretches_beyond(band.high < 0))))


def _people(answer: CohortAnswer) -> list[str]:
    return [str(code) for code in answer.first["person"].unique()] if len(answer.first) else []


def _change(
    walks: dict[PlaceKey, list[CohortWalk]],
    visit: tuple[str, str],
    side: str,
    pair: tuple[str, str],
    joint: Joint,
) -> Iterator[FloatArray]:
    """Yield the change of a side's mean curve; nothing where the two may not be compared."""
    condition, reference = pair
    records = [each.record for code in pair for each in walks.get((*visit, code), ())]
    if len({each.condition for each in records}) < len(pair):
        return
    for found in compare_curves(records, reference=reference, joints=[joint]):
        where = found.locations.get(condition)
        if found.side == side and where is not None and where.is_comparable:
            yield found.bands[condition].mean - found.bands[reference].mean

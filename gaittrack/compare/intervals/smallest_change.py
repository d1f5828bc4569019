"""How small a change some number of walks can show, question by question, before they are walked.

In comes how much the walks of a laboratory scatter, out comes the smallest difference that would be
called larger than measurement error: by the interval, the errors and the sharing of the error that
judge every comparison (``certainty``, ``marker_errors``, ``holm``), with the scatter as it is on
average.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from gaittrack.compare.intervals.certainty import ALPHA, half_width
from gaittrack.compare.intervals.holm import share_out
from gaittrack.compare.measurement_error.marker_errors import (
    Handling,
    MeasurementError,
    OwnErrors,
    find_error,
    find_handling,
)
from gaittrack.compare.walked.questions import QUESTIONS, Question, QuestionCode
from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.trial import FloatArray
from gaittrack.vocabulary import SIDES

WALKS: Final = (3, 5, 8)
"""Walks in each of both conditions."""
LEFT_ON: Final = find_handling((), is_other_day=False)
PUT_ON_AGAIN: Final = find_handling(("foot", "shank"), is_other_day=False, is_same_tester=True)
"""A brace comes between: the markers of foot and shank are put on again, the same day."""
LEAST_DEGREES: Final = 10
"""Of a laboratory's own scatter; with 10 it is known to about a quarter. Own choice."""
_PUBLISHED_DEG: Final = 2.5
"""Of joint angles, from walk to walk: 0.7 to 2.5 deg in 5 young adults whose marker sites were
drawn on the skin, jpmrs 2013; here its upper end."""


@dataclass(frozen=True, slots=True)
class FromWalkToWalk:
    """How walks of one condition differ.

    Attributes
    ----------
    sd : float
        From walk to walk, in the unit of the measure.
    degrees : int
        Of freedom; 0 for a published figure.
    mean : float
        Of the walks; NaN where not known. Some errors are a share of it.
    """

    sd: float
    degrees: int
    mean: float = math.nan

    @property
    def is_own(self) -> bool:
        """Whether it is of the laboratory's own walks."""
        return self.degrees > 0


@dataclass(frozen=True, slots=True)
class ShownChange:
    """What walks can show of one mark of a question.

    Attributes
    ----------
    scatter : FromWalkToWalk or None
        None where nothing is known of the measure yet: then there is no change either.
    error : MeasurementError or None
        What re-placed markers add, or what the change must reach besides.
    as_aim, without_aims : tuple of float
        By ``WALKS``: where the question is the only aim of the fitting, and where there is none.
    """

    question: QuestionCode
    measure: str
    scatter: FromWalkToWalk | None
    error: MeasurementError | None
    as_aim: tuple[float, ...] = ()
    without_aims: tuple[float, ...] = ()


def shown_changes(
    scatters: Mapping[str, FromWalkToWalk], handling: Handling, *, own: OwnErrors | None = None
) -> list[ShownChange]:
    """Return the smallest changes of each mark of the eight questions.

    Parameters
    ----------
    scatters : mapping of measure to FromWalkToWalk
        Of the laboratory; without ten degrees of freedom a published one is taken.
    own : mapping, optional
        The laboratory's own errors.
    """
    return [
        _shown(question, ladder, scatters, handling, own)
        for question in QUESTIONS
        for ladder in question.marks
    ]


def smallest_change(
    scatter: FromWalkToWalk, n_walks: int, error: MeasurementError, *, share: float
) -> float:
    """Return the smallest difference of two conditions that is called larger.

    Parameters
    ----------
    n_walks : int
        In each condition; at least 2.
    share : float
        Of the 5 % that the mark has, 0-1.
    """
    walks = _spread(scatter.sd, n_walks)
    half = float(half_width(walks, walks, error.placement, ALPHA * share))
    return half if error.is_inside else max(half, error.error)


def _spread(sd: float, n_walks: int) -> FloatArray:
    """Return walks that scatter by exactly this much."""
    steps = np.arange(n_walks, dtype=np.float64)
    return np.asarray((steps - steps.mean()) * (sd / steps.std(ddof=1)), dtype=np.float64)


def _shown(
    question: Question,
    ladder: tuple[str, ...],
    scatters: Mapping[str, FromWalkToWalk],
    handling: Handling,
    own: OwnErrors | None,
) -> ShownChange:
    found = ((measure, _scatter_of(measure, scatters)) for measure in ladder)
    known = [(measure, scatter) for measure, scatter in found if scatter is not None]
    known.sort(key=lambda each: not each[1].is_own)
    if not known:
        return ShownChange(question.code, ladder[0], None, None)
    measure, scatter = known[0]
    middle = 0.0 if math.isnan(scatter.mean) else scatter.mean
    error = find_error(measure, handling, (middle, middle), own=own)
    if math.isnan(error.error):
        return ShownChange(question.code, measure, scatter, None)
    of_aim, of_none = (
        tuple(smallest_change(scatter, n, error, share=share) for n in WALKS)
        for share in (_share(question, is_aim=True), _share(question, is_aim=False))
    )
    return ShownChange(question.code, measure, scatter, error, of_aim, of_none)


def _scatter_of(measure: str, scatters: Mapping[str, FromWalkToWalk]) -> FromWalkToWalk | None:
    own = scatters.get(measure)
    if own is not None and own.degrees >= LEAST_DEGREES:
        return own
    is_angle = MEASURE_BY_NAME[measure].unit == "deg"
    return FromWalkToWalk(_PUBLISHED_DEG, 0) if is_angle else None


def _share(question: Question, *, is_aim: bool) -> float:
    """Return the part of the error that one mark has while no other question is settled."""
    marks = list(_all_marks())
    mine = next(each for each in marks if each[0] == question.code)
    aims = {mine[:2]} if is_aim else set()
    return share_out(marks, aims, question_of=lambda mark: mark[:2])[mine]


def _all_marks() -> Iterator[tuple[QuestionCode, str, int]]:
    for question in QUESTIONS:
        for side in SIDES[:1] if question.is_of_both_legs else SIDES:
            for place in range(len(question.marks)):
                yield question.code, side, place

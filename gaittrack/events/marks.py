"""Whether the marks of a file can be those of the movement it holds.

In come the marks and what plates and markers show, out come the marks without repeats and a
verdict: they fit, their clock is off, or they lie where no foot comes down or leaves.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np

from gaittrack.errors import Problem
from gaittrack.reasons import Reason
from gaittrack.trial import Event
from gaittrack.vocabulary import EventKind, Side, opposite

REPEATED_S = 0.05
"""Marks of one foot and kind closer than this are one mark written twice; own choice."""
FITS_S = 0.1
"""A mark within this time of the same event as plates or markers show it fits; own choice: more
than markers err in very slow walking."""
FEWEST_MARKS = 4
"""Fewer marks than this beside seen events tell nothing; own choice."""
LEAST_SHARE = 0.5
"""Share of marks that fit, below which the marks as a whole do not; own choice."""
SHIFTED_S, SHIFTED_SHARE = 0.05, 0.8
"""After one shift of the clock this share of the marks lies this near; own choice."""
LARGEST_SHIFT_S = 2.0
"""Larger shifts are not looked for: more than a slow stride; own choice."""

_Group = tuple[Side, EventKind]
_WHERE = "marks of the file"
APART: Final = Reason("marks_apart")


@dataclass(frozen=True, slots=True)
class MarksFit:
    """How the marks go with the movement: ``fit``, ``clock`` (all shifted alike) or ``apart``."""

    verdict: Literal["fit", "clock", "apart"]
    problems: tuple[Problem, ...] = ()


def without_repeats(marks: Iterable[Event]) -> tuple[tuple[Event, ...], tuple[Problem, ...]]:
    """Return the marks in time order, those written twice once.

    Returns
    -------
    marks : tuple of Event
        The first of marks of one foot and kind within 50 ms.
    problems : tuple of Problem
        One when any was repeated.
    """
    kept: list[Event] = []
    last: dict[_Group, float] = {}
    repeated = 0
    for mark in sorted(marks, key=lambda event: event.time_s):
        group = (mark.side, mark.kind)
        if mark.time_s - last.get(group, -np.inf) < REPEATED_S:
            repeated += 1
            continue
        last[group] = mark.time_s
        kept.append(mark)
    if not repeated:
        return tuple(kept), ()
    return tuple(kept), (Problem("info", Reason("marks_repeated", n=repeated), _WHERE),)


def fit_of_marks(marks: Sequence[Event], seen: Sequence[Event]) -> MarksFit:
    """Tell whether marks can belong to the movement.

    Parameters
    ----------
    marks : sequence of Event
        Of the file, or given with it.
    seen : sequence of Event
        The same walk's events from plates and markers.

    Returns
    -------
    MarksFit
        ``fit`` also when too little was seen to tell, when only one foot's contacts or toe-offs
        are marked, or when sides are exchanged, which is told elsewhere.
    """
    late = _lateness(marks, seen, 0.0)
    groups = {(mark.side, mark.kind) for mark in marks}
    if len(late) < FEWEST_MARKS or len(groups) < 2:
        return MarksFit("fit")
    if _share_near(late) >= LEAST_SHARE or _share_near(_of_other_foot(marks, seen)) >= LEAST_SHARE:
        return MarksFit("fit")
    shift_s = _common_shift_s(marks, seen)
    if shift_s is None:
        return MarksFit("apart", (_apart_problem(len(late)),))
    return MarksFit("clock", (_clock_problem(shift_s),))


def _share_near(late: Sequence[float]) -> float:
    return float(np.mean(np.abs(late) <= FITS_S)) if len(late) else 0.0


def _of_other_foot(marks: Sequence[Event], seen: Sequence[Event]) -> list[float]:
    return _lateness([replace(mark, side=opposite(mark.side)) for mark in marks], seen, 0.0)


def _lateness(marks: Sequence[Event], seen: Sequence[Event], shift_s: float) -> list[float]:
    """Return mark minus nearest seen event of its foot and kind, for marks between seen ones."""
    times: dict[_Group, list[float]] = {}
    for event in seen:
        times.setdefault((event.side, event.kind), []).append(event.time_s)
    late = []
    for mark in marks:
        own = times.get((mark.side, mark.kind), [])
        time_s = mark.time_s + shift_s
        if own and min(own) - FITS_S <= time_s <= max(own) + FITS_S:
            late.append(min((time_s - each for each in own), key=abs))
    return late


def _common_shift_s(marks: Sequence[Event], seen: Sequence[Event]) -> float | None:
    """Return the smallest shift of the clock after which the marks fit; None when none does."""
    shifts = {
        round(event.time_s - mark.time_s, 2)
        for mark in marks
        for event in seen
        if (mark.side, mark.kind) == (event.side, event.kind)
    }
    for shift_s in sorted(shifts, key=abs):
        late = _lateness(marks, seen, shift_s)
        near = np.abs(late) <= SHIFTED_S
        enough = abs(shift_s) <= LARGEST_SHIFT_S and len(late) >= FEWEST_MARKS
        if enough and near.mean() >= SHIFTED_SHARE:
            return shift_s
    return None


def _clock_problem(shift_s: float) -> Problem:
    way = "late" if shift_s < 0 else "early"
    return Problem(
        "warning", Reason("marks_shifted", shift_s=round(abs(shift_s), 2), way=way), _WHERE
    )


def _apart_problem(count: int) -> Problem:
    return Problem(
        "warning", Reason("few_marks_fit", n=count, within_ms=round(1000 * FITS_S)), _WHERE
    )

"""What of a measured walk is not trusted, because a problem spoils what it was read from.

In come rows or cycles and the problems of all stages, out come the same without the numbers, or the
curves, that rest on what a problem names. The problem is the reason that stands in their place.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from contextlib import suppress
from dataclasses import replace
from typing import Final

from gaittrack.cycles import Cycle
from gaittrack.errors import Problem, Spoiled
from gaittrack.ingredients import EVERYTHING
from gaittrack.kinematics.motion import Motion
from gaittrack.measures import Row
from gaittrack.measures.cycle_view import CycleView
from gaittrack.measures.recording import NOT_TRUSTED, PreparedMotion
from gaittrack.measures.samples import NotDefined
from gaittrack.reasons import Reason
from gaittrack.vocabulary import Joint

DOUBTED: Final = "doubted"
"""Code of the label of a number that a problem may have moved."""
_SPEED: Final = "walking_speed_m_s"
_HEEL_SHARE: Final = "heel_contact_share_percent"


def without_spoiled(
    rows: Sequence[Row], problems: Iterable[Problem], cycles: Iterable[Cycle], *, rate_hz: float
) -> tuple[Row, ...]:
    """Take the numbers away that a problem spoils, the problem is the reason then; label doubts.

    Parameters
    ----------
    rows : sequence of Row
        From :func:`gaittrack.measures.measure_cycles`.
    problems : iterable of Problem
        Of all stages; the first that spoils a value is told.
    cycles : iterable of Cycle
        Those of the rows.
    """
    problems = tuple(problems)
    spoils = [(each, problem.reason) for problem in problems for each in problem.spoils]
    doubts = [(each, problem.reason) for problem in problems for each in problem.doubts]
    if not (spoils or doubts):
        return tuple(rows)
    own = {cycle.id: cycle for cycle in cycles}
    trusted = (_trusted(row, spoils, own[row.cycle], rate_hz) for row in rows)
    return tuple(_doubted(row, doubts, own[row.cycle], rate_hz) for row in trusted)


def trusted_cycles(cycles: Iterable[Cycle], rows: Iterable[Row]) -> tuple[Cycle, ...]:
    """Take speed and contact type from cycles in which the measure of them is not trusted."""
    spoiled = {
        (row.cycle, row.measure)
        for row in rows
        if row.reason is not None and row.reason.code == NOT_TRUSTED
    }
    if not spoiled:
        return tuple(cycles)
    return tuple(
        replace(
            cycle,
            speed_m_s=math.nan if (cycle.id, _SPEED) in spoiled else cycle.speed_m_s,
            contact="unknown" if (cycle.id, _HEEL_SHARE) in spoiled else cycle.contact,
        )
        for cycle in cycles
    )


def spoiled_curves(
    motion: Motion, problems: Iterable[Problem], cycles: Iterable[Cycle]
) -> frozenset[tuple[str, Joint]]:
    """Return the curves over the cycle that a problem spoils, by cycle and joint."""
    spoils = [each for problem in problems for each in problem.spoils]
    if not spoils:
        return frozenset()
    recording = PreparedMotion(motion)
    return frozenset(
        (cycle.id, joint)
        for cycle in cycles
        for joint in _spoiled_joints(CycleView(recording, cycle), spoils)
    )


def _spoiled_joints(view: CycleView, spoils: Iterable[Spoiled]) -> list[Joint]:
    cycle, rate_hz = view.cycle, view.motion.rate_hz
    touched = [each for each in spoils if _touches(each, cycle, rate_hz)]
    found = []
    for joint in cycle.percent_curves if touched else ():
        view.start_reading()
        with suppress(NotDefined):
            view.angle(joint)
        made_of, _ = view.what_was_read()
        if any(_is_spoiled(made_of, each) for each in touched):
            found.append(joint)
    return found


def _trusted(
    row: Row, spoils: Sequence[tuple[Spoiled, Reason]], cycle: Cycle, rate_hz: float
) -> Row:
    if row.reason is not None:
        return row
    for spoiled, why in spoils:
        if _is_spoiled(row.made_of, spoiled) and _touches(spoiled, cycle, rate_hz):
            reason = Reason(NOT_TRUSTED, why=why)
            return row._replace(value=math.nan, reason=reason, labels=(), origins=frozenset())
    return row


def _doubted(
    row: Row, doubts: Sequence[tuple[Spoiled, Reason]], cycle: Cycle, rate_hz: float
) -> Row:
    """Label a number with each problem that may have moved it."""
    if row.reason is not None:
        return row
    told = dict.fromkeys(
        Reason(DOUBTED, why=why)
        for doubt, why in doubts
        if _is_spoiled(row.made_of, doubt) and _touches(doubt, cycle, rate_hz)
    )
    return row._replace(labels=(*row.labels, *told)) if told else row


def _is_spoiled(made_of: frozenset[str], spoiled: Spoiled) -> bool:
    return EVERYTHING in spoiled.ingredients or not made_of.isdisjoint(spoiled.ingredients)


def _touches(spoiled: Spoiled, cycle: Cycle, rate_hz: float) -> bool:
    if spoiled.cycles is not None and cycle.id not in spoiled.cycles:
        return False
    if spoiled.frames is None:
        return True
    first, last = spoiled.frames
    return cycle.start_s * rate_hz <= last and cycle.end_s * rate_hz >= first

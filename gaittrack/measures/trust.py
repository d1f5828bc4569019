"""What of a measured walk is not trusted, because a problem spoils what it was read from.

In come rows or cycles and the problems of all stages, out come the same without the numbers, or the
curves, that rest on what a problem names. The problem is the reason that stands in their place.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import replace
from itertools import chain
from typing import Final

from gaittrack.cycles import Cycle
from gaittrack.errors import Problem, Spoiled
from gaittrack.ingredients import EVERYTHING
from gaittrack.kinematics.motion import Motion
from gaittrack.measures import Row
from gaittrack.measures.cycles_view import CyclesView, alike
from gaittrack.measures.reading import NotDefined
from gaittrack.measures.recording import NOT_TRUSTED, PreparedMotion
from gaittrack.measures.told_labels import DOUBTED, gathered
from gaittrack.reasons import Reason
from gaittrack.vocabulary import Joint

_Told = Sequence[tuple[Spoiled, Reason]]
"""What problems meet, each with its reason."""
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
    kinds = {row.made_of for row in rows}
    spoiling, doubting = _by_kind(spoils, kinds), _by_kind(doubts, kinds)
    found = []
    for row in rows:
        cycle = own[row.cycle]
        row = _trusted(row, spoiling[row.made_of], cycle, rate_hz)
        found.append(_doubted(row, doubting[row.made_of], cycle, rate_hz))
    return tuple(found)


def _by_kind(told: _Told, kinds: Iterable[frozenset[str]]) -> dict[frozenset[str], _Told]:
    """Return, by what values are made of, which problems meet them."""
    return {kind: [each for each in told if _is_spoiled(kind, each[0])] for kind in kinds}


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
    recording, all_cycles = PreparedMotion(motion), list(cycles)
    return frozenset(
        found
        for places in alike(recording, all_cycles)
        for view in [CyclesView(recording, [all_cycles[place] for place in places])]
        for found in _spoiled_of(view, spoils)
    )


def _spoiled_of(view: CyclesView, spoils: Iterable[Spoiled]) -> Iterator[tuple[str, Joint]]:
    joints = dict.fromkeys(joint for cycle in view.cycles for joint in cycle.percent_curves)
    made_of = {joint: _made_of_angle(view, joint) for joint in joints}
    kinds = set(chain.from_iterable(made_of.values()))
    for spoiled in spoils:
        met = {kind for kind in kinds if _is_spoiled(kind, spoiled)}
        for place, cycle in enumerate(view.cycles) if met else ():
            if _touches(spoiled, cycle, view.motion.rate_hz):
                own = cycle.percent_curves
                yield from ((cycle.id, joint) for joint in own if made_of[joint][place] in met)


def _made_of_angle(view: CyclesView, joint: Joint) -> list[frozenset[str]]:
    """Return what an angle of each cycle is made of."""
    view.start_reading()
    with suppress(NotDefined):
        view.angle(joint)
    return [names for names, _ in view.what_was_read()]


def _trusted(row: Row, spoils: _Told, cycle: Cycle, rate_hz: float) -> Row:
    if row.reason is not None:
        return row
    for spoiled, why in spoils:
        if _touches(spoiled, cycle, rate_hz):
            reason = Reason(NOT_TRUSTED, why=why)
            return row._replace(value=math.nan, reason=reason, labels=(), origins=frozenset())
    return row


def _doubted(row: Row, doubts: _Told, cycle: Cycle, rate_hz: float) -> Row:
    """Label a number with what may have moved it."""
    if row.reason is not None:
        return row
    told = gathered(
        Reason(DOUBTED, why=why) for doubt, why in doubts if _touches(doubt, cycle, rate_hz)
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

"""The foot's zero from a standing trial, and whether it can be that of the walk.

In comes a standing trial, out comes each foot's neutral and what speaks against it: the person
walks in it, or its zero is not that of the feet that lie flat in the walk.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from gaittrack.errors import MissingSignalError, Problem, Spoiled
from gaittrack.ingredients import zero_of
from gaittrack.kinematics.floor import seen_along, upright
from gaittrack.kinematics.foot_flat import standing_neutral
from gaittrack.kinematics.motion import FootNeutral
from gaittrack.kinematics.segments import SAME_SESSION_M, other_body
from gaittrack.kinematics.walker_points import WalkerPoints, walker_points
from gaittrack.lab_map import LabMap
from gaittrack.reasons import Reason
from gaittrack.trial import FloatArray, Trial
from gaittrack.vocabulary import SIDES, Side

OTHER_ZERO_DEG = 3.0
"""Difference of the zeros of standing and of foot-flat in the walk past which it is told: the error
of angles with markers left on, so that no other zero makes a change. Placing markers anew moves the
foot's slope by half a degree (1.4 mm on the foot, Telfer); other shoes or persons by several."""


STANDS_M = 0.03
"""How far a foot marker may move while a person stands; own choice: swaying moves them by some
millimetres, a step by decimetres."""


@dataclass(frozen=True, slots=True)
class StandingZero:
    """Each foot's neutral from a standing trial.

    Attributes
    ----------
    as_recorded, upright : mapping of side to FootNeutral
        Against the floor that the file's axes give, and against that of the walk. Both empty
        without a standing trial.
    slope_deg : float
        Slope of the walk's floor in the direction in which the person stands.
    problems : tuple of Problem
        One when the person walks in it, or moves the feet; one when the body is another.
    """

    as_recorded: Mapping[Side, FootNeutral]
    upright: Mapping[Side, FootNeutral]
    slope_deg: float = 0.0
    problems: tuple[Problem, ...] = ()


def zero_of_standing(standing: Trial | None, lab_map: LabMap, walk: WalkerPoints) -> StandingZero:
    """Take each foot's neutral from a standing trial.

    Raises
    ------
    MissingSignalError
        No foot stands still in it.
    """
    if standing is None:
        return StandingZero({}, {})
    name = standing.provenance.file_name
    points = _points_of(standing, lab_map)
    as_recorded = standing_neutral(points.slow, rate_hz=standing.rate_hz)
    if not as_recorded:
        raise MissingSignalError.of("standing_trial_shows_no_foot", where=name)
    floor = seen_along(walk.floor, walk.axes, points.axes)
    turned = upright(points.slow, floor, np.zeros(standing.n_frames))
    spoils = (Spoiled(*map(zero_of, as_recorded)),)
    return StandingZero(
        as_recorded,
        standing_neutral(turned, rate_hz=standing.rate_hz),
        math.degrees(math.atan(floor.rise[0])),
        tuple(Problem("warning", reason, name, spoils) for reason in _of_no_standing(points, walk)),
    )


def _points_of(standing: Trial, lab_map: LabMap) -> WalkerPoints:
    """Return the points of a standing trial; all walks that go with it share them."""
    kept = _looked_at(standing)
    for own_map, points in kept:
        if own_map == lab_map:
            return points
    points = walker_points(standing, lab_map)
    kept.append((lab_map, points))
    return points


@lru_cache(maxsize=2)
def _looked_at(_standing: Trial) -> list[tuple[LabMap, WalkerPoints]]:
    return []


def _of_no_standing(points: WalkerPoints, walk: WalkerPoints) -> Iterator[Reason]:
    """Give what speaks against a standing trial of the body that walks."""
    moved_m = max(map(_moved_m, _feet(points)), default=0.0)
    if points.axes.pass_number.any():
        yield Reason("walks_in_standing")
    elif moved_m > STANDS_M:
        yield Reason("moves_in_standing", by_mm=round(1000 * moved_m))
    apart = other_body(points.markers.segments_m, walk.markers.segments_m, SAME_SESSION_M)
    if apart:
        yield Reason("standing_of_another", lengths=apart)


def _feet(points: WalkerPoints) -> Iterator[FloatArray]:
    for side in SIDES:
        for name in ("heel", "forefoot"):
            if (key := f"{side}_{name}") in points.slow:
                yield points.slow[key]


def _moved_m(xyz: FloatArray) -> float:
    """Return how far a point moves: the diagonal of the box that it stays in."""
    seen = xyz[~np.isnan(xyz[:, 0])]
    return float(np.linalg.norm(np.ptp(seen, axis=0))) if len(seen) else 0.0


def choose_zero(
    stood: StandingZero, walked: Mapping[Side, FootNeutral]
) -> tuple[Mapping[Side, FootNeutral], bool]:
    """Choose between a tilted volume and a ramp by what the feet that lie flat in the walk show.

    Standing in the tilted volume tilts the feet as in the walk; standing beside a ramp does not.

    Parameters
    ----------
    walked : mapping of side to FootNeutral
        Of foot-flat in the walk, its floor turned level.

    Returns
    -------
    zeros : mapping of side to FootNeutral
        Those to take.
    is_tilted_volume : bool
        Whether the standing trial shows a tilt of the volume: the slopes agree better by half of
        the slope than those of a ramp would.
    """
    nearer_deg = [
        abs(stood.as_recorded[side].foot_pitch_deg - walked[side].foot_pitch_deg)
        - abs(stood.upright[side].foot_pitch_deg - walked[side].foot_pitch_deg)
        for side in stood.as_recorded
        if side in stood.upright and side in walked and walked[side].source != "none"
    ]
    nearer = sum(nearer_deg) / len(nearer_deg) if nearer_deg else 0.0
    clear = abs(stood.slope_deg) / 2
    zeros = stood.as_recorded if nearer < -clear else stood.upright
    return zeros, bool(clear and nearer > clear)


def other_zero_problems(
    walked: Mapping[Side, FootNeutral], *, standing: Mapping[Side, FootNeutral]
) -> list[Problem]:
    """Tell where foot-flat in the walk gives another zero than the standing trial.

    Parameters
    ----------
    walked, standing : mapping of side to FootNeutral
        Of foot-flat in the walk, and of the standing trial; empty without one.

    Returns
    -------
    list of Problem
        One per foot; none where the foot never lies flat in the walk.
    """
    apart = {
        side: walked[side].foot_pitch_deg - zero.foot_pitch_deg
        for side, zero in standing.items()
        if side in walked
    }
    return [
        Problem(
            "warning",
            Reason("other_zero", angle_deg=round(degrees, 1)),
            f"{side} foot",
            (Spoiled(zero_of(side)),),
        )
        for side, degrees in apart.items()
        if not math.isnan(degrees) and abs(degrees) > OTHER_ZERO_DEG
    ]

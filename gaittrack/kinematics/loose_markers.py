"""Markers that cannot sit on the bone they are named after.

In come landmark positions, out go the inner markers that drift away from their outer partner (a
swapped or wrongly named marker), gaps where markers jump, and a problem for each, for each shank
that changes its length, for feet named back to front and for left markers that lie on the right.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np

from gaittrack.errors import Problem, Spoiled
from gaittrack.ingredients import SIDEWAYS, events_of, leg_of
from gaittrack.kinematics.sagittal_angles import FORWARD, LEFT
from gaittrack.quick_numpy import known_of, lengths_of, median_of, quantiles_of
from gaittrack.reasons import Reason
from gaittrack.trial import BoolArray, FloatArray
from gaittrack.vocabulary import SIDES, Side

LOOSE_SHARE = 0.25
"""Spread (5th to 95th percentile) of the distance between the two markers of one joint, as a share
of its median, from which they are not on one bone; own choice: skin moves them by some millimetres
of a decimetre, a marker on the other leg passes by with every step."""
STRETCHED_SHARE = 0.2
"""The same for knee to ankle; own choice: skin at the knee moves by a few centimetres at most."""

JUMPED_SHARE = 0.3
JUMPED_M = 0.03
"""Change of the distance between two markers of one foot, or from knee to ankle, against its
median, past both of which a marker jumped or changed its name; own choice: toes that bend move a
toe marker by a centimetre or two."""
_RIGID = (
    (("ankle", "heel"), ()),
    (("ankle", "forefoot"), ()),
    (("heel", "forefoot"), ()),
    (("knee", "ankle"), ("heel", "forefoot")),
)
"""Pairs that keep their distance, and what else of the leg is not believed while they do not."""
_FOREFOOT = ("metatarsal_2", "toe", "metatarsal_5", "metatarsal_1")
TURNED_FOOT: Final = "turned_foot"
"""Code of the reason why nothing is taken from the heel and forefoot of such a foot."""
CROSSED_M = 0.03
"""How far the left markers must lie to the right to be told of; own choice."""
_PAIRED = ("asis", "psis", "hip", "knee", "ankle")


def find_loose_markers(
    points: Mapping[str, FloatArray],
) -> tuple[tuple[str, ...], tuple[Problem, ...]]:
    """Find inner knee and ankle markers that do not stay with the outer ones.

    Parameters
    ----------
    points : mapping of landmark to ndarray, shape (n_frames, 3)
        Metres.

    Returns
    -------
    loose : tuple of str
        Landmarks to leave out.
    problems : tuple of Problem
        One per landmark left out, and one per shank whose length changes.
    """
    loose: list[str] = []
    problems: list[Problem] = []
    for side in SIDES:
        for joint in ("knee", "ankle"):
            inner = f"{side}_{joint}_medial"
            share = _spread_share(points, f"{side}_{joint}", inner)
            if share > LOOSE_SHARE:
                loose.append(inner)
                problems.append(_loose_problem(inner, joint, share))
        share = _spread_share(points, f"{side}_knee", f"{side}_ankle")
        if share > STRETCHED_SHARE:
            problems.append(_stretched_problem(side, share))
    return tuple(loose), tuple(problems)


def hide_jumps(
    points: Mapping[str, FloatArray], rate_hz: float
) -> tuple[dict[str, FloatArray], tuple[Problem, ...]]:
    """Make gaps of samples in which a marker of shank or foot jumped, or changed its name.

    Parameters
    ----------
    points : mapping of landmark to ndarray, shape (n_frames, 3)
        Metres.
    rate_hz : float
        For the times in the problems.

    Returns
    -------
    points : dict
        The same, NaN in those samples.
    problems : tuple of Problem
        One per leg.
    """
    shown = dict(points)
    problems: list[Problem] = []
    for side in SIDES:
        names: dict[str, tuple[str, ...]] = {
            name: (f"{side}_{name}",) for name in ("knee", "ankle", "heel")
        }
        names["forefoot"] = tuple(f"{side}_{name}" for name in _FOREFOOT)
        hidden: dict[str, BoolArray] = {}
        for pair, others in _RIGID:
            for one in names[pair[0]]:
                for other in names[pair[1]]:
                    if one not in points or other not in points:
                        continue
                    jumped = _jumped(points[one], points[other])
                    whole = [one, other, *(name for key in others for name in names[key])]
                    for name in whole if jumped.any() else ():
                        hidden[name] = hidden.get(name, False) | jumped
        hidden = {name: frames for name, frames in hidden.items() if name in points}
        for name, frames in hidden.items():
            shown[name] = np.where(frames[:, None], np.nan, points[name])
        if hidden:
            problems.append(_jump_problem(side, hidden, rate_hz))
    return shown, tuple(problems)


def _jumped(one: FloatArray, other: FloatArray) -> BoolArray:
    """Tell the samples in which two markers of one bone are too near or too far apart.

    Where that holds for a tenth of the samples, the pair is not on one bone and tells nothing.
    """
    distance = lengths_of(one - other)
    nothing: BoolArray = np.zeros(len(distance), dtype=np.bool_)
    if not np.fmax.reduce(distance) - np.fmin.reduce(distance) > JUMPED_M:
        return nothing
    seen = known_of(distance)
    usual = median_of(seen)
    jumped: BoolArray = np.abs(distance - usual) > max(JUMPED_SHARE * usual, JUMPED_M)
    return jumped if jumped.sum() < 0.1 * len(seen) else nothing


def _jump_problem(side: Side, hidden: Mapping[str, BoolArray], rate_hz: float) -> Problem:
    frames = np.flatnonzero(np.logical_or.reduce(list(hidden.values())))
    return Problem(
        "warning",
        Reason(
            "markers_jump",
            n=len(frames),
            from_s=round(float(frames[0] / rate_hz), 2),
            to_s=round(float(frames[-1] / rate_hz), 2),
            side=side,
        ),
        ", ".join(sorted(hidden)),
    )


def find_turned_feet(points: Mapping[str, FloatArray]) -> tuple[Side, ...]:
    """Find feet whose heel lies ahead of the forefoot: their names are exchanged.

    Parameters
    ----------
    points : mapping of point to ndarray, shape (n_frames, 3)
        Forward, left, up, metres.
    """
    turned: list[Side] = []
    for side in SIDES:
        heel, forefoot = points.get(f"{side}_heel"), points.get(f"{side}_forefoot")
        if heel is None or forefoot is None:
            continue
        ahead = (forefoot - heel)[:, FORWARD]
        ahead = known_of(ahead)
        if ahead.size and median_of(ahead) < 0:
            turned.append(side)
    return tuple(turned)


def turned_problem(side: Side) -> Problem:
    """Return what to say of a foot that :func:`find_turned_feet` found."""
    points = (f"{side}_{name}" for name in ("heel", "forefoot", "toe_point"))
    spoils = (Spoiled(*points, events_of(side)),)
    return Problem("warning", Reason("foot_turned_round"), f"{side} foot", spoils)


def _spread_share(points: Mapping[str, FloatArray], one: str, other: str) -> float:
    if one not in points or other not in points:
        return 0.0
    distance = lengths_of(points[one] - points[other])
    distance = known_of(distance)
    if not len(distance):
        return 0.0
    low, middle, high = quantiles_of(distance, 0.05, 0.5, 0.95)
    return (high - low) / middle if middle > 0 else float("inf")


def _loose_problem(inner: str, joint: str, share: float) -> Problem:
    return Problem(
        "warning",
        Reason("loose_marker", joint=f"{joint}_joint", percent=round(100 * share, 0)),
        inner,
    )


def _stretched_problem(side: str, share: float) -> Problem:
    return Problem(
        "warning",
        Reason("stretched_shank", percent=round(100 * share, 0)),
        f"{side} shank",
        (Spoiled(f"{side}_knee_centre", f"{side}_ankle_centre"),),
    )


def find_crossed_sides(points: Mapping[str, FloatArray]) -> tuple[Problem, ...]:
    """Tell whether the left markers of pelvis and legs lie to the right of the right ones.

    Parameters
    ----------
    points : mapping of landmark to ndarray, shape (n_frames, 3)
        Forward, left, up in metres.

    Returns
    -------
    tuple of Problem
        Empty, or one.
    """
    apart = [
        median_of(across[~np.isnan(across)])
        for name in _PAIRED
        if f"left_{name}" in points and f"right_{name}" in points
        for across in [points[f"left_{name}"][:, LEFT] - points[f"right_{name}"][:, LEFT]]
        if not np.isnan(across).all()
    ]
    if not apart or median_of(np.array(apart)) > -CROSSED_M:
        return ()
    spoils = (Spoiled(SIDEWAYS, *map(leg_of, SIDES)),)
    return (Problem("warning", Reason("sides_crossed"), "sides", spoils),)

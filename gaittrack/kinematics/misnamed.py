"""Landmarks whose marker cannot be the one that is meant: names exchanged, the other leg's marker.

In come landmark positions, out go the landmarks to leave out, each with the reason: a marker that
does not keep its distance from the rest of its leg, and markers that lie where their bone is not.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import product

import numpy as np

from gaittrack.errors import Problem
from gaittrack.kinematics.sagittal_angles import FORWARD, LEFT, UP
from gaittrack.quick_numpy import known_of, lengths_of, median_of
from gaittrack.reasons import Reason
from gaittrack.trial import FloatArray
from gaittrack.vocabulary import SIDES, Side

BROKEN_SHARE, BROKEN_M = 0.3, 0.06
"""Spread (10th to 90th percentile) of the distance between two markers of a leg, as a share of its
median and in metres, past both of which they are not on one leg; own choice: in recorded walks the
spread stays below 0.2, a marker on the other leg spreads by half a metre."""
UNEVEN_M = {"asis": 0.06, "psis": 0.06, "hip": 0.08, "knee": 0.08}
"""Height difference of a left and right marker past which they are not a pair; own choice: unequal
legs differ by less."""
CROSSED_M = 0.03
"""How far a left marker of the pelvis must lie to the right; own choice."""
ORDER_M = 0.01
"""Margin of the order of markers along the foot; own choice, about the scatter of placing one."""
LEAST_RISE_M = 0.05
"""How far a knee lies above its ankle at least; own choice, far below any leg's length."""

_FRONTS = ("metatarsal_1", "metatarsal_2", "metatarsal_5", "toe")
_BONDS = (
    ("hip", "knee"),
    ("knee", "ankle"),
    ("knee", "heel"),
    ("ankle", "heel"),
    *product(("knee", "ankle", "heel"), _FRONTS),
)
_LEG = ("knee", "ankle", "heel", *_FRONTS)

Reasons = dict[str, Reason]


def names_off_their_leg(points: Mapping[str, FloatArray]) -> Reasons:
    """Find landmarks that do not keep their distance from the rest of their leg.

    Parameters
    ----------
    points : mapping of landmark to ndarray, shape (n_frames, 3)
        Metres, any axes.

    Returns
    -------
    dict of landmark to Reason
        Why it is left out. Where no single marker explains what is seen, the whole leg from the
        knee down is. What happens in less than a tenth of the frames is left to
        :func:`gaittrack.kinematics.loose_markers.hide_jumps`.
    """
    reasons: Reasons = {}
    for side in SIDES:
        bonds = [pair for pair in _BONDS if all(f"{side}_{name}" in points for name in pair)]
        spread = {
            pair: _spread_m(points[f"{side}_{pair[0]}"], points[f"{side}_{pair[1]}"])
            for pair in bonds
        }
        broken = {pair: metres for pair, metres in spread.items() if not np.isnan(metres)}
        for name in _explain(bonds, list(broken)):
            if f"{side}_{name}" in points:
                reasons[f"{side}_{name}"] = Reason(
                    "distances_change", side=side, by_m=round(max(broken.values()), 2)
                )
    return reasons


def _spread_m(one: FloatArray, other: FloatArray) -> float:
    """Return how much the distance of two markers spreads when that is too much, else NaN."""
    apart = one - other
    distance = np.sqrt(np.einsum("ij,ij->i", apart, apart))
    shortest, longest = float(np.fmin.reduce(distance)), float(np.fmax.reduce(distance))
    if not longest - shortest > max(BROKEN_M, BROKEN_SHARE * shortest):
        return float("nan")
    low, middle, high = np.nanquantile(distance, (0.1, 0.5, 0.9))
    is_broken = high - low > max(BROKEN_M, BROKEN_SHARE * middle)
    return float(high - low) if is_broken else float("nan")


def _explain(bonds: list[tuple[str, str]], broken: list[tuple[str, str]]) -> tuple[str, ...]:
    """Return the names that explain all broken bonds: one alone, or the leg below the hip.

    A knee that leaves its foot looks the same as a foot that leaves its knee.
    """
    if not broken:
        return ()
    alone = [name for name in broken[0] if all(name in pair for pair in broken)]
    share = {name: len(broken) / sum(name in pair for pair in bonds) for name in alone}
    worst = [name for name in alone if share[name] == max(share.values())]
    return _LEG if not worst or "knee" in worst else tuple(worst)


def names_out_of_place(points: Mapping[str, FloatArray]) -> Reasons:
    """Find landmarks that lie where their bone cannot be.

    Parameters
    ----------
    points : mapping of landmark to ndarray, shape (n_frames, 3)
        Forward, left, up in metres.

    Returns
    -------
    dict of landmark to Reason
        Why it is left out. A body that is turned or mirrored as a whole is told of elsewhere.
    """
    reasons = _of_pelvis(points)
    for name, limit_m in UNEVEN_M.items():
        reasons |= _uneven(points, name, limit_m)
    for side in SIDES:
        reasons |= _of_leg(points, side)
    return reasons


def _of_pelvis(points: Mapping[str, FloatArray]) -> Reasons:
    apart = {
        name: across for name in ("asis", "psis", "hip", "knee", "ankle")
        if not np.isnan(across := _middle(points, f"left_{name}", f"right_{name}", LEFT))
    }  # fmt: skip
    if apart and median_of(np.array(list(apart.values()))) < 0:
        return {}
    reasons = {
        f"{side}_{name}": Reason("other_side_of_pelvis")
        for name in ("asis", "psis", "hip")
        if apart.get(name, 0.0) < -CROSSED_M
        for side in SIDES
    }
    behind = [
        (f"{side}_asis", back)
        for side in SIDES
        for back in (f"{side}_psis", "sacrum")
        if _middle(points, f"{side}_asis", back, FORWARD) < -ORDER_M
    ]
    if behind and not _points_back(points, *SIDES):
        reason = Reason("pelvis_front_behind")
        reasons |= {key: reason for pair in behind for key in pair}
    return reasons


def _points_back(points: Mapping[str, FloatArray], *sides: Side) -> bool:
    """Whether feet point against the way, as in walking backwards; told of elsewhere."""
    ahead = [
        _middle(points, f"{side}_{front}", f"{side}_heel", FORWARD)
        for side in sides
        for front in _FRONTS
    ]
    known = [metres for metres in ahead if not np.isnan(metres)]
    return bool(known) and median_of(np.array(known)) < 0


def _uneven(points: Mapping[str, FloatArray], name: str, limit_m: float) -> Reasons:
    higher_m = abs(_middle(points, f"left_{name}", f"right_{name}", UP))
    if not higher_m > limit_m:
        return {}
    reason = Reason("uneven_pair", by_m=round(higher_m, 2))
    return {f"{side}_{name}": reason for side in SIDES}


def _of_leg(points: Mapping[str, FloatArray], side: Side) -> Reasons:
    reasons: Reasons = {}
    front, hip, knee, ankle, heel, toe, outer = (
        f"{side}_{name}" for name in ("asis", "hip", "knee", "ankle", "heel", "toe", "metatarsal_5")
    )
    if _middle(points, front, hip, UP) < 0:
        reason = Reason("pelvis_front_below_hip")
        reasons |= {front: reason, hip: reason}
    if _middle(points, knee, ankle, UP) < LEAST_RISE_M:
        reason = Reason("knee_not_above_ankle")
        reasons |= {knee: reason, ankle: reason}
    if _points_back(points, side):
        return reasons
    if _middle(points, ankle, heel, FORWARD) < -ORDER_M:
        reason = Reason("ankle_behind_heel")
        reasons |= {ankle: reason, heel: reason}
    if _toe_lead(points, toe, outer, heel) < -ORDER_M:
        reason = Reason("toe_behind_metatarsal")
        reasons |= {toe: reason, outer: reason}
    return reasons


def _middle(points: Mapping[str, FloatArray], one: str, other: str, axis: int) -> float:
    """Return the median of ``one`` minus ``other`` along an axis, NaN where not both are seen."""
    if one not in points or other not in points:
        return float("nan")
    apart = points[one][:, axis] - points[other][:, axis]
    return median_of(known_of(apart))


def _toe_lead(points: Mapping[str, FloatArray], toe: str, outer: str, heel: str) -> float:
    """Return how far the toe lies ahead of the fifth metatarsal along the foot, m.

    Along the line from the heel, so that a foot turned inward is no exchange.
    """
    if any(key not in points for key in (toe, outer, heel)):
        return float("nan")
    line = points[toe] - points[heel]
    lead = np.sum((points[toe] - points[outer]) * line, axis=1) / lengths_of(line)
    return median_of(known_of(lead))


def misnamed_problems(reasons: Mapping[str, Reason], labels: Mapping[str, str]) -> list[Problem]:
    """Return what to say of landmarks that are left out.

    Parameters
    ----------
    reasons : mapping of landmark to Reason
        From the functions above.
    labels : mapping of landmark to str
        The file's labels.

    Returns
    -------
    list of Problem
        One per reason.
    """
    together: dict[Reason, list[str]] = {}
    for key, reason in reasons.items():
        together.setdefault(reason, []).append(labels[key])
    return [
        Problem("warning", Reason("landmark_left_out", why=reason), ", ".join(names))
        for reason, names in together.items()
    ]

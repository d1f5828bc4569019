"""Markers that cannot sit on the bone they are named after.

In come landmark positions, out go the inner markers that drift away from their outer partner (a
swapped or wrongly named marker) and a problem for each, for each shank that changes its length, and
for left markers that lie on the right.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from gaittrack.errors import Problem
from gaittrack.kinematics.sagittal_angles import LEFT
from gaittrack.trial import FloatArray
from gaittrack.vocabulary import SIDES

LOOSE_SHARE = 0.25
"""Spread (5th to 95th percentile) of the distance between the two markers of one joint, as a share
of its median, from which they are not on one bone; own choice: skin moves them by some millimetres
of a decimetre, a marker on the other leg passes by with every step."""
STRETCHED_SHARE = 0.2
"""The same for knee to ankle; own choice: skin at the knee moves by a few centimetres at most."""

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


def _spread_share(points: Mapping[str, FloatArray], one: str, other: str) -> float:
    if one not in points or other not in points:
        return 0.0
    distance = np.linalg.norm(points[one] - points[other], axis=1)
    distance = distance[~np.isnan(distance)]
    if not len(distance):
        return 0.0
    low, middle, high = np.quantile(distance, (0.05, 0.5, 0.95))
    return float((high - low) / middle) if middle > 0 else float("inf")


def _loose_problem(inner: str, joint: str, share: float) -> Problem:
    return Problem(
        "warning",
        f"Its distance to the outer {joint} marker changes by {share:.0%}: not on one bone.",
        inner,
        f"Left out; the {joint} is taken from the outer marker alone. Check the labels.",
    )


def _stretched_problem(side: str, share: float) -> Problem:
    return Problem(
        "warning",
        f"The distance from knee to ankle changes by {share:.0%}: a marker is wrong or swapped.",
        f"{side} shank",
        "Angles of this leg cannot be trusted. Check the labels.",
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
        float(np.median(across[~np.isnan(across)]))
        for name in _PAIRED
        if f"left_{name}" in points and f"right_{name}" in points
        for across in [points[f"left_{name}"][:, LEFT] - points[f"right_{name}"][:, LEFT]]
        if not np.isnan(across).all()
    ]
    if not apart or float(np.median(apart)) > -CROSSED_M:
        return ()
    return (
        Problem(
            "warning",
            "The left markers of the body lie to the right of the right ones.",
            "sides",
            "Either the labels are swapped, an axis is mirrored, or the person walks backwards: "
            "sides, lengths sideways and the hip cannot be trusted.",
        ),
    )

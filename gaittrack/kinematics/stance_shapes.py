"""Feet and pelves that stand otherwise in one stride than in another: a marker slipped.

In come the points of a walk and its strides, out come problems. Toes stand at the same height over
the heel in each stance in which the heel is down. Pelvis and knees are much the same in the mean of
each stride.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from typing import Final

import numpy as np

from gaittrack.errors import Problem, Spoiled
from gaittrack.kinematics.foot_flat import STILL_M_S
from gaittrack.kinematics.gaps import runs
from gaittrack.kinematics.sagittal_angles import FORWARD, LEFT, UP
from gaittrack.kinematics.smoothing import velocity
from gaittrack.quick_numpy import lengths_of, median_of
from gaittrack.reasons import Reason
from gaittrack.trial import FloatArray, Signal
from gaittrack.vocabulary import SIDES, Joint, Side

UNEVEN_M: Final = (0.012, 0.02)
"""Change of a marker's height over the heel's from stance to stance, past which it is doubted, and
not trusted; own choice: 1 to 5 mm in the feet of four recorded walks."""
_TILT: Final = "pelvis_tilt_changes"
_OBLIQUITY: Final = "pelvis_obliquity_changes"
LEANS_DEG: Final = {_TILT: (9.0, 14.0), _OBLIQUITY: (5.0, 8.0)}
BACK_LEANS_DEG: Final = (9.0, 15.0)
"""The same of the pelvis's mean over a step or stride; own choice: 7 and 2 degrees there. The
back of the pelvis is narrower: 1 degree there."""
KNEE_DEG: Final = 10.0
"""Change of a knee's mean flexion from stride to stride past which its markers are doubted; own
choice: 1 to 6 degrees there."""
HEEL_DOWN_M: Final = 0.008
"""How far over its lowest stance a heel is on the floor; with the heel up, toes are anywhere."""
SHORTEST_STANCE_S: Final = 0.17
"""A foot that hangs over its place before it comes down is as still, but not for so long."""
AROUND_S: Final = 0.03
BESIDE_S: Final = 0.3
"""How long before the first stride or after the last a stance may begin or end."""
_FRONTS: Final = ("metatarsal_1", "metatarsal_2", "metatarsal_5", "toe")
_PELVIS: Final = ("left_asis", "right_asis", "left_psis", "right_psis", "sacrum")


def stance_problems(
    points: Mapping[str, FloatArray],
    labels: Mapping[str, str],
    rate_hz: float,
    strides: Mapping[Side, Sequence[tuple[int, int]]],
) -> list[Problem]:
    """Return a problem for each marker of a foot that stands higher or lower than it did.

    Parameters
    ----------
    points : mapping of point to ndarray, shape (n_frames, 3)
        Forward, left, up in metres, low-passed, over a level floor.
    labels : mapping of landmark to str
        What the file calls it.
    strides : mapping of Side to sequence of (int, int)
        First frame of each stride, and the one after its last, of feet that lie flat in stance: of
        others the heel may be anywhere.
    """
    found: list[Problem] = []
    for side, own in strides.items():
        heel, fronts = f"{side}_heel", [f"{side}_{name}" for name in _FRONTS]
        fronts = [key for key in fronts if key in points]
        if heel not in points or f"{side}_forefoot" not in points:
            continue
        first = min(start for start, _ in own) - round(BESIDE_S * rate_hz)
        last = max(stop for _, stop in own) + round(BESIDE_S * rate_hz)
        ends = [points[key] for key in (heel, f"{side}_forefoot")]
        stances = [
            (start, stop)
            for start, stop in _stillest(ends, rate_hz)
            if first < stop and start < last
        ]
        if len(stances) > 1:
            found += _uneven(points, labels, [heel, *fronts], stances)
    return found


def _stillest(ends: Sequence[FloatArray], rate_hz: float) -> Iterator[tuple[int, int]]:
    """Give the frames of each stance around the one in which both ends of the foot move least.

    A foot that rolls slowly is as slow as one that lies flat, but not for the whole stance.
    """
    speeds = [lengths_of(velocity(point, rate_hz)) for point in ends]
    fastest = np.maximum(*speeds)
    around = max(round(AROUND_S * rate_hz), 1)
    for start, stop in runs(fastest < STILL_M_S):
        if stop - start >= SHORTEST_STANCE_S * rate_hz:
            middle = start + around + int(fastest[start + around : stop - around].argmin())
            yield middle - around, middle + around + 1


def _uneven(
    points: Mapping[str, FloatArray],
    labels: Mapping[str, str],
    keys: Sequence[str],
    stances: Sequence[tuple[int, int]],
) -> Iterator[Problem]:
    heights = np.array(
        [[median_of(points[key][start:stop, UP]) for start, stop in stances] for key in keys]
    )
    down = heights[0] < np.fmin.reduce(heights[0]) + HEEL_DOWN_M
    over_heel = (heights[1:] - heights[0])[:, down]
    changes = np.fmax.reduce(over_heel, axis=1) - np.fmin.reduce(over_heel, axis=1)
    for key, by in zip(keys[1:], changes.tolist(), strict=True):
        if by > UNEVEN_M[0]:
            reason = Reason("stands_otherwise", names=(key,), by=round(1000 * by))
            yield _problem(reason, labels.get(key, key), (key,), is_wrong=by > UNEVEN_M[1])


def pelvis_problems(
    points: Mapping[str, FloatArray], strides: Sequence[tuple[int, int]]
) -> list[Problem]:
    """Return a problem where the pelvis is tilted or oblique otherwise from stride to stride.

    Parameters
    ----------
    points : mapping of point to ndarray, shape (n_frames, 3)
        Forward, left, up in metres.
    strides : sequence of (int, int)
        First frame of each stride, and the one after its last.
    """
    steps = [half for start, stop in strides for half in pairwise(_halves(start, stop))]
    spans = {_TILT: steps, _OBLIQUITY: strides}
    found = []
    for code, line, level, limits in _lines(points):
        means = [line[start:stop].sum(axis=0) for start, stop in spans[code]]
        leans = [math.atan2(mean[UP], abs(mean[level])) for mean in means]
        known = [lean for lean in leans if not math.isnan(lean)]
        by = math.degrees(max(known) - min(known)) if known else 0.0
        if by > limits[0]:
            reason = Reason(code, by_deg=round(by))
            keys = (*_PELVIS, *(f"{side}_hip_centre" for side in SIDES), "pelvis")
            found.append(_problem(reason, "pelvis", keys, is_wrong=by > limits[1]))
    return found


def _halves(start: int, stop: int) -> tuple[int, int, int]:
    """Return the ends of both halves of a stride: the pelvis tilts alike in each."""
    return start, (start + stop) // 2, stop


def _lines(
    points: Mapping[str, FloatArray],
) -> Iterator[tuple[str, FloatArray, int, tuple[float, float]]]:
    """Give lines of the pelvis: code of what is said of a change, line, its axis, limits."""
    fronts, backs = (
        [points[f"{side}_{name}"] for side in SIDES if f"{side}_{name}" in points]
        for name in ("asis", "psis")
    )
    if len(backs) == len(SIDES):
        yield _OBLIQUITY, backs[0] - backs[1], LEFT, BACK_LEANS_DEG
    if len(fronts) < len(SIDES):
        return
    yield _OBLIQUITY, fronts[0] - fronts[1], LEFT, LEANS_DEG[_OBLIQUITY]
    if len(backs) < len(SIDES):
        backs = [points[key] for key in ("sacrum",) if key in points]
    if backs:
        line = sum(fronts[1:], fronts[0]) / len(fronts) - sum(backs[1:], backs[0]) / len(backs)
        yield _TILT, line, FORWARD, LEANS_DEG[_TILT]


def knee_problems(
    angles: Mapping[tuple[Side, Joint], Signal], strides: Mapping[Side, Sequence[tuple[int, int]]]
) -> list[Problem]:
    """Return a problem for each knee whose mean flexion changes from stride to stride.

    Parameters
    ----------
    angles : mapping of (Side, Joint) to Signal
        From markers.
    strides : mapping of Side to sequence of (int, int)
        First frame of each stride, and the one after its last.
    """
    found = []
    for side, own in strides.items():
        knee = angles.get((side, "knee"))
        means = [] if knee is None else [knee.values[start:stop].mean() for start, stop in own]
        by = float(np.fmax.reduce(means) - np.fmin.reduce(means)) if len(means) > 1 else 0.0
        if by > KNEE_DEG:
            reason = Reason("knee_flexes_otherwise", side=side, by_deg=round(by))
            keys = (f"{side}_hip_centre", f"{side}_knee_centre")
            found.append(_problem(reason, f"{side} knee", keys, is_wrong=False))
    return found


def _problem(reason: Reason, where: str, keys: Sequence[str], *, is_wrong: bool) -> Problem:
    own = (Spoiled(*keys),)
    return Problem("warning", reason, where, own if is_wrong else (), () if is_wrong else own)

"""Markers that do not stay with the rest of their bone: drifted, slipped, filled over, late.

In come the points of a walk and its strides, out come problems. Two markers of one foot, shank,
thigh or pelvis keep their distance, but for skin and bending toes. Where they do not for a while,
one was filled over a gap, exchanged or knocked; where the mean over a stride differs from the next
one's, one slipped; where the distance follows the speed, one is late.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby, product
from typing import Final, NamedTuple

import numpy as np

from gaittrack.errors import Problem, Spoiled
from gaittrack.kinematics.gaps import IntArray, runs
from gaittrack.quick_numpy import lengths_of, median_of, medians_of
from gaittrack.reasons import Reason
from gaittrack.trial import BoolArray, FloatArray
from gaittrack.vocabulary import SIDES

_FRONTS: Final = ("metatarsal_1", "metatarsal_2", "metatarsal_5", "toe")
_FOOT: Final = (("heel", "ankle"), *product(("heel", "ankle"), _FRONTS))
_SHANK: Final = (("knee", "ankle"), ("fibula_head", "ankle"))
_THIGH: Final = (("hip", "knee"),)
_PELVIS: Final = (
    ("left_asis", "right_asis"),
    *product(("left_asis", "right_asis"), ("left_psis", "right_psis", "sacrum")),
)


class Limits(NamedTuple):
    """What a distance does at most: past the first it is doubted, past the second not trusted.

    Attributes
    ----------
    off_m, off_share : tuple of float
        For a while off its median, in metres and as a share of it; the larger counts.
    creep_m : tuple of float
        Between its means over two strides.
    late_s : tuple of float
        By how much one marker is late.
    skin_s : float
        How late skin that moves with the joint looks: as much as that is not counted.
    """

    off_m: tuple[float, float]
    off_share: tuple[float, float]
    creep_m: tuple[float, float]
    late_s: tuple[float, float]
    skin_s: float


FOOT: Final = Limits((0.015, 0.025), (0.13, 0.2), (0.0055, 0.015), (0.007, 0.014), 0.0)
SHANK: Final = Limits((0.04, 0.06), (0.0, 0.0), (0.009, 0.018), (0.012, 0.018), 0.005)
THIGH: Final = Limits((0.04, 0.06), (0.0, 0.0), (0.015, 0.03), (0.016, 0.026), 0.008)
PELVIS: Final = Limits((0.02, 0.04), (0.0, 0.0), (0.012, 0.02), (0.016, 0.024), 0.004)
"""Own choices. In four walks recorded in four laboratories feet are off by 0.65 of the first limit
at most, shanks by 0.7, thighs by 0.3, pelves by 0.5; the means over strides by 5 mm in feet, 2 in
shanks, 1 in thighs, 8 in pelves; late look feet by 2 ms, shanks by 1 to 9, thighs by -1 to 17 and
pelves by -3 to 12."""
SHORTEST_S: Final = 0.04
"""How long a distance is off to be told; what is shorter is smoothed away."""
LOOKED_AT_HZ: Final = 30.0
LEAST_FOLLOWED: Final = 0.3
"""Share of the variance of a distance that a late marker explains at least; own choice."""
LEAST_SPEED_M_S: Final = 0.1
"""SD of the speed along a distance below which nothing tells of a delay."""


class _Pair(NamedTuple):
    """Two markers of one bone."""

    segment: str
    one: str
    other: str
    limits: Limits


class _Broken(NamedTuple):
    """A distance that does what it must not: what, by how much, and how far past its limits."""

    pair: _Pair
    code: str
    by: float
    is_wrong: bool
    frames: BoolArray | None = None


def distance_problems(
    points: Mapping[str, FloatArray],
    labels: Mapping[str, str],
    rate_hz: float,
    strides: Sequence[tuple[int, int]],
) -> list[Problem]:
    """Return what distances between markers of one bone say against the markers.

    Parameters
    ----------
    points : mapping of point to ndarray, shape (n_frames, 3)
        Metres, low-passed.
    labels : mapping of landmark to str
        What the file calls it.
    strides : sequence of (int, int)
        First frame of each stride, and the one after its last: what lies outside is not looked at.

    Returns
    -------
    list of Problem
        One for each segment and each thing that is wrong with it.
    """
    pairs = [pair for pair in PAIRS if pair.one in points and pair.other in points]
    if not pairs or not strides:
        return []
    every = max(int(rate_hz / LOOKED_AT_HZ), 1)
    begin, end = min(start for start, _ in strides), max(stop for _, stop in strides)
    used = {key: points[key][begin:end:every] for pair in pairs for key in (pair.one, pair.other)}
    apart = np.stack([used[pair.one] - used[pair.other] for pair in pairs])
    own = [((start - begin) // every, (stop - begin) // every) for start, stop in strides]
    distances = _inside(lengths_of(apart), own)
    hz = rate_hz / every
    found = [
        *_off(pairs, distances, hz),
        *_creeping(pairs, distances, own),
        *_late(pairs, distances, apart, used, hz),
    ]
    found.sort(key=lambda each: (each.pair.segment, each.code))
    return [
        _problem(list(each), pairs, labels, np.arange(begin, end, every), rate_hz)
        for _, each in groupby(found, key=lambda each: (each.pair.segment, each.code))
    ]


def _inside(distances: FloatArray, strides: Sequence[tuple[int, int]]) -> FloatArray:
    """Return the distances, NaN outside strides: while turning, names change their way."""
    inside = np.zeros(distances.shape[1], dtype=np.bool_)
    for start, stop in strides:
        inside[start:stop] = True
    return distances if inside.all() else np.where(inside, distances, np.nan)


_OF_LEG: Final = {"foot": (_FOOT, FOOT), "shank": (_SHANK, SHANK), "thigh": (_THIGH, THIGH)}


def _pairs() -> Iterator[_Pair]:
    for side in SIDES:
        for segment, (names, limits) in _OF_LEG.items():
            for one, other in names:
                yield _Pair(f"{side} {segment}", f"{side}_{one}", f"{side}_{other}", limits)
    for one, other in _PELVIS:
        yield _Pair("pelvis", one, other, PELVIS)


PAIRS: Final = tuple(_pairs())


def _off(pairs: Sequence[_Pair], distances: FloatArray, hz: float) -> Iterator[_Broken]:
    """Give the distances that are off their median for a while."""
    seen = ~np.isnan(distances)
    if seen.all():
        usual = medians_of(distances, axis=1)
    else:
        usual = np.array([median_of(d[own]) for d, own in zip(distances, seen, strict=True)])
    away = np.abs(distances - usual[:, None])
    limits = np.array([(*pair.limits.off_m, *pair.limits.off_share) for pair in pairs])
    doubted, wrong = np.maximum(limits[:, :2], limits[:, 2:] * usual[:, None]).T
    for place in np.flatnonzero(np.fmax.reduce(away, axis=1) > doubted).tolist():
        frames = away[place] > doubted[place]
        for start, stop in runs(frames):
            if stop - start < SHORTEST_S * hz:
                frames[start:stop] = False
        if frames.any():
            most = float(away[place][frames].max())
            yield _Broken(pairs[place], "distance_off", most, most > wrong[place], frames)


def _creeping(
    pairs: Sequence[_Pair], distances: FloatArray, strides: Sequence[tuple[int, int]]
) -> Iterator[_Broken]:
    """Give the distances whose means over strides differ."""
    means = np.stack([distances[:, start:stop].mean(axis=1) for start, stop in strides], axis=1)
    changes = np.fmax.reduce(means, axis=1) - np.fmin.reduce(means, axis=1)
    for pair, change in zip(pairs, changes.tolist(), strict=True):
        doubted, wrong = pair.limits.creep_m
        if change > doubted:
            yield _Broken(pair, "distance_creeps", change, change > wrong)


def _late(
    pairs: Sequence[_Pair],
    distances: FloatArray,
    apart: FloatArray,
    used: Mapping[str, FloatArray],
    hz: float,
) -> Iterator[_Broken]:
    """Give the distances that follow the speed along them: one marker is where it was before."""
    speeds = {key: xyz[2:] - xyz[:-2] for key, xyz in used.items()}
    steps = np.stack([speeds[pair.one] for pair in pairs])
    own = distances[:, 1:-1]
    along = np.einsum("ijk,ijk->ij", steps, apart[:, 1:-1]) / own * (hz / 2)
    known = ~np.isnan(along)
    count = np.maximum(known.sum(axis=1), 1)
    if not known.all():
        along, own = np.where(known, along, 0.0), np.where(known, own, 0.0)
    mean, usual = along.sum(axis=1) / count, own.sum(axis=1) / count
    power, shared, whole = (
        np.einsum("ij,ij->i", x, y) / count - mean_x * mean_y
        for x, y, mean_x, mean_y in (
            (along, along, mean, mean),
            (along, own, mean, usual),
            (own, own, usual, usual),
        )
    )
    for pair, a, b, c in zip(pairs, power.tolist(), shared.tolist(), whole.tolist(), strict=True):
        if not a > LEAST_SPEED_M_S**2 or not b * b > LEAST_FOLLOWED * a * c:
            continue
        late_s = abs(b / a + pair.limits.skin_s)
        doubted, wrong = pair.limits.late_s
        if late_s > doubted:
            yield _Broken(pair, "marker_late", late_s, late_s > wrong)


def _problem(
    found: list[_Broken],
    pairs: Sequence[_Pair],
    labels: Mapping[str, str],
    at: IntArray,
    rate_hz: float,
) -> Problem:
    """Return what is said of one thing that is wrong with a segment; ``at`` are the frames."""
    keys = _suspects(found, [pair for pair in pairs if pair.segment == found[0].pair.segment])
    own, told = [Spoiled(*keys)], {}
    seen = [each.frames for each in found if each.frames is not None]
    if seen:
        spans = [(int(at[a]), int(at[b - 1])) for a, b in runs(np.logical_or.reduce(seen))]
        own = [Spoiled(*keys, frames=span) for span in spans]
        first, last = spans[0][0] / rate_hz, spans[-1][1] / rate_hz
        told = {"from_s": round(first, 2), "to_s": round(last, 2)}
    by = round(1000 * max(each.by for each in found))
    reason = Reason(found[0].code, names=tuple(keys), by=by, **told)
    where = ", ".join(labels.get(key, key) for key in keys)
    if any(each.is_wrong for each in found):
        return Problem("warning", reason, where, tuple(own))
    return Problem("warning", reason, where, doubts=tuple(own))


def _suspects(found: Sequence[_Broken], pairs: Sequence[_Pair]) -> list[str]:
    """Return the markers that may be the one: of all broken distances, most of whose are broken."""
    broken = Counter(key for each in found for key in (each.pair.one, each.pair.other))
    every = Counter(key for pair in pairs for key in (pair.one, pair.other))
    in_all = [key for key, n in broken.items() if n == len(found)] or list(broken)
    most = max(broken[key] / every[key] for key in in_all)
    return sorted(key for key in in_all if broken[key] / every[key] == most)

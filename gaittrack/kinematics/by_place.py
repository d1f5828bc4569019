"""Which landmark a marker may be by where it lies and how it moves; offered, never taken.

In come the markers of a walk, whatever their labels, out come one moment of them seen from the
side, and for feet, knees and pelvis the labels that lie where their landmarks are. What is not
plain on both sides alike is not guessed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np

from gaittrack.trial import FloatArray
from gaittrack.vocabulary import SIDES, Side

STEADY: Final = 0.35
"""A marker of the pelvis speeds up and slows down at most this share of the most restless one."""
FOOT_ZONE: Final = 0.25
KNEE_ZONE: Final = (0.44, 0.64)
WHOLE_LEG: Final = 0.9
TRUNK: Final = 1.25
"""Mean heights as shares of the lowest point of the pelvis; own choices between the body's parts:
ankles lie at 0.1, knees at 0.5, waists at 1.1."""
ASIDE_M: Final = 0.03
"""How far a marker lies to one side of the middle before it is of that side; own choice."""
APART_M: Final = 0.01
"""How far two markers lie apart before their order tells anything; own choice."""
_FEWEST_FRAMES: Final = 20
_LEAST_SEEN: Final = 0.6


class _Where(NamedTuple):
    """Means over the walk: metres ahead of the body, to its left, above the lowest point."""

    label: str
    ahead_m: float
    left_m: float
    height_m: float
    restless: float

    def out_m(self, side: Side) -> float:
        return self.left_m if side == "left" else -self.left_m


@dataclass(frozen=True, slots=True)
class ByPlace:
    """Where markers lie.

    Attributes
    ----------
    guesses : mapping of landmark key to label
        Offered only.
    moment : mapping of label to (float, float)
        Metres ahead and up of one instant, seen from the right; of markers seen then.
    at_s : float
        That instant.
    """

    guesses: Mapping[str, str]
    moment: Mapping[str, tuple[float, float]]
    at_s: float


def by_place(markers: Mapping[str, FloatArray], rate_hz: float) -> ByPlace:
    """Return one moment of the markers, and the landmarks that some of them may be.

    Parameters
    ----------
    markers : mapping of label to ndarray, shape (n_frames, 3)
        Metres, any axes, gaps as NaN.
    """
    seen = {k: xyz for k, xyz in markers.items() if np.isfinite(xyz[:, 0]).mean() >= _LEAST_SEEN}
    n_frames = min((len(xyz) for xyz in seen.values()), default=0)
    if len(seen) < 2 or n_frames < _FEWEST_FRAMES:
        return ByPlace({}, {}, 0.0)
    turned = _turned(np.stack(list(seen.values())), rate_hz)
    frame = _widest(turned)
    moment = {
        label: (round(float(point[0]), 3), round(float(point[2]), 3))
        for label, point in zip(seen, turned[:, frame], strict=True)
        if np.isfinite(point).all()
    }
    places = _places(list(seen), turned, rate_hz)
    return ByPlace(_on_both_sides(_guessed(places)), moment, round(frame / rate_hz, 2))


def _turned(points: FloatArray, rate_hz: float) -> FloatArray:
    """Turn markers, shape (n_markers, n_frames, 3), into forward, left, up."""
    extent = np.nanmedian(np.nanmax(points, axis=0) - np.nanmin(points, axis=0), axis=0)
    up = int(np.argmax(extent))
    height = points[..., up]
    rests = np.abs(np.nanpercentile(height, 1)) <= np.abs(np.nanpercentile(height, 99))
    upward = 1.0 if rests else -1.0
    height = upward * height
    flat = np.delete(points, up, axis=2)
    velocity = np.gradient(flat, 1 / rate_hz, axis=1)
    way = _direction(velocity, height)
    ahead = flat @ way
    across = flat @ np.array([-way[1], way[0]])
    axes = [axis for axis in range(3) if axis != up]
    handed = upward * (1.0 if (up, *axes) in ((2, 0, 1), (0, 1, 2)) else -1.0)
    floor = np.nanpercentile(height, 0.5)
    turned: FloatArray = np.stack([ahead, handed * across, height - floor], axis=2)
    return turned


def _direction(velocity: FloatArray, height: FloatArray) -> FloatArray:
    """Return the direction in which points move while they are high: forward."""
    raised = height - np.nanmean(height, axis=1, keepdims=True)
    push = np.nanmean(velocity * raised[..., None], axis=(0, 1))
    known = velocity.reshape(-1, 2)[np.isfinite(velocity.reshape(-1, 2)).all(axis=1)]
    _, _, axes = np.linalg.svd(known - known.mean(axis=0), full_matrices=False)
    way: FloatArray = axes[0] * (1.0 if push @ axes[0] >= 0 else -1.0)
    return way


def _widest(turned: FloatArray) -> int:
    """Return the frame with most markers in which they are spread most along the way."""
    n_seen = np.isfinite(turned[..., 0]).sum(axis=0)
    spread = np.nanstd(turned[..., 0], axis=0)
    return int(np.argmax(np.where(n_seen == n_seen.max(), spread, -1.0)))


def _places(labels: list[str], turned: FloatArray, rate_hz: float) -> list[_Where]:
    middle = np.nanmean(turned, axis=0)
    own = turned - np.concatenate([middle[:, :2], np.zeros((len(middle), 1))], axis=1)
    means = np.nanmean(own, axis=1)
    speed = np.nanstd(np.gradient(turned[..., 0], 1 / rate_hz, axis=1), axis=1)
    restless = speed / max(float(np.nanmax(speed)), 1e-9)
    return [
        _Where(
            label=label,
            ahead_m=float(mean[0]),
            left_m=float(mean[1]),
            height_m=float(mean[2]),
            restless=float(rest),
        )
        for label, mean, rest in zip(labels, means, restless, strict=True)
    ]


def _guessed(places: list[_Where]) -> dict[str, str]:
    steady = [each for each in places if each.restless < STEADY]
    if not steady:
        return {}
    low_m = min(each.height_m for each in steady)
    found: dict[str, str] = {}
    for side in SIDES:
        mine = [each for each in places if each.out_m(side) > ASIDE_M]
        moving = [each for each in mine if each.restless >= STEADY]
        foot = [each for each in moving if each.height_m < FOOT_ZONE * low_m]
        leg = [each for each in mine if FOOT_ZONE <= each.height_m / low_m < WHOLE_LEG]
        hips = [each for each in mine if each in steady and each.height_m < TRUNK * low_m]
        named = _foot(foot) | _knee(leg, low_m, side) | _hips(hips)
        found |= {f"{side}_{name}": place.label for name, place in named.items()}
    return found


def _foot(places: list[_Where]) -> dict[str, _Where]:
    """Return heel, toe and ankle of three or four markers: hindmost, foremost, highest."""
    if len(places) not in (3, 4):
        return {}
    back, *_, front = sorted(places, key=lambda each: each.ahead_m)
    top = max(places, key=lambda each: each.height_m)
    is_plain = (
        top not in (back, front)
        and min(top.height_m - back.height_m, top.height_m - front.height_m) > APART_M
    )
    return {"heel": back, "toe": front, "ankle": top} if is_plain else {}


def _knee(places: list[_Where], low_m: float, side: Side) -> dict[str, _Where]:
    """Return the knee where no other marker of thigh or shank could be meant."""
    if any(not KNEE_ZONE[0] < each.height_m / low_m < KNEE_ZONE[1] for each in places):
        return {}
    if len(places) == 1:
        return {"knee": places[0]}
    if len(places) != 2:
        return {}
    inner, outer = sorted(places, key=lambda each: each.out_m(side))
    is_plain = outer.out_m(side) - inner.out_m(side) > 3 * APART_M
    return {"knee": outer, "knee_medial": inner} if is_plain else {}


def _hips(places: list[_Where]) -> dict[str, _Where]:
    """Return front and back of the pelvis and the hip below them, of three markers of a side."""
    if len(places) != 3:
        return {}
    hip, *rim = sorted(places, key=lambda each: each.height_m)
    back, front = sorted(rim, key=lambda each: each.ahead_m)
    is_plain = back.height_m - hip.height_m > APART_M < front.height_m - hip.height_m
    is_plain &= front.ahead_m - back.ahead_m > 5 * APART_M
    return {"hip": hip, "asis": front, "psis": back} if is_plain else {}


def _on_both_sides(found: Mapping[str, str]) -> dict[str, str]:
    names = [{key.split("_", 1)[1] for key in found if key.startswith(side)} for side in SIDES]
    return {
        key: label for key, label in found.items() if key.split("_", 1)[1] in names[0] & names[1]
    }

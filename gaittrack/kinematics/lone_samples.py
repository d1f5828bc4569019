"""Single samples that lie off their neighbours, as damage of a file makes them, and no movement.

In comes a trial, out comes a problem for each marker, angle, curve and plate that has such samples.
Of an angle nothing is taken then. Of a marker the number stays: a kick that would change one is a
jump (``marker_jumps.py``) and taken out.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Set
from dataclasses import replace
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gaittrack.errors import Problem, Spoiled
from gaittrack.ingredients import file_angle_of
from gaittrack.kinematics.marker_jumps import AT_ONCE
from gaittrack.quick_numpy import lengths_of, median_of, medians_of
from gaittrack.reasons import Reason
from gaittrack.trial import BoolArray, FloatArray, Trial
from gaittrack.vocabulary import Joint, Side

IntArray = NDArray[np.intp]

NOISE_FACTOR: Final = 4.0
"""Multiple of the median unexplained part that counts besides; own choice: white noise reaches 3.5
in a thousand samples of each of fifty markers."""
_ASIDE: Final = 3
"""Neighbours on each side that a sample is held against."""
_AT_ENDS: Final = 2.0
"""How much more noise makes of samples at an end or a gap, held against one side only: in raw
recordings and made-up ones the limit leaves none."""
_AS_SHARP: Final = 1.25
"""Multiple of the sharpest turn inside that counts at the ends besides, own choice: one side alone
cannot tell a kick from a sample that is off."""
_ECHOES: Final = ((-2, 1 / 6), (-1, -2 / 3), (1, -2 / 3), (2, 1 / 6))
"""What one sample leaves unexplained in those beside it, as shares of its own, by arithmetic."""
_REST: Final = 0.1
"""Share of a sample's own that may remain beside it without its echoes, more than noise; own
choice: a kick leaves 0.17, a foot's marker 0.15 in a raw recording."""
_FROM_BOTH: Final = 0.5
"""Share of its own by which both sides must see it elsewhere; own choice: a kick has none."""
_ROUNDED: Final = 2.5
"""Smallest steps of a file, in which a sample is off at least: rounding leaves 2.3 in space."""
_EVERY: Final = 3
"""One in so many samples tells the noise: as well as all, in a third of the time."""


_JUMPS: Final = ("marker_jumps", "jumps_for_good")


class _Kind(NamedTuple):
    """What is looked at: its unit, the least that is told in it, inside and at the ends."""

    unit: str
    least: float
    least_at_ends: float
    factor: float = 1.0
    """Of the unit to one of those that are stored."""


_MARKER: Final = _Kind("mm", 1.5, 4.5, 1000.0)
"""Own choice: raw recordings of five laboratories have none; 2 mm is seen in most of them."""
_MARKER_RATE_HZ: Final = 100.0
"""Own choice, from this rate on; below, what a movement leaves grows with the time squared."""
_ANGLE: Final = _Kind("deg", 5.0, 5.0)
"""Own choice: a knee that snaps straight shows 4.9 on a curve of 101 points."""
_FORCE: Final = _Kind("N", 30.0, 90.0)
_FORCE_RATE_HZ: Final = 1000.0
"""Own choice, at this rate; more where there are fewer samples to a foot that strikes."""
_LARGEST_STEP_M_S: Final = 20.0
"""Step from one frame to the next that no marker makes, whoever wears it; own choice."""


def lone_sample_problems(trial: Trial, told: Iterable[Problem]) -> list[Problem]:
    """Return a warning for whatever has samples that its own movement does not explain.

    Parameters
    ----------
    told : iterable of Problem
        What is known already: of a marker that jumps nothing more is said.
    """
    if trial.n_frames <= 2 * _ASIDE and not trial.curves:
        return []
    return [
        *_of_markers(trial, {problem.where for problem in told if problem.reason.code in _JUMPS}),
        *(
            problem
            for (side, joint), signal in trial.angles.items()
            for problem in _of_angle(signal.values, side, joint, "", trial.rate_hz)
        ),
        *(
            problem
            for curve in trial.curves
            for problem in _of_angle(
                curve.values_deg, curve.side, curve.joint, f" {curve.cycle}", math.nan
            )
        ),
        *(
            problem
            for plate in trial.plates
            for problem in _of(
                plate.force_n,
                _enlarged(_FORCE, _FORCE_RATE_HZ / plate.rate_hz),
                plate.name,
                plate.rate_hz,
            )
        ),
    ]


def _of_markers(trial: Trial, known: Set[str]) -> Iterator[Problem]:
    labels = [label for label in trial.markers if label not in known]
    if not labels or trial.n_frames <= 2 * _ASIDE:
        return
    stack = np.stack([trial.markers[label] for label in labels])
    parts = np.array_split(stack, -(-stack.size // AT_ONCE))
    off = np.concatenate([_off(part) for part in parts])
    noise = _noise(off)
    ends = _fill_beside_gaps(off, stack)
    limits = _limits(off, noise, _enlarged(_MARKER, (_MARKER_RATE_HZ / trial.rate_hz) ** 2), ends)
    torn = _LARGEST_STEP_M_S / trial.rate_hz / 2  # a step leaves half of it unexplained
    for place in np.flatnonzero((off > np.fmin(limits, torn)).any(axis=1)):
        found = _peaks(off[place], np.fmin(limits[place], torn))
        is_told = _is_lone(stack[place], found, noise[place]) | (off[place][found] > torn)
        if is_told.any():
            frames = found[is_told]
            yield _problem(frames, off[place], _MARKER, labels[place], trial.rate_hz)


def _of(values: FloatArray, kind: _Kind, where: str, rate_hz: float) -> Iterator[Problem]:
    plain = values.reshape(len(values), -1)
    if len(plain) <= 2 * _ASIDE:
        return
    off = _off(plain)[None]
    noise = _noise(off)
    ends = _fill_beside_gaps(off, plain[None])
    found = _peaks(off[0], _limits(off, noise, kind, ends)[0])
    if not len(found):
        return
    frames = found[_is_lone(plain, found, noise[0])]
    if len(frames):
        yield _problem(frames, off[0], kind, where, rate_hz)


def _enlarged(kind: _Kind, factor: float) -> _Kind:
    more = max(1.0, factor)
    return kind._replace(least=more * kind.least, least_at_ends=more * kind.least_at_ends)


def _of_angle(
    values: FloatArray, side: Side, joint: Joint, cycle: str, rate_hz: float
) -> Iterator[Problem]:
    """Give what is said of an angle, of which nothing smooths the sample away."""
    for problem in _of(values, _ANGLE, f"{side} {joint}{cycle}", rate_hz):
        yield replace(problem, spoils=(Spoiled(file_angle_of(side, joint)),))


def _off(values: FloatArray) -> FloatArray:
    """Return how far samples lie off the cubic through two on each side, (…, n).

    The first and last three: off the parabola through the three next to them.
    """
    apart = values[..., 2:-4, :] + values[..., 4:-2, :]
    apart *= -4
    apart += values[..., 1:-5, :]
    apart += values[..., 5:-1, :]
    apart *= 1 / 6
    apart += values[..., 3:-3, :]
    off = np.empty(values.shape[:-1])
    off[..., _ASIDE:-_ASIDE] = lengths_of(apart)
    for inward, found in ((values, off), (values[..., ::-1, :], off[..., ::-1])):
        end, one, two, three = (inward[..., step : step + _ASIDE, :] for step in range(4))
        found[..., :_ASIDE] = lengths_of(end - (3 * one - 3 * two + three))
    return off


def _fill_beside_gaps(off: FloatArray, values: FloatArray) -> BoolArray:
    """Fill in how far samples beside a gap lie off, from the side that is seen; tell which."""
    beside = np.isnan(off)
    for row in np.flatnonzero(beside.any(axis=1)):
        beside[row] &= ~np.isnan(values[row, :, 0])
        ahead, behind = np.full((2, off.shape[1]), np.nan)
        ahead[:-3] = behind[3:] = lengths_of(np.diff(values[row], 3, axis=0))
        off[row] = np.where(beside[row], np.where(np.isnan(ahead), behind, ahead), off[row])
    return beside


def _noise(off: FloatArray) -> FloatArray:
    """Return the median of what is unexplained in each row; NaN where too little is seen."""
    some = off[:, _ASIDE:-_ASIDE:_EVERY]
    known = ~np.isnan(some)
    if known.all():
        return medians_of(some, axis=1)
    rows = [row[own] for row, own in zip(some, known, strict=True)]
    return np.array([median_of(row) for row in rows])


def _limits(off: FloatArray, noise: FloatArray, kind: _Kind, ends: BoolArray) -> FloatArray:
    """Return how far is far for each sample of each row; NaN where too little is seen."""
    limits = np.empty_like(off)
    limits[:] = (kind.least / kind.factor + NOISE_FACTOR * noise)[:, None]
    at_ends = kind.least_at_ends / kind.factor + _AT_ENDS * NOISE_FACTOR * noise
    limits[:, :_ASIDE] = limits[:, -_ASIDE:] = at_ends[:, None]
    return np.where(ends, at_ends[:, None], limits) if ends.any() else limits


def _peaks(off: FloatArray, limits: FloatArray) -> IntArray:
    """Return the samples past their limit that lie further off than those beside them."""
    found = np.flatnonzero(off > limits)
    beside = np.fmax(off[np.maximum(found - 1, 0)], off[np.minimum(found + 1, len(off) - 1)])
    return np.asarray(found[off[found] >= beside])


def _is_lone(values: FloatArray, found: IntArray, noise: float) -> BoolArray:
    """Tell of samples whether they alone are off, as they would not be at a kick.

    Both sides see another place, further off than rounding brings it, and what stands out beside
    the sample is its own echo. At the ends it is off by more than any turn inside.
    """
    at = np.clip(found, _ASIDE, len(values) - 1 - _ASIDE)
    left = 3 * values[at - 1] - 3 * values[at - 2] + values[at - 3]
    right = 3 * values[at + 1] - 3 * values[at + 2] + values[at + 3]
    own = _unexplained(values, at)
    size = lengths_of(own)
    is_so = lengths_of(values[at] - (left + right) / 2) >= _FROM_BOTH * size
    is_so &= size > _ROUNDED * _smallest_step(values)
    for step, share in _ECHOES:
        rest = lengths_of(_unexplained(values, at + step) - share * own)
        is_so &= ~(rest > _REST * size + noise)
    is_inside = (at == found) & ~np.isnan(size)
    return np.where(is_inside, is_so, _is_past_turns(values, found))


def _smallest_step(values: FloatArray) -> float:
    steps = np.abs(np.diff(values, axis=0))
    return float(np.min(steps, where=steps > 0, initial=np.inf))


def _is_past_turns(values: FloatArray, found: IntArray) -> BoolArray:
    """Tell of samples at an end or a gap whether they are off by more than a turn does.

    Of one that is off the third from there shows nothing; a turn goes on.
    """
    n = len(values)
    turns = np.linalg.norm(np.diff(values, 3, axis=0), axis=-1)
    inside = turns[2:-2].copy()
    for step in (0, 1, 3, 4):
        inside[np.isnan(turns[step : step + len(inside)])] = np.nan
    sharpest = np.fmax.reduce(inside[1:-1], initial=0.0)
    ahead = found < n - _ASIDE
    ahead[ahead] &= ~np.isnan(turns[found[ahead]])
    own = turns[np.where(ahead, found, found - _ASIDE)]
    third = turns[np.clip(np.where(ahead, found + 2, found - _ASIDE - 2), 0, len(turns) - 1)]
    return np.asarray(own > np.fmax(_AS_SHARP * sharpest, 2 * third))


def _unexplained(values: FloatArray, at: IntArray) -> FloatArray:
    """Return the way from the cubic through two on each side; NaN where there are not two."""
    inside = np.clip(at, 2, len(values) - 3)
    near, far = (values[inside - step] + values[inside + step] for step in (1, 2))
    off: FloatArray = values[inside] - (4 * near - far) / 6
    off[at != inside] = np.nan
    return off


def _problem(found: IntArray, off: FloatArray, kind: _Kind, where: str, rate_hz: float) -> Problem:
    first, last = (int(found[place]) for place in (0, -1))
    size: dict[str, int | float | str] = {
        "n": len(found),
        "by": float(f"{kind.factor * off[found].max():.2g}"),
    }
    size["unit"] = kind.unit
    if math.isnan(rate_hz):
        return Problem("warning", Reason("lone_points", first=first, last=last, **size), where)
    span = {"from_s": round(first / rate_hz, 2), "to_s": round(last / rate_hz, 2)}
    return Problem("warning", Reason("lone_samples", **span, **size), where)

"""What laboratories do to good recordings without knowing, planted in them.

Markers that drift, slip or come late, filled and smoothed stretches, lost and doubled frames, axes
stretched, plates read wrongly: in and out come trials.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import product
from typing import Final

import numpy as np
from scipy.interpolate import CubicSpline

from gaittrack.kinematics.gaps import IntArray
from gaittrack.kinematics.smoothing import low_pass
from gaittrack.trial import FloatArray, ForcePlate, Trial
from tests.faults.faults import Change, Fault, _up_and_ahead
from tests.faults.good_recordings import Good

FOOT: Final = ("heel", "toe", "metatarsal_5")
LEG: Final = (*FOOT, "ankle", "knee", "hip", "asis", "psis", "sacrum")
OneMarker = Callable[[FloatArray, float], FloatArray]


def wild_faults() -> Iterator[Fault]:
    """Give every fault of the survey."""
    yield from slips()
    yield from late_markers()
    yield from fills()
    yield from smoothed()
    yield from stretches()
    yield from clocks()
    yield from short_exchanges()
    yield from units_and_axes()
    yield from unseen()
    yield from plates()


def slips() -> Iterator[Fault]:
    """Give markers that drift through the walk, slip half way, or hang loose in swing."""
    for name, size_m, way in product(LEG, (0.02, 0.05), ("up", "ahead")):
        told = f"{name} {100 * size_m:g} cm {way}"
        yield Fault("drifts", told, _shifted(name, size_m, way, _ramp))
        yield Fault("slips in 0.2 s", told, _shifted(name, size_m, way, _slip))
    for name, way in product(LEG, ("up", "ahead")):
        yield Fault("steps in a frame", f"{name} 2 cm {way}", _shifted(name, 0.02, way, _step))


def _ramp(n_frames: int, _: float) -> FloatArray:
    return np.linspace(0.0, 1.0, n_frames)


def _slip(n_frames: int, rate_hz: float) -> FloatArray:
    after = (np.arange(n_frames) - n_frames / 2) / (0.2 * rate_hz)
    eased: FloatArray = (1 - np.cos(np.pi * np.clip(after, 0.0, 1.0))) / 2
    return eased


def _step(n_frames: int, _: float) -> FloatArray:
    return (np.arange(n_frames) >= n_frames / 2).astype(np.float64)


def _labels(good: Good, name: str) -> list[str]:
    """Return the label of a landmark of the left leg, else of the right, else of the middle."""
    found = (good.labels.get(key) for key in (f"left_{name}", f"right_{name}", name))
    return [label for label in found if label is not None][:1]


def _shifted(name: str, size_m: float, way: str, course: Callable[..., FloatArray]) -> Change:
    def change(good: Good) -> Trial | None:
        axis = dict(zip(("up", "ahead"), _up_and_ahead(good), strict=True))[way]

        def moved(xyz: FloatArray, rate_hz: float) -> FloatArray:
            seen = np.flatnonzero(~np.isnan(xyz[:, 0]))
            inside = slice(seen[0], seen[-1] + 1)
            out = xyz.copy()
            out[inside, axis] += size_m * course(inside.stop - inside.start, rate_hz)
            out[inside.stop :, axis] += size_m
            return out

        return _each(good, _labels(good, name), moved)

    return change


def _each(good: Good, labels: list[str], change: OneMarker) -> Trial | None:
    if not labels:
        return None
    markers = dict(good.trial.markers)
    for label in labels:
        if np.isnan(markers[label][:, 0]).all():
            return None
        markers[label] = change(markers[label], good.trial.rate_hz)
    return replace(good.trial, markers=markers)


def late_markers() -> Iterator[Fault]:
    """Give single markers some frames late, and all of them against plates and marks."""
    for name, n_frames in product(LEG, (2, 3, 5)):
        yield Fault("late", f"{name} {n_frames} frames", _of(name, _late(n_frames)))
    for n_frames in (5, 10):
        yield Fault("late", f"all markers {n_frames} frames", _all(_late(n_frames)))


def _late(n_frames: int) -> OneMarker:
    return lambda xyz, _: np.concatenate([np.full((n_frames, 3), np.nan), xyz[:-n_frames]])


def _of(name: str, change: OneMarker) -> Change:
    return lambda good: _each(good, _labels(good, name), change)


def _all(change: OneMarker) -> Change:
    def changed(good: Good) -> Trial:
        rate_hz = good.trial.rate_hz
        markers = {label: change(xyz, rate_hz) for label, xyz in good.trial.markers.items()}
        return replace(good.trial, markers=markers)

    return changed


def fills() -> Iterator[Fault]:
    """Give swings of a marker that were filled over a gap: one, or all."""
    for name, seconds, how, which in product(
        (*FOOT, "ankle", "knee"), (0.2, 0.3), ("spline", "line"), ("one", "every")
    ):
        told = f"{name}, {which} swing {seconds:g} s"
        yield Fault(f"filled by {how}", told, _of(name, _filled(seconds, how, which)))


def _filled(seconds: float, how: str, which: str) -> OneMarker:
    def change(xyz: FloatArray, rate_hz: float) -> FloatArray:
        out = xyz.copy()
        middles = _swings(xyz, rate_hz)
        for middle in middles if which == "every" else middles[len(middles) // 2 :][:1]:
            half = round(seconds * rate_hz / 2)
            gap = np.arange(max(middle - half, 0), min(middle + half, len(xyz)))
            near = np.r_[gap[0] - 6 : gap[0], gap[-1] + 1 : gap[-1] + 7]
            if near[0] < 0 or near[-1] >= len(xyz) or np.isnan(xyz[near]).any():
                continue
            out[gap] = _bridged(near, xyz[near], gap, how)
        return out

    return change


def _bridged(near: IntArray, places: FloatArray, gap: IntArray, how: str) -> FloatArray:
    if how == "line":
        ends = slice(5, 7)
        lines = [np.interp(gap, near[ends], axis) for axis in places[ends].T]
        return np.stack(lines, axis=1)
    bridge: FloatArray = CubicSpline(near, places)(gap)
    return bridge


def _swings(xyz: FloatArray, rate_hz: float) -> list[int]:
    """Return the frames at which the marker is fastest, one a swing."""
    speed = np.linalg.norm(np.gradient(xyz, axis=0), axis=1)
    speed = np.convolve(np.nan_to_num(speed), np.ones(9) / 9, "same")
    reach = round(0.35 * rate_hz)
    top = [
        at
        for at in range(len(speed))
        if speed[at] == speed[max(at - reach, 0) : at + reach + 1].max()
    ]
    return [at for at in top if speed[at] > 0.6 * speed.max()]


def smoothed() -> Iterator[Fault]:
    """Give markers low-passed before: all, one, or for a part of the walk."""
    for hz in (6.0, 8.0, 10.0, 12.0, 15.0):
        yield Fault("smoothed", f"all at {hz:g} Hz", _all(_smooth(hz)))
    for name, hz in product((*FOOT, "ankle", "knee"), (4.0, 6.0)):
        yield Fault("smoothed", f"{name} at {hz:g} Hz", _of(name, _smooth(hz)))


def _smooth(hz: float) -> OneMarker:
    return lambda xyz, rate_hz: low_pass(xyz, cutoff_hz=hz, rate_hz=rate_hz)


def stretches() -> Iterator[Fault]:
    """Give one direction stretched against the others."""
    for factor, way in product((0.87, 0.92, 1.08, 1.15), ("up", "ahead")):
        yield Fault("stretched", f"{way} x{factor:g}", _stretched(factor, way))


def _stretched(factor: float, way: str) -> Change:
    def change(good: Good) -> Trial | None:
        axis = dict(zip(("up", "ahead"), _up_and_ahead(good), strict=True))[way]
        by = np.where(np.arange(3) == axis, factor, 1.0)
        trial = _all(lambda xyz, _: xyz * by)(good)
        return None if trial is None else replace(trial, plates=())

    return change


def clocks() -> Iterator[Fault]:
    """Give frames lost, doubled and made up between others."""
    for n_lost in (5, 20):
        yield Fault("frames lost", f"{n_lost} once", _kept(_without_some(n_lost)))
    yield Fault("frames lost", "one in 5", _kept(lambda n: np.flatnonzero(np.arange(n) % 5 != 2)))
    yield Fault("frames lost", "one in 10", _kept(lambda n: np.flatnonzero(np.arange(n) % 10 != 2)))
    yield Fault("frames doubled", "every other", _kept(lambda n: 2 * (np.arange(n) // 2)))
    yield Fault("frames doubled", "one in 10", _kept(lambda n: np.sort(np.r_[0:n, 5:n:10])))
    yield Fault("frames doubled", "held for 10", _kept(_held(10)))
    for every in (2, 4):
        yield Fault("made up between", f"one in {every} was seen", _all(_between(every)))
    for factor in (0.5, 0.8, 1 / 1.2, 1.2, 2.0):
        yield Fault("rate written", f"x{factor:.3g}", _rated(factor))


def _without_some(n_lost: int) -> Callable[[int], IntArray]:
    return lambda n: np.delete(np.arange(n), np.r_[n // 2 : n // 2 + n_lost])


def _held(n_held: int) -> Callable[[int], IntArray]:
    return lambda n: np.r_[0 : n // 2, np.full(n_held, n // 2), n // 2 + n_held : n]


def _kept(which: Callable[[int], IntArray]) -> Change:
    def change(good: Good) -> Trial:
        frames = which(good.trial.n_frames)
        markers = {label: xyz[frames] for label, xyz in good.trial.markers.items()}
        trial = good.trial
        return replace(
            trial, n_frames=len(frames), markers=markers, angles={}, plates=(), events=()
        )

    return change


def _between(every: int) -> OneMarker:
    def change(xyz: FloatArray, _: float) -> FloatArray:
        at = np.arange(len(xyz))
        return np.stack([np.interp(at, at[::every], axis[::every]) for axis in xyz.T], axis=1)

    return change


def _rated(factor: float) -> Change:
    return lambda good: replace(
        good.trial, rate_hz=factor * good.trial.rate_hz, plates=(), events=()
    )


def short_exchanges() -> Iterator[Fault]:
    """Give two markers exchanged for some frames, and neighbours all along."""
    pairs = (
        ("left_heel", "left_toe"),
        ("left_toe", "left_metatarsal_5"),
        ("left_toe", "left_metatarsal_2"),
        ("left_metatarsal_1", "left_metatarsal_5"),
        ("left_knee", "left_knee_medial"),
        ("left_ankle", "left_heel"),
        ("left_ankle", "left_ankle_medial"),
        ("left_heel", "right_heel"),
        ("left_toe", "right_toe"),
        ("left_knee", "right_knee"),
        ("left_ankle", "right_ankle"),
        ("left_asis", "right_asis"),
    )
    for (one, two), seconds in product(pairs, (0.1, 0.3, 1.0)):
        yield Fault("exchanged", f"{one} and {two} {seconds:g} s", _exchanged(one, two, seconds))


def _exchanged(one: str, two: str, seconds: float) -> Change:
    def change(good: Good) -> Trial | None:
        if not {one, two} <= good.labels.keys():
            return None
        trial = good.trial
        markers = dict(trial.markers)
        first, second = good.labels[one], good.labels[two]
        seen = np.flatnonzero(~np.isnan(markers[first][:, 0] + markers[second][:, 0]))
        if not len(seen):
            return None
        start = seen[int(0.4 * len(seen))]
        frames = slice(start, start + round(seconds * trial.rate_hz))
        pair = markers[first].copy(), markers[second].copy()
        markers[first], markers[second] = pair[0].copy(), pair[1].copy()
        markers[first][frames], markers[second][frames] = pair[1][frames], pair[0][frames]
        return replace(trial, markers=markers)

    return change


def units_and_axes() -> Iterator[Fault]:
    """Give markers of another scale, axes turned round, walks backwards and up a slope."""
    for name, factor in product(("heel", "toe", "ankle", "knee"), (0.1, 0.95, 1.1)):
        yield Fault("another scale", f"{name} x{factor:g}", _of(name, _scaled(factor)))
    for way in ("up", "ahead"):
        yield Fault("axis mirrored", way, _stretched(-1.0, way))
    yield Fault("walks backwards", "all along", _backwards)
    yield Fault("rises", "0.1 m in a metre", _slope)


def _scaled(factor: float) -> OneMarker:
    return lambda xyz, _: factor * xyz


def _backwards(good: Good) -> Trial:
    trial = good.trial
    markers = {label: xyz[::-1] for label, xyz in trial.markers.items()}
    return replace(trial, markers=markers, plates=(), events=())


def _slope(good: Good) -> Trial | None:
    up, ahead = _up_and_ahead(good)

    def raised(xyz: FloatArray, _: float) -> FloatArray:
        out = xyz.copy()
        out[:, up] += 0.1 * xyz[:, ahead]
        return out

    trial = _all(raised)(good)
    return None if trial is None else replace(trial, plates=())


def unseen() -> Iterator[Fault]:
    """Give markers that are gone in every swing, or where the foot strikes."""
    for name in (*FOOT, "ankle", "knee"):
        yield Fault("gone in swing", name, _of(name, _gone(0.3, 0.0)))
        yield Fault("gone in swing", f"{name} 0.08 s", _of(name, _gone(0.08, 0.0)))
        yield Fault("gone after swing", name, _of(name, _gone(0.08, 0.2)))
        yield Fault("gone before swing", name, _of(name, _gone(0.08, -0.2)))


def _gone(seconds: float, later_s: float) -> OneMarker:
    def change(xyz: FloatArray, rate_hz: float) -> FloatArray:
        out = xyz.copy()
        for middle in _swings(xyz, rate_hz):
            start = middle + round((later_s - seconds / 2) * rate_hz)
            out[max(start, 0) : max(start + round(seconds * rate_hz), 0)] = np.nan
        return out

    return change


def plates() -> Iterator[Fault]:
    """Give force plates that were read or set up wrongly."""
    changes: dict[str, Callable[[ForcePlate], ForcePlate]] = {
        "corners rolled by one": lambda p: replace(p, corners_m=np.roll(p.corners_m, 1, axis=0)),
        "corners 1 m off": lambda p: replace(p, corners_m=p.corners_m + [1.0, 0.0, 0.0]),
        "offset 30 N": lambda p: replace(p, force_n=p.force_n + [0.0, 0.0, 30.0]),
        "offset -30 N": lambda p: replace(p, force_n=p.force_n - [0.0, 0.0, 30.0]),
        "drift to 60 N": lambda p: replace(
            p, force_n=p.force_n + np.linspace(0, 60, len(p.force_n))[:, None] * [0, 0, 1]
        ),
        "x and z exchanged": lambda p: replace(p, force_n=p.force_n[:, ::-1]),
        "turned upside down": lambda p: replace(p, force_n=-p.force_n),
        "a tenth of the force": lambda p: replace(p, force_n=p.force_n / 10),
        "filtered at 5 Hz": lambda p: replace(
            p, force_n=low_pass(p.force_n, cutoff_hz=5.0, rate_hz=p.rate_hz)
        ),
        "50 ms late": lambda p: replace(
            p, force_n=np.roll(p.force_n, round(0.05 * p.rate_hz), axis=0)
        ),
        "150 ms late": lambda p: replace(
            p, force_n=np.roll(p.force_n, round(0.15 * p.rate_hz), axis=0)
        ),
        "a stick strikes it": _with_stick,
    }
    for name, change in changes.items():
        yield Fault("plates", name, _plated(lambda ps, c=change: tuple(map(c, ps))))
    yield Fault("plates", "exchanged", _plated(_exchange_plates))


def _with_stick(plate: ForcePlate) -> ForcePlate:
    force = plate.force_n.copy()
    loaded = np.flatnonzero(force[:, 2] > 0.5 * force[:, 2].max())
    start = max(loaded[0] - round(0.25 * plate.rate_hz), 0)
    force[start : loaded[0], 2] += 60.0
    return replace(plate, force_n=force)


def _exchange_plates(plates: tuple[ForcePlate, ...]) -> tuple[ForcePlate, ...]:
    forces = [plate.force_n for plate in plates]
    centres = [plate.centre_of_pressure_m for plate in plates]
    return tuple(
        replace(plate, force_n=force, centre_of_pressure_m=centre)
        for plate, force, centre in zip(plates, forces[::-1], centres[::-1], strict=True)
    )


def _plated(change: Callable[[tuple[ForcePlate, ...]], tuple[ForcePlate, ...]]) -> Change:
    def changed(good: Good) -> Trial | None:
        return replace(good.trial, plates=change(good.trial.plates)) if good.trial.plates else None

    return changed

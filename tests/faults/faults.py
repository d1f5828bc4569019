"""What goes wrong with recordings in ordinary ways, as changes to good ones."""

from __future__ import annotations

import struct
import tempfile
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import permutations, product
from pathlib import Path

import numpy as np

from gaittrack.simulate.c3d_writer import write_c3d
from gaittrack.trial import FloatArray, Trial
from tests.faults.good_recordings import Good, read

Change = Callable[[Good], Trial | None]
ANOTHER_SIZE = "a person of that size walks so: all lengths keep their proportions"
QUICK_STEPS = "slow walks played twice as fast are walks of short quick steps, as some people walk"
JUMP_POINTS = ("hip", "knee", "ankle", "heel", "toe", "metatarsal_5", "asis", "psis")
JUMP_SIZES_M = (0.1, 0.3, 1.0)
JUMP_SHARES = (0.35, 0.61)


class Refused(Exception):
    """The recording is not read: that is said."""


@dataclass(frozen=True)
class Fault:
    """One way of being wrong.

    Attributes
    ----------
    is_wrong : bool
        False for what changes nothing true, such as other axes: it must change no number.
    standing : callable, optional
        The standing trial that is given in the place of the right one.
    unknowable : str
        Why one recording by itself cannot show it; empty where it can.
    every : bool
        Planted in every walk of a condition; else in the first only.
    begins : float or None
        Share of the recording at which what is left of it begins; None where all of it is left.
    """

    kind: str
    name: str
    change: Change
    is_wrong: bool = True
    standing: Callable[[Trial], Trial] | None = None
    unknowable: str = ""
    every: bool = True
    begins: float | None = None

    def standing_of(self, right: Trial | None) -> Trial | None:
        """Return the standing trial to give; None where there is none."""
        return self.standing(right) if self.standing and right else right


def faults() -> Iterator[Fault]:
    """Give every fault of the battery."""
    yield from jumps()
    yield from exchanges()
    yield from absent_points()
    yield from sizes()
    yield from gaps()
    yield from cuts()
    yield from axes()


def jumps() -> Iterator[Fault]:
    """Give single frames of a marker moved: the 288 of the command."""
    for name, size_m, share in product(JUMP_POINTS, JUMP_SIZES_M, JUMP_SHARES):
        yield Fault(
            "one frame moved", f"{name} {size_m:g} m at {share:.0%}", _jump(name, size_m, share)
        )


def _jump(name: str, size_m: float, share: float, n_frames: int = 1) -> Change:
    def change(good: Good) -> Trial | None:
        label = _label(good, name)
        if label is None:
            return None
        seen = np.flatnonzero(~np.isnan(good.trial.markers[label][:, 0]))
        at = seen[int(share * len(seen))]
        seed = int(1000 * size_m) + len(name) + int(100 * share)
        way = np.random.default_rng(seed).standard_normal(3)
        return _moved(good.trial, {label: (slice(at, at + n_frames), size_m * _unit(way))})

    return change


def _unit(vector: FloatArray) -> FloatArray:
    return vector / np.linalg.norm(vector)


def _label(good: Good, name: str) -> str | None:
    found = (good.labels.get(key) for key in (f"left_{name}", f"right_{name}", name))
    return next((label for label in found if label is not None), None)


def _moved(trial: Trial, moves: Mapping[str, tuple[slice, FloatArray]]) -> Trial:
    markers = {label: xyz.copy() for label, xyz in trial.markers.items()}
    for label, (frames, by) in moves.items():
        markers[label][frames] += by
    return replace(trial, markers=markers)


def exchanges() -> Iterator[Fault]:
    """Give names exchanged for part of the walk, or for all of it."""
    spans = {"from half on": (0.5, 1.0), "for 0.3 of it": (0.4, 0.7), "all along": (0.0, 1.0)}
    pairs = {
        "heel and toe": [("left_heel", "left_toe")],
        "heel and forefoot": [("left_heel", "left_metatarsal_5")],
        **{
            f"both {name}s": [(f"left_{name}", f"right_{name}")]
            for name in ("hip", "knee", "ankle", "heel", "toe", "asis")
        },
        "both legs": [
            (f"left_{name}", f"right_{name}")
            for name in ("hip", "knee", "ankle", "heel", "toe", "metatarsal_5", "metatarsal_1")
        ],
        "both feet": [
            (f"left_{name}", f"right_{name}")
            for name in ("ankle", "heel", "toe", "metatarsal_5", "metatarsal_1")
        ],
        "both sides": [
            (f"left_{name}", f"right_{name}")
            for name in (
                *("hip", "knee", "knee_medial", "ankle", "ankle_medial", "heel", "toe"),
                *("metatarsal_5", "metatarsal_2", "metatarsal_1", "asis", "psis", "fibula_head"),
            )
        ],
    }
    for (what, pair), (when, span) in product(pairs.items(), spans.items()):
        yield Fault("names exchanged", f"{what} {when}", _exchange(pair, span))


def _exchange(pairs: list[tuple[str, str]], span: tuple[float, float]) -> Change:
    def change(good: Good) -> Trial | None:
        markers = {label: xyz.copy() for label, xyz in good.trial.markers.items()}
        n = good.trial.n_frames
        frames = slice(int(span[0] * n), int(span[1] * n))
        known = [(one, two) for one, two in pairs if {one, two} <= good.labels.keys()]
        for one, two in known:
            first, second = markers[good.labels[one]], markers[good.labels[two]]
            first[frames], second[frames] = second[frames].copy(), first[frames].copy()
        return replace(good.trial, markers=markers) if known else None

    return change


def absent_points() -> Iterator[Fault]:
    """Give landmarks that are missing in the whole recording."""
    for name in ("toe", "sacrum", "psis", "heel", "hip", "metatarsal_5"):
        yield Fault("point absent", name, _without(name))


def _without(name: str) -> Change:
    def change(good: Good) -> Trial | None:
        gone = {
            good.labels[key]
            for key in (f"left_{name}", f"right_{name}", name)
            if key in good.labels
        }
        kept = {label: xyz for label, xyz in good.trial.markers.items() if label not in gone}
        return replace(good.trial, markers=kept) if gone else None

    return change


def sizes() -> Iterator[Fault]:
    """Give wrong scales, units, rates and clocks, and a tilted volume."""
    for factor in (0.5, 0.8, 1.25, 2.0, 10.0, 0.1, 1000.0, 0.001):
        why = ANOTHER_SIZE if 0.4 < factor < 1.5 else ""
        yield Fault("scale", f"x{factor:g}", _scaled(factor), unknowable=why)
    for factor in (0.5, 1.25):
        yield Fault("scale against the header", f"x{factor:g}", _scaled_in_file(factor))
    for rate_hz in (50.0, 60.0, 200.0):
        yield Fault("resampled", f"to {rate_hz:g} Hz", _resampled(rate_hz), is_wrong=False)
    for factor in (0.3, 0.5, 2.0):
        why = QUICK_STEPS if factor > 1 else ""
        yield Fault("rate written wrong", f"x{factor:g}", _rated(factor), unknowable=why)
    yield Fault("clock", "time reversed", _reversed)
    for degrees in (1.5, 5.0):
        yield Fault("volume tilted", f"{degrees:g} deg", _tilted(degrees))
    for noise_m in (0.001, 0.002, 0.004):
        yield Fault("noise", f"{1000 * noise_m:g} mm", _noisy(noise_m))


def _scaled(factor: float) -> Change:
    return lambda good: _mapped(good.trial, lambda xyz: factor * xyz)


def _scaled_in_file(factor: float) -> Change:
    """Write the recording, its scale in the parameters other than in the header; read it again."""

    def change(good: Good) -> Trial | None:
        if good.trial.n_dimensions < 3:
            return None
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "walk.c3d"
            markers = {label: factor * xyz for label, xyz in good.trial.markers.items()}
            write_c3d(path, rate_hz=good.trial.rate_hz, markers=markers, storage="integer")
            content = bytearray(path.read_bytes())
            (scale,) = struct.unpack_from("<f", content, 12)
            struct.pack_into("<f", content, 12, scale / factor)
            path.write_bytes(bytes(content))
            return read(path)

    return change


def _mapped(trial: Trial, change: Callable[[FloatArray], FloatArray]) -> Trial:
    return replace(trial, markers={label: change(xyz) for label, xyz in trial.markers.items()})


def _resampled(rate_hz: float) -> Change:
    def change(good: Good) -> Trial:
        old = np.arange(good.trial.n_frames) / good.trial.rate_hz
        new = np.arange(int(old[-1] * rate_hz) + 1) / rate_hz
        markers = {
            label: np.stack([np.interp(new, old, axis) for axis in xyz.T], axis=1)
            for label, xyz in good.trial.markers.items()
        }
        return replace(good.trial, rate_hz=rate_hz, n_frames=len(new), markers=markers, angles={})

    return change


def _rated(factor: float) -> Change:
    return lambda good: replace(
        good.trial, rate_hz=factor * good.trial.rate_hz, plates=(), events=()
    )


def _reversed(good: Good) -> Trial:
    return replace(_mapped(good.trial, lambda xyz: xyz[::-1]), plates=(), events=())


def _tilted(degrees: float) -> Change:
    angle = np.radians(degrees)

    def change(good: Good) -> Trial:
        up, ahead = _up_and_ahead(good)
        turn = np.eye(3)
        turn[up, up] = turn[ahead, ahead] = np.cos(angle)
        turn[up, ahead], turn[ahead, up] = np.sin(angle), -np.sin(angle)
        return replace(_mapped(good.trial, lambda xyz: xyz @ turn.T), plates=())

    return change


def _up_and_ahead(good: Good) -> tuple[int, int]:
    heel = good.trial.markers[good.labels.get("left_heel", good.labels["right_heel"])]
    hip = next(good.trial.markers[good.labels[k]] for k in good.labels if "hip" in k or "asis" in k)
    up = int(np.abs(np.nanmedian(hip - heel, axis=0)).argmax())
    span = np.where(np.arange(3) == up, 0, np.nanmax(heel, axis=0) - np.nanmin(heel, axis=0))
    return up, int(span.argmax())


def _noisy(noise_m: float) -> Change:
    def change(good: Good) -> Trial:
        rng = np.random.default_rng(5)
        return _mapped(good.trial, lambda xyz: xyz + noise_m * rng.standard_normal(xyz.shape))

    return change


def gaps() -> Iterator[Fault]:
    """Give markers that are not seen for a while."""
    for name, seconds in product(("heel", "toe", "knee", "asis"), (0.1, 0.2)):
        yield Fault("gap", f"{name} {seconds:g} s", _gap((name,), 0.5, seconds))
    yield Fault(
        "gap", "heel and toe half the walk", _gap(("heel", "toe", "metatarsal_5"), 0.3, None)
    )


def _gap(names: tuple[str, ...], share: float, seconds: float | None) -> Change:
    def change(good: Good) -> Trial | None:
        trial = good.trial
        first = int(share * trial.n_frames)
        length = trial.n_frames // 2 if seconds is None else round(seconds * trial.rate_hz)
        markers = {label: xyz.copy() for label, xyz in trial.markers.items()}
        for name in names:
            label = _label(good, name)
            if label is not None:
                markers[label][first : first + length] = np.nan
        return replace(trial, markers=markers)

    return change


def cuts() -> Iterator[Fault]:
    """Give recordings that begin or end elsewhere: fewer strides, nothing wrong."""
    yield Fault("cut", "1.2 strides", _cut(0.3, 0.3 + 0.32), is_wrong=False, begins=0.3)
    yield Fault("cut", "begins in mid-stance", _cut(0.13, 1.0), is_wrong=False, begins=0.13)


def _cut(first: float, last: float) -> Change:
    def change(good: Good) -> Trial:
        kept = slice(int(first * good.trial.n_frames), int(last * good.trial.n_frames))
        return replace(
            good.trial,
            n_frames=kept.stop - kept.start,
            markers={label: xyz[kept] for label, xyz in good.trial.markers.items()},
            angles={},
            plates=(),
            events=(),
        )

    return change


def axes() -> Iterator[Fault]:
    """Give the 24 ways of turning the axes, and a mirror, which is wrong."""
    for order in permutations(range(3)):
        for signs in product((1.0, -1.0), repeat=3):
            turn = np.zeros((3, 3))
            turn[range(3), order] = signs
            is_mirror = np.linalg.det(turn) < 0
            if not is_mirror:
                yield Fault("axes turned", f"{order} {signs}", _turned(turn), is_wrong=False)
    yield Fault("axes mirrored", "sideways", _turned(np.diag([1.0, -1.0, 1.0])))


def _turned(turn: FloatArray) -> Change:
    return lambda good: replace(_mapped(good.trial, lambda xyz: xyz @ turn.T), plates=())

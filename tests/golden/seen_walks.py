"""A walk, what is true of it, and the same walk as a poorer laboratory would have seen it."""

from __future__ import annotations

import zlib
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from scipy.interpolate import CubicSpline

from gaittrack.kinematics.gaps import runs
from gaittrack.kinematics.landmarks import read_label
from gaittrack.trial import Event, FloatArray, Trial

SINK_M_S = 0.1
"""How fast a heel begins to sink at contact, slower and slower; less than it falls before."""
RELEASE_S = 0.15
"""How long before toe-off it has come back."""


@dataclass(frozen=True)
class Seen:
    """A trial without plates and marks, and its true events.

    Attributes
    ----------
    complete : bool
        Whether the truth holds every event of the trial.
    """

    walk: str
    condition: str
    trial: Trial
    truth: tuple[Event, ...]
    complete: bool = False


View = Callable[[Seen], Seen]


def _changed(seen: Seen, change: Callable[[str, FloatArray], FloatArray]) -> Seen:
    markers = {label: change(label, xyz) for label, xyz in seen.trial.markers.items()}
    return replace(seen, trial=replace(seen.trial, markers=markers))


def resampled(seen: Seen, *, rate_hz: float, phase: float = 0.0) -> Seen:
    """Return a walk as a slower camera sees it, its first frame ``phase`` frames later."""
    trial = seen.trial
    start_s = phase / rate_hz
    n_frames = int((trial.duration_s - start_s) * rate_hz) + 1
    times_s = start_s + np.arange(n_frames) / rate_hz
    markers = {label: _sampled(xyz, trial.rate_hz, times_s) for label, xyz in trial.markers.items()}
    slower = replace(
        trial, rate_hz=rate_hz, n_frames=n_frames, markers=markers, angles={}, curves=()
    )
    return replace(seen, trial=slower, truth=_earlier(seen.truth, start_s))


def _sampled(xyz: FloatArray, rate_hz: float, times_s: FloatArray) -> FloatArray:
    out = np.full((len(times_s), 3), np.nan)
    own_s = np.arange(len(xyz)) / rate_hz
    for start, stop in runs(~np.isnan(xyz).any(axis=1)):
        if stop - start >= 4:
            inside = (times_s >= own_s[start]) & (times_s <= own_s[stop - 1])
            out[inside] = CubicSpline(own_s[start:stop], xyz[start:stop])(times_s[inside])
    return out


def _earlier(events: tuple[Event, ...], by_s: float) -> tuple[Event, ...]:
    return tuple(replace(event, time_s=event.time_s - by_s) for event in events)


def begun_at(seen: Seen, start_s: float) -> Seen:
    """Return the walk as if the recording had begun later."""
    trial = seen.trial
    first = int(round(start_s * trial.rate_hz))
    markers = {label: xyz[first:] for label, xyz in trial.markers.items()}
    later = replace(trial, n_frames=trial.n_frames - first, markers=markers, angles={}, curves=())
    return replace(seen, trial=later, truth=_earlier(seen.truth, first / trial.rate_hz))


def noisy(seen: Seen, noise_m: float) -> Seen:
    """Return the walk with as much more scatter in every coordinate."""
    rng = np.random.default_rng(zlib.crc32(f"{seen.walk} {seen.trial.n_frames}".encode()))
    return _changed(seen, lambda _, xyz: xyz + noise_m * rng.standard_normal(xyz.shape))


def without(seen: Seen, landmarks: tuple[str, ...]) -> Seen:
    """Return the walk without the markers of some landmarks of the foot."""
    trial = seen.trial
    kept = {label: xyz for label, xyz in trial.markers.items() if _landmark(label) not in landmarks}
    return replace(seen, trial=replace(trial, markers=kept))


def has_front(seen: Seen) -> bool:
    """Whether a marker in front of the ankle is left."""
    return any(_landmark(label).startswith(("toe", "metatarsal")) for label in seen.trial.markers)


def _landmark(label: str) -> str:
    reading = read_label(label)
    return reading.landmark if reading is not None else ""


def sinking(seen: Seen, depth_m: float) -> Seen:
    """Return a made-up walk (Z up) whose heels and ankles go on sinking after contact."""
    trial = seen.trial
    times_s = np.arange(trial.n_frames) / trial.rate_hz
    sunk = {side: _sunk(seen, side, times_s, depth_m / SINK_M_S) for side in ("left", "right")}

    def sink(label: str, xyz: FloatArray) -> FloatArray:
        share = {"heel": 1.0, "ankle": 0.6}.get(_landmark(label), 0.0)
        down = np.zeros_like(xyz)
        down[:, 2] = -share * depth_m * sunk[label.split()[0]] if share else 0.0
        return xyz + down

    return _changed(seen, sink)


def _sunk(seen: Seen, side: str, times_s: FloatArray, sink_s: float) -> FloatArray:
    """Return how far a heel has sunk, 0 to 1."""
    own = [event for event in seen.truth if event.side == side]
    total = np.zeros(len(times_s))
    contacts = [event.time_s for event in own if event.kind == "initial_contact"]
    offs = [event.time_s for event in own if event.kind == "toe_off"]
    for number, off_s in enumerate(sorted(offs)):
        before = [time_s for time_s in contacts if time_s < off_s]
        if not before and number:
            continue
        contact_s = max(before, default=-9.0)
        until_s = off_s - RELEASE_S
        total += (
            (1.0 - np.exp(-np.maximum(times_s - contact_s, 0.0) / sink_s))
            * _smooth((until_s - times_s) / RELEASE_S + 1.0)
            * (times_s < off_s)
            * (times_s >= contact_s)
        )
    return total


def _smooth(share: FloatArray) -> FloatArray:
    clipped = np.clip(share, 0.0, 1.0)
    risen: FloatArray = 0.5 * (1.0 - np.cos(np.pi * clipped))
    return risen

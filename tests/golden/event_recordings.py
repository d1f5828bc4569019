"""Recorded walks over plates: what is true of them, and the same walks seen otherwise.

Plates and marks are taken out before anything is detected; the truth is 20 N on the plates, of the
file itself or of the ``.forces`` table beside it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache, partial
from pathlib import Path

import numpy as np

from gaittrack.kinematics.gaps import runs
from gaittrack.read import read_trial
from gaittrack.trial import Event, FloatArray, Trial
from gaittrack.vocabulary import Side
from tests.golden.seen_walks import Seen, View, begun_at, has_front, noisy, resampled, without

REFERENCE = Path(__file__).parents[1] / "reference"
THRESHOLD_N = 20.0
SHORTEST_LOAD_S = 0.15
FORCES_HEADER_LINES, FORCES_RATE_HZ, FORCES_COLUMNS = 5, 450.0, 7


@dataclass(frozen=True, eq=False)
class Recording:
    """One recorded walk.

    Attributes
    ----------
    plate_sides : dict of int to Side
        By the names of the markers, right or wrong.
    shared : tuple of int
        Plates that the other foot steps on before the first has left: only the contact is true.
    """

    name: str
    plate_sides: dict[int, Side]
    shared: tuple[int, ...] = ()


RECORDINGS = (
    Recording("walk_two_plates_100hz.c3d", {0: "left", 1: "right"}),
    Recording("walk_overground_two_plates_100hz.c3d", {0: "left", 1: "right"}, shared=(0,)),
    Recording("walk_from_standing_150hz.trc", {2: "left", 3: "right", 4: "right", 5: "left"}),
    Recording("walk_right_leg_with_force_a_150hz.txt", {0: "right"}),
    Recording("walk_right_leg_with_force_b_150hz.txt", {0: "right"}),
)
VIEWS: dict[str, tuple[View, ...]] = {
    "as recorded": (lambda seen: seen,),
    "at 60 Hz": tuple(partial(resampled, rate_hz=60.0, phase=each / 8) for each in range(8)),
    "at 50 Hz": tuple(partial(resampled, rate_hz=50.0, phase=each / 8) for each in range(8)),
    "1 mm more scatter": (partial(noisy, noise_m=0.001),),
    "begun later": tuple(partial(begun_at, start_s=each / 10) for each in range(1, 7)),
    "5th metatarsal the only front": (
        partial(without, landmarks=("toe", "metatarsal_1", "metatarsal_2")),
    ),
    "ankle for heel": (partial(without, landmarks=("heel",)),),
}


def recorded() -> Iterator[Seen]:
    """Return every recording in every view of it."""
    for recording in RECORDINGS:
        for condition, views in VIEWS.items():
            for view in views:
                seen = view(whole(recording))
                if has_front(seen):
                    yield replace(seen, condition=condition)


@cache
def whole(recording: Recording) -> Seen:
    """Return a recording without its plates and marks."""
    trial = read_trial(REFERENCE / recording.name)
    bare = replace(trial, plates=(), events=())
    return Seen(recording.name, "as recorded", bare, tuple(_true_events(recording, trial)))


def _true_events(recording: Recording, trial: Trial) -> Iterator[Event]:
    loads = _loads(recording, trial)
    for number, side in recording.plate_sides.items():
        load, rate_hz = loads[number]
        for start, stop in runs(load > THRESHOLD_N):
            if stop - start < SHORTEST_LOAD_S * rate_hz:
                continue
            if start > 0:
                at_s = _crossing_s(load, start, rate_hz)
                yield Event(at_s, side, "initial_contact", "force")
            if stop < len(load) and number not in recording.shared:
                yield Event(_crossing_s(load, stop, rate_hz), side, "toe_off", "force")


def _crossing_s(load: FloatArray, after: int, rate_hz: float) -> float:
    before_n, after_n = load[after - 1], load[after]
    return float((after - 1 + (THRESHOLD_N - before_n) / (after_n - before_n)) / rate_hz)


def _loads(recording: Recording, trial: Trial) -> list[tuple[FloatArray, float]]:
    """Return vertical force and rate of every plate."""
    if trial.plates:
        up = int(np.argmax(sum(np.abs(plate.force_n).sum(axis=0) for plate in trial.plates)))
        return [(plate.force_n[:, up], plate.rate_hz) for plate in trial.plates]
    text = (REFERENCE / recording.name).with_suffix(".forces").read_text(encoding="utf-8")
    table = np.loadtxt(text.splitlines()[FORCES_HEADER_LINES:])
    return [(table[:, column], FORCES_RATE_HZ) for column in range(2, 51, FORCES_COLUMNS)]

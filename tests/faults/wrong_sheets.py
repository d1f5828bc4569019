"""Sheets of joint angles that were filled in wrongly, as changes to good ones."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

import numpy as np

from gaittrack.errors import GaitTrackError
from gaittrack.trial import FloatArray, Trial
from gaittrack.vocabulary import EVENT_KINDS, SIDES
from tests.faults.faults import Change, Fault, Refused
from tests.faults.good_recordings import SAMPLES, Good, read

MIRRORED = "the mirror image of a walk is a walk: nothing in angles tells left from right"
NO_ZERO = "where zero is in a sheet is known to who made it: ankles differ by as much"
SWAPPED = {"left": "right", "right": "left"}
NAMES = {
    "ankle": "ankle dorsiflexion",
    "knee": "knee flexion",
    "hip_thigh_vertical": "hip flexion thigh-vertical",
}
EVENTS = {"initial_contact": "initial contact", "toe_off": "toe-off"}
Columns = Mapping[str, FloatArray]


def good_sheets() -> Iterator[Good]:
    """Give sheets that are right: without and with a brace."""
    for condition in ("without-brace", "with-brace"):
        path = SAMPLES / "P03" / "visit-1" / condition / "walk-2.csv"
        yield Good(f"P03 {condition}", read(path))


def sheet_faults() -> Iterator[Fault]:
    """Give sheets with columns exchanged, signs turned, other units and other zeros."""
    yield _fault("sides exchanged in all columns", _sides("ankle", "knee", "hip", "contact", "toe"))
    yield _fault("sides exchanged in the angles", _sides("ankle", "knee", "hip"))
    yield _fault("sides exchanged in the events", _sides("contact", "toe-off"))
    yield _fault("sides exchanged in the ankles", _sides("ankle"))
    yield _fault("sides exchanged in the knees", _sides("knee"))
    yield _fault("contact and toe-off exchanged", _renamed("initial contact", "toe-off"))
    yield _fault("hip and knee exchanged", _renamed("knee", "hip"))
    yield _fault("ankle and hip exchanged", _renamed("ankle", "hip"))
    for joint in ("ankle", "knee", "hip"):
        yield _fault(f"sign of the {joint}s turned", _values(joint, lambda deg: -deg))
    yield _fault("ankles at 90", _values("ankle", lambda deg: deg + 90.0))
    yield _fault("ankles 10 deg off", _values("ankle", lambda deg: deg + 10.0))
    yield _fault("knees from 180 down", _values("knee", lambda deg: 180.0 - deg))
    yield _fault("in radians, said to be degrees", _values(" ", np.radians))
    yield _fault("time reversed", lambda columns: {k: v[::-1] for k, v in columns.items()})
    yield _fault("events 0.2 s late", _late(0.2))


def _fault(name: str, change: Callable[[Columns], Columns]) -> Fault:
    why = MIRRORED if "in all columns" in name else NO_ZERO if "10 deg off" in name else ""
    return Fault("sheet", name, _read_again(change), unknowable=why)


def _read_again(change: Callable[[Columns], Columns]) -> Change:
    def changed(good: Good) -> Trial | None:
        rows = change(columns_of(good.trial))
        time_s = np.arange(good.trial.n_frames) / good.trial.rate_hz
        table = np.column_stack([time_s, *rows.values()])
        header = ",".join(["time (s)", *rows])
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "walk.csv"
            np.savetxt(path, table, fmt="%.4f", delimiter=",", header=header, comments="")
            try:
                return read(path)
            except GaitTrackError as error:
                raise Refused from error

    return changed


def columns_of(trial: Trial) -> dict[str, FloatArray]:
    """Return the columns of a sheet of a trial: angles, and 1 in the frame of each event."""
    columns = {
        f"{side} {NAMES[joint]} (deg)": signal.values
        for (side, joint), signal in trial.angles.items()
    }
    for side in SIDES:
        for kind in EVENT_KINDS:
            marks = np.zeros(trial.n_frames)
            for event in trial.events:
                if (event.side, event.kind) == (side, kind):
                    marks[round(event.time_s * trial.rate_hz)] = 1.0
            columns[f"{side} {EVENTS[kind]}"] = marks
    return columns


def _sides(*words: str) -> Callable[[Columns], Columns]:
    def name_of(name: str) -> str:
        side, rest = name.split(" ", 1)
        return f"{SWAPPED[side]} {rest}" if any(word in rest for word in words) else name

    return lambda columns: {name_of(name): values for name, values in columns.items()}


def _renamed(one: str, two: str) -> Callable[[Columns], Columns]:
    def change(columns: Columns) -> Columns:
        found = dict(columns)
        for side in SIDES:
            first, second = (
                next(name for name in columns if name.startswith(f"{side} {word}"))
                for word in (one, two)
            )
            found[first], found[second] = columns[second], columns[first]
        return found

    return change


def _values(word: str, change: Callable[[FloatArray], FloatArray]) -> Callable[[Columns], Columns]:
    return lambda columns: {
        name: change(values) if word in name and "(deg)" in name else values
        for name, values in columns.items()
    }


def _late(seconds: float) -> Callable[[Columns], Columns]:
    return lambda columns: {
        name: values if "(deg)" in name else np.roll(values, round(100 * seconds))
        for name, values in columns.items()
    }

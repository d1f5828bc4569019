"""Whether the events of a table lie in the recording they are given with.

In come a table and the trial, out come its events inside the recording, and what is said of the
others: a person wrote milliseconds or frames where seconds are read, or took another recording.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from gaittrack.errors import DataError, LayoutError, Problem
from gaittrack.read.events_table import read_events_csv
from gaittrack.reasons import Reason
from gaittrack.trial import Event, Trial

LEAST_SHARE = 0.5
"""Share of the events that must lie in the recording; own choice: fewer are of something else."""
LATE_S = 0.05
"""How far past the last frame a rounded time may lie."""


def given_events(
    path: Path, trial: Trial, *, sha256: str = ""
) -> tuple[tuple[Event, ...], tuple[Problem, ...]]:
    """Read the events given with a recording.

    Parameters
    ----------
    sha256 : str
        Hash that the table's bytes have, where it is known.

    Returns
    -------
    events : tuple of Event
        Those inside the recording, in time order.
    problems : tuple of Problem
        One when some lie outside.

    Raises
    ------
    BadFileError
        One of its subclasses: the table cannot be read, most of its events lie outside of the
        recording, or the file holds curves over 0-100 % of a cycle, which have no time.
    """
    if trial.n_frames == 0:
        raise _said(LayoutError, Reason("events_given_with_curves"), path)
    events = read_events_csv(
        path, rate_hz=trial.rate_hz, first_frame=trial.first_frame, sha256=sha256
    )
    inside = tuple(event for event in events if _is_inside(event.time_s, trial))
    if len(inside) == len(events):
        return inside, ()
    outside = Reason(
        "events_outside",
        n=len(events) - len(inside),
        n_all=len(events),
        first_s=events[0].time_s,
        last_s=events[-1].time_s,
        duration_s=trial.duration_s,
    )
    if len(inside) < LEAST_SHARE * len(events):
        raise _said(DataError, outside, path, action=_likely_fault(events, trial))
    return inside, (Problem("warning", outside, path.name),)


def _said(
    kind: type[DataError | LayoutError], reason: Reason, path: Path, action: Reason | None = None
) -> DataError | LayoutError:
    told = reason.say(part="action") if action is None else action.say()
    return kind(reason.say(), where=path.name, action=told)


def _is_inside(time_s: float, trial: Trial) -> bool:
    return 0.0 <= time_s <= trial.duration_s + LATE_S


def _likely_fault(events: Sequence[Event], trial: Trial) -> Reason:
    """Return what to do: the unit in which most of the events lie in the recording."""
    frames_s = [(event.time_s - trial.first_frame) / trial.rate_hz for event in events]
    if _most_inside(frames_s, trial):
        return Reason("events_in_frames")
    if _most_inside([event.time_s / 1000 for event in events], trial):
        return Reason("events_in_milliseconds")
    return Reason("events_of_another_recording")


def _most_inside(times_s: Sequence[float], trial: Trial) -> bool:
    inside = [time_s for time_s in times_s if _is_inside(time_s, trial)]
    return len(inside) >= LEAST_SHARE * len(times_s)

"""A trial as it is when somebody corrects it.

In comes a trial, out comes a :class:`LookedTrial`: what it is measured from, what was corrected
before, which events and strides it has; read once, and asked for what a person names.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import Connection, select

from gaittrack.corrected import AddEvent, Change, ExcludeStride
from gaittrack.errors import StudyError
from gaittrack.events.agreement import SAME_EVENT_S
from gaittrack.pipeline import Recording
from gaittrack.reasons import from_plain
from gaittrack.study.checksums import damaged_result, events_hold
from gaittrack.study.results.keeping import KnownTrial
from gaittrack.study.results.sources import recording_of
from gaittrack.study.store import Study
from gaittrack.study.tables import CORRECTION, EVENT, RESULT, TRIAL
from gaittrack.trial import Event, EventId
from gaittrack.vocabulary import EventKind, Side, opposite

NEAR_S: Final = 0.02
"""A time names the event within this of it; own choice: two frames at 100 Hz."""


@dataclass(frozen=True, eq=False, slots=True)
class LookedTrial:
    """A trial as it is when somebody corrects it.

    Attributes
    ----------
    is_walk : bool
        A standing trial has no result of its own.
    recording : Recording
        What it is measured from, with the corrections that count.
    rows : tuple of dict
        Every correction in order, undone ones too, as rows of ``correction``.
    events : tuple of Event
        In use when it was last measured, in time order.
    cycles : dict of str to dict
        By id, as stored with the result.
    last_s : float
        Time of its last frame.
    """

    trial: KnownTrial
    is_walk: bool
    recording: Recording
    rows: tuple[dict[str, Any], ...]
    events: tuple[Event, ...]
    cycles: dict[str, dict[str, Any]]
    last_s: float

    def event_near(self, side: Side, kind: EventKind, time_s: float) -> EventId:
        """Return the event within 0.02 s of a time.

        Raises
        ------
        StudyError
            There is none; the message lists those of this side and kind.
        """
        near = [event for event in self._alike(side, kind) if abs(event.time_s - time_s) <= NEAR_S]
        if not near:
            raise self._no_event(side, kind, time_s)
        return min(near, key=lambda event: abs(event.time_s - time_s)).id

    def on_other_foot(self, event: EventId, *, reason: str) -> AddEvent:
        """Return what adds an event of the other foot half a stride after one of this foot.

        The stride is from this event to the next of its kind, else from the one before; where a
        walk has another rhythm the added event is to be moved.

        Raises
        ------
        StudyError
            There is no second event that says how long a stride is.
        """
        at_s = self.event_called(event).time_s
        times = [each.time_s for each in self._alike(event.side, event.kind)]
        later = [each for each in times if each > at_s]
        earlier = [each for each in times if each < at_s]
        if not later and not earlier:
            where = f"{self.trial.place}, {event.side} {event.kind}"
            raise StudyError.of("no_stride_to_copy_by", where=where, time_s=at_s)
        stride_s = min(later) - at_s if later else at_s - max(earlier)
        return AddEvent(opposite(event.side), event.kind, round(at_s + stride_s / 2, 4), reason)

    def stride(self, cycle: str, *, reason: str) -> ExcludeStride:
        """Return what leaves out a stride that is called ``left-02``.

        Raises
        ------
        StudyError
            There is none, or it is out already.
        """
        if cycle not in self.cycles:
            raise StudyError.of(
                "no_stride",
                where=self.trial.place,
                cycle=cycle,
                cycles=", ".join(self.cycles) or "none",
            )
        found = self.cycles[cycle]
        if found["reject_reasons"]:
            why = "; ".join(str(from_plain(each)) for each in found["reject_reasons"])
            raise StudyError.of("stride_out_already", where=self.trial.place, cycle=cycle, why=why)
        curve = cycle.rpartition("-")[2] if found["from_curve"] else None
        return ExcludeStride(found["side"], found["start_s"], curve, reason)

    def event_called(self, name: EventId) -> Event:
        """Return an event in use; raise when it is not there."""
        found = next((event for event in self.events if event.id == name), None)
        if found is None:
            raise self._no_event(name.side, name.kind, name.time_s)
        return found

    def refuse_second(self, new: AddEvent) -> None:
        """Refuse an event where one of its side and kind is near."""
        for event in self._alike(new.side, new.kind):
            if abs(event.time_s - new.time_s) < SAME_EVENT_S:
                raise StudyError.of(
                    "event_is_there_already",
                    where=f"{self.trial.place}, {new.side} {new.kind}",
                    time_s=event.time_s,
                )

    def refuse_passing(self, moved: EventId, new_time_s: float) -> None:
        """Refuse a time that lies beyond another event of the same foot.

        A toe-off before its contact, or a contact after its toe-off, is of another step.
        """
        first, last = sorted((moved.time_s, new_time_s))
        others = [each for each in self.events if each.side == moved.side and each.id != moved]
        passed = [each for each in others if first <= each.time_s <= last]
        if not passed:
            return
        nearest = min(passed, key=lambda each: abs(each.time_s - moved.time_s))
        raise StudyError.of(
            "event_would_pass_another",
            where=f"{self.trial.place}, {moved.side} {moved.kind} at {moved.time_s:.3f} s",
            new_time_s=new_time_s,
            kind=nearest.kind.replace("_", " "),
            time_s=nearest.time_s,
            from_s=max((e.time_s for e in others if e.time_s < moved.time_s), default=0.0),
            to_s=min((e.time_s for e in others if e.time_s > moved.time_s), default=self.last_s),
        )

    def refuse_outside(self, time_s: float) -> None:
        """Refuse a time at which nothing was recorded."""
        if not 0.0 <= time_s <= self.last_s:
            raise StudyError.of(
                "time_outside_recording", where=self.trial.place, time_s=time_s, last_s=self.last_s
            )

    def active(self) -> dict[int, tuple[dict[str, Any], Change]]:
        """Return the corrections that count, by number: row and change."""
        rows = [row for row in self.rows if not row["is_undone"]]
        pairs = zip(rows, self.recording.corrections, strict=True)
        return {row["id"]: (row, change) for row, change in pairs}

    def _alike(self, side: Side, kind: EventKind) -> list[Event]:
        return [event for event in self.events if (event.side, event.kind) == (side, kind)]

    def _no_event(self, side: Side, kind: EventKind, time_s: float) -> StudyError:
        times = ", ".join(f"{event.time_s:.3f}" for event in self._alike(side, kind))
        return StudyError.of(
            "no_such_event",
            where=f"{self.trial.place}, {side} {kind}",
            time_s=time_s,
            times=times or "none",
        )


def look_at(study: Study, trial: KnownTrial) -> LookedTrial:
    """Look at a trial to correct it: all that correcting asks of the study is read here, once.

    Raises
    ------
    DamagedResultError
        Its stored result does not hold.
    """
    with study.read() as connection:
        stored = select(RESULT.c.facts, RESULT.c.cycles).where(RESULT.c.trial_id == trial.id)
        result = connection.execute(stored).first()
        kind = connection.execute(select(TRIAL.c.kind).where(TRIAL.c.id == trial.id)).scalar()
        rows = corrections_of(connection, trial)
        recording = recording_of(connection, study, trial.id)
        if not events_hold(connection, trial.id):
            raise damaged_result(trial.place)
        events = _events(connection, trial)
    facts = json.loads(result.facts if result else "{}")
    rate_hz = facts.get("rate_hz")
    return LookedTrial(
        trial=trial,
        is_walk=kind == "walk",
        recording=recording,
        rows=tuple(rows),
        events=events,
        cycles={each["id"]: each for each in json.loads(result.cycles if result else "[]")},
        last_s=(facts["n_frames"] - 1) / rate_hz if rate_hz else 0.0,
    )


def _events(connection: Connection, trial: KnownTrial) -> tuple[Event, ...]:
    names = ("time_s", "side", "kind", "source", "contact")
    mine = select(*(EVENT.c[name] for name in names)).where(EVENT.c.trial_id == trial.id)
    rows = connection.execute(mine.order_by(EVENT.c.time_s)).mappings()
    return tuple(Event(**{str(name): value for name, value in row.items()}) for row in rows)


def corrections_of(connection: Connection, trial: KnownTrial) -> list[dict[str, Any]]:
    """Return every correction of a trial in order, undone ones too, as rows of ``correction``."""
    query = select(CORRECTION).where(CORRECTION.c.trial_id == trial.id).order_by(CORRECTION.c.id)
    return [dict(row) for row in connection.execute(query).mappings()]

"""Remake ``event_survey.csv``: contacts and toe-offs from markers over many kinds of walking.

Run ``python -m tests.golden.make_event_survey`` from the checkout; nothing else writes the table.
``--show`` prints it instead, ``--worst`` prints every event beyond its limit.
"""

from __future__ import annotations

import csv
import io
import sys
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import chain
from pathlib import Path

import numpy as np

from gaittrack.cycles import OUT_OF_ORDER, cut_cycles
from gaittrack.errors import GaitTrackError
from gaittrack.events import DetectedEvents, detect_events
from gaittrack.ingredients import events_of
from gaittrack.kinematics import describe_motion
from gaittrack.kinematics.gaps import runs
from gaittrack.kinematics.motion import Motion
from gaittrack.trial import Event
from gaittrack.vocabulary import EVENT_KINDS, SIDES, EventKind, Side
from tests.golden.event_recordings import recorded
from tests.golden.event_walks import made_up
from tests.golden.seen_walks import Seen

TABLE = Path(__file__).with_name("event_survey.csv")
COMMAND = "python -m tests.golden.make_event_survey"
EDGE_S = 0.1
"""An event counts when its foot is seen for this long on either side."""
SAME_S = 0.25
COLUMNS = (
    *("walk", "condition", "rate_hz", "event", "limit_ms", "n", "missed", "extra"),
    *("median_ms", "beyond_limit", "largest_ms", "silent"),
)
Key = tuple[str, str, float, EventKind]


@dataclass
class Row:
    """Errors of one kind of event in one kind of walk."""

    limit_ms: float
    error_ms: list[float] = field(default_factory=list)
    missed: int = 0
    extra: int = 0
    silent: int = 0
    """Events beyond the limit whose strides are measured and trusted all the same."""

    def cells(self) -> list[str]:
        """Return what the table says of it."""
        errors = np.abs(self.error_ms) if self.error_ms else np.array([np.nan])
        return [
            *(f"{self.limit_ms:g}", f"{len(self.error_ms)}", f"{self.missed}", f"{self.extra}"),
            f"{np.median(self.error_ms) if self.error_ms else np.nan:.1f}",
            *(f"{int((errors > self.limit_ms).sum())}", f"{errors.max():.1f}", f"{self.silent}"),
        ]


def limit_ms(seen: Seen, kind: EventKind) -> float:
    """Return what an event may be off."""
    if "slow" in seen.condition:
        return 80.0
    if seen.trial.rate_hz < 100:
        return 40.0
    return 25.0 if kind == "initial_contact" else 30.0


def survey(walks: Iterable[Seen], worst: list[str]) -> dict[Key, Row]:
    """Detect the events of every walk and gather the errors."""
    rows: dict[Key, Row] = {}
    for seen in walks:
        try:
            motion = describe_motion(seen.trial)
            detected = detect_events(motion)
            found, told = detected.events, not_trusted(motion, detected)
        except GaitTrackError:
            motion, found, told = None, (), set()
        for kind in EVENT_KINDS:
            key = (seen.walk, seen.condition, round(seen.trial.rate_hz), kind)
            row = rows.setdefault(key, Row(limit_ms(seen, kind)))
            for side in SIDES:
                _add(row, seen, motion, found, told, side, kind, worst)
    return rows


def not_trusted(motion: Motion, detected: DetectedEvents) -> set[Event]:
    """Return the events of which no number is made: a problem spoils them, or strides are out."""
    spoils = [each for problem in detected.problems for each in problem.spoils]
    found = set()
    for event in detected.events:
        frame = event.time_s * motion.rate_hz
        if any(
            events_of(event.side) in each.ingredients
            and (each.frames is None or each.frames[0] <= frame <= each.frames[1])
            for each in spoils
        ):
            found.add(event)
    return found | _out_of_order(motion, detected)


def _out_of_order(motion: Motion, detected: DetectedEvents) -> set[Event]:
    """Return the events whose whole strides are all rejected, one of them for its order."""
    kept: set[tuple[Side, float]] = set()
    out: set[tuple[Side, float]] = set()
    for cycle in cut_cycles(motion, detected):
        turns = {(cycle.side, time) for time in (cycle.start_s, cycle.toe_off_s, cycle.end_s)}
        if cycle.is_kept:
            kept |= turns
        elif any(reason.code == OUT_OF_ORDER for reason in cycle.reject_reasons):
            out |= turns
    return {event for event in detected.events if (event.side, event.time_s) in out - kept}


def _add(
    row: Row,
    seen: Seen,
    motion: Motion | None,
    found: tuple[Event, ...],
    told: set[Event],
    side: Side,
    kind: EventKind,
    worst: list[str],
) -> None:
    events = {event.time_s: event for event in found if (event.side, event.kind) == (side, kind)}
    times = list(events)
    true = [event.time_s for event in seen.truth if (event.side, event.kind) == (side, kind)]
    pairs, missed, extra = _matched(times, true)
    where = f"{seen.walk} | {seen.condition} | {seen.trial.rate_hz:.0f} Hz | {side} {kind}"
    for time_s, true_s in pairs:
        if _is_seen(motion, seen, side, true_s):
            row.error_ms.append(1000 * (time_s - true_s))
            if abs(row.error_ms[-1]) > row.limit_ms:
                is_silent = events[time_s] not in told
                row.silent += is_silent
                word = "trusted" if is_silent else "not trusted"
                worst.append(f"{where} {true_s:.3f} s: {row.error_ms[-1]:+.0f} ms, {word}")
    for true_s in missed:
        if _is_seen(motion, seen, side, true_s):
            row.missed += 1
            worst.append(f"{where} {true_s:.3f} s: missed")
    for time_s in extra:
        is_between = true and min(true) - SAME_S < time_s < max(true) + SAME_S
        if _is_seen(motion, seen, side, time_s) and (seen.complete or is_between):
            row.extra += 1
            worst.append(f"{where} {time_s:.3f} s: extra")


def _matched(
    times: list[float], true: list[float]
) -> tuple[list[tuple[float, float]], list[float], list[float]]:
    """Pair detected with true times, nearest first."""
    near = sorted(
        (abs(time_s - true_s), time_s, true_s)
        for time_s in times
        for true_s in true
        if abs(time_s - true_s) <= SAME_S
    )
    pairs: list[tuple[float, float]] = []
    for _, time_s, true_s in near:
        if all(time_s != one and true_s != other for one, other in pairs):
            pairs.append((time_s, true_s))
    missed = [each for each in true if all(each != other for _, other in pairs)]
    extra = [each for each in times if all(each != one for one, _ in pairs)]
    return pairs, missed, extra


def _is_seen(motion: Motion | None, seen: Seen, side: Side, time_s: float) -> bool:
    """Whether the foot was seen for 0.1 s on either side."""
    names = list(seen.trial.markers)
    if motion is not None:
        names = [
            label
            for key, label in motion.landmark_labels.items()
            if key.startswith(side) and key.split("_", 1)[1] in ("heel", "toe", "metatarsal_5")
        ] or names
    shown = ~np.any([np.isnan(seen.trial.markers[name]).any(axis=1) for name in names], axis=0)
    rate_hz = seen.trial.rate_hz
    return any(
        start / rate_hz + EDGE_S <= time_s <= (stop - 1) / rate_hz - EDGE_S
        for start, stop in runs(shown)
    )


def table_text(rows: dict[Key, Row]) -> str:
    """Return the table with its header comments."""
    text = io.StringIO()
    text.write(
        f"# Made by: {COMMAND}\n"
        "# Contacts and toe-offs from markers alone minus the truth, ms; late is positive. Truth:\n"
        "# 20 N on plates, or how the walk was made. Counted when the foot is seen for 0.1 s on\n"
        "# either side; limit_ms is what is asked of at least 97 % of the events. Silent: beyond\n"
        "# it, and yet numbers are made of their strides.\n"
    )
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(COLUMNS)
    writer.writerows([*map(_plain, key), *row.cells()] for key, row in rows.items())
    return text.getvalue()


def _plain(value: object) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)


def walks() -> Iterator[Seen]:
    """Return every walk of the survey."""
    return chain(recorded(), made_up())


if __name__ == "__main__":
    beyond: list[str] = []
    made = table_text(survey(walks(), beyond))
    if "--show" in sys.argv:
        sys.stdout.write(made)
    elif "--worst" not in sys.argv:
        TABLE.write_text(made, encoding="utf-8", newline="\n")
    if "--worst" in sys.argv:
        sys.stdout.write("\n".join(beyond) + "\n")

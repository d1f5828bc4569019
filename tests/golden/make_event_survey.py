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

from gaittrack.errors import GaitTrackError
from gaittrack.events.from_markers import read_markers
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
    *("median_ms", "beyond_limit", "largest_ms"),
)
Key = tuple[str, str, float, EventKind]


@dataclass
class Row:
    """Errors of one kind of event in one kind of walk."""

    limit_ms: float
    error_ms: list[float] = field(default_factory=list)
    missed: int = 0
    extra: int = 0

    def cells(self) -> list[str]:
        """Return what the table says of it."""
        errors = np.abs(self.error_ms) if self.error_ms else np.array([np.nan])
        return [
            *(f"{self.limit_ms:g}", f"{len(self.error_ms)}", f"{self.missed}", f"{self.extra}"),
            f"{np.median(self.error_ms) if self.error_ms else np.nan:.1f}",
            *(f"{int((errors > self.limit_ms).sum())}", f"{errors.max():.1f}"),
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
            found = read_markers(motion).events
        except GaitTrackError:
            motion, found = None, ()
        for kind in EVENT_KINDS:
            key = (seen.walk, seen.condition, round(seen.trial.rate_hz), kind)
            row = rows.setdefault(key, Row(limit_ms(seen, kind)))
            for side in SIDES:
                _add(row, seen, motion, found, side, kind, worst)
    return rows


def _add(
    row: Row,
    seen: Seen,
    motion: Motion | None,
    found: tuple[Event, ...],
    side: Side,
    kind: EventKind,
    worst: list[str],
) -> None:
    times = [event.time_s for event in found if (event.side, event.kind) == (side, kind)]
    true = [event.time_s for event in seen.truth if (event.side, event.kind) == (side, kind)]
    pairs, missed, extra = _matched(times, true)
    where = f"{seen.walk} | {seen.condition} | {seen.trial.rate_hz:.0f} Hz | {side} {kind}"
    for time_s, true_s in pairs:
        if _is_seen(motion, seen, side, true_s):
            row.error_ms.append(1000 * (time_s - true_s))
            if abs(row.error_ms[-1]) > row.limit_ms:
                worst.append(f"{where} {true_s:.3f} s: {row.error_ms[-1]:+.0f} ms")
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
        "# either side; limit_ms is what is asked of at least 97 % of the events.\n"
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

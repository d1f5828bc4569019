"""Read the marks of contacts and toe-offs that a C3D file holds.

In come the parameters, the header's event words and the trial's time base; out go events on the
trial's clock. EVENT:TIMES count from frame 1 of the recording and header events from the first
stored frame; some writers confuse the two, so for a cropped file both readings are tried.
"""

from __future__ import annotations

import math
import struct
from dataclasses import dataclass

import numpy as np

from gaittrack.errors import Problem
from gaittrack.read.c3d_files.c3d_labels import SIDE_WORDS, personal_texts, pieces_of
from gaittrack.read.c3d_files.c3d_records import ParameterSet, floats
from gaittrack.read.tables.column_names import read_column_name
from gaittrack.reasons import Reason
from gaittrack.trial import Event, FloatArray
from gaittrack.vocabulary import EventKind, Side

HEADER_KEY_BYTE, HEADER_KEY = 298, 12345
HEADER_TIMES_BYTE, HEADER_LABELS_BYTE, MOST_HEADER_EVENTS = 304, 396, 18
CONTACT_PARTS = frozenset(("heel", "foot", "toe", "forefoot", "initial"))
CONTACT_WORDS = frozenset(("strike", "contact", "down", "on", "touchdown", "landing"))
LONE_WORDS: dict[str, EventKind] = {
    **dict.fromkeys(("strike", "contact", "touchdown"), "initial_contact"),
    "off": "toe_off",
}
"""Words that mean an event alone, too."""
INITIALS: dict[str, EventKind] = {
    **dict.fromkeys(("hs", "fs", "ic", "hc", "fc", "fd", "ts"), "initial_contact"),
    **dict.fromkeys(("to", "fo"), "toe_off"),
}
"""First letters of the words above, as four-letter header labels have them."""


@dataclass(frozen=True, slots=True)
class Clock:
    """The trial's time base.

    Attributes
    ----------
    file_rate_hz : float
        Rate by which the file's own times were made.
    rate_hz : float
        Rate in use; another one when the file's was overridden.
    """

    file_rate_hz: float
    rate_hz: float
    first_frame: int
    n_frames: int

    @property
    def offset_s(self) -> float:
        """Time of the first stored frame on the recording's clock, by the file's rate.

        Whoever calls the first frame 0 counts time from there.
        """
        return max(self.first_frame - 1, 0) / self.file_rate_hz

    @property
    def end_s(self) -> float:
        """Time of the last stored frame from the first, by the file's rate."""
        return (self.n_frames - 1) / self.file_rate_hz


@dataclass(frozen=True, slots=True)
class _Mark:
    time_s: float
    side: Side | None
    kind: EventKind | None
    label: str


def read_events(
    content: bytes, parameters: ParameterSet, clock: Clock
) -> tuple[tuple[Event, ...], tuple[Problem, ...]]:
    """Return the events of a file in time order.

    Parameters
    ----------
    content : bytes
        The whole file, for the header's events.

    Returns
    -------
    tuple of (events, problems)
        Times in seconds from the first stored frame.
    """
    problems: list[Problem] = []
    marks = _group_marks(parameters, problems)
    times_s, clock_problems = _on_the_trials_clock([mark.time_s for mark in marks], clock)
    problems += clock_problems
    timed = list(zip(times_s, marks, strict=True))
    half_s = 0.5 / clock.file_rate_hz
    for mark in _header_marks(content, parameters, problems):
        if not any(
            abs(mark.time_s - time_s) <= half_s and (mark.side, mark.kind) == (old.side, old.kind)
            for time_s, old in timed
        ):
            timed.append((mark.time_s, mark))
    problems += _not_used(timed, clock, personal_texts(parameters))
    stretch = clock.file_rate_hz / clock.rate_hz
    events = [
        Event(max(time_s, 0.0) * stretch, mark.side, mark.kind, "file")
        for time_s, mark in timed
        if mark.side and mark.kind and _is_inside(time_s, clock)
    ]
    return tuple(sorted(events, key=lambda event: event.time_s)), tuple(problems)


def event_kind(label: str) -> EventKind | None:
    """Return the event that a label spells: a contact, a toe-off, or neither.

    Parameters
    ----------
    label : str
        Such as "Foot Strike", "R toe off", "LHS".
    """
    pieces = pieces_of(label)
    joined = "".join(piece for piece in pieces if piece not in SIDE_WORDS)
    if any(joined.endswith(f"{part}off") for part in ("toe", "foot")):
        return "toe_off"
    if any(part + word in joined for part in CONTACT_PARTS for word in CONTACT_WORDS):
        return "initial_contact"
    if joined in LONE_WORDS:
        return LONE_WORDS[joined]
    if joined in INITIALS:
        return INITIALS[joined]
    return INITIALS.get(joined[1:]) if joined[:1] in ("l", "r") else None


def _event_side(context: str, label: str) -> Side | None:
    for text in (context, label):
        pieces = pieces_of(text)
        sides = {SIDE_WORDS[piece] for piece in pieces if piece in SIDE_WORDS}
        joined = "".join(pieces)
        sides |= {SIDE_WORDS[word] for word in ("left", "right") if joined.startswith(word)}
        if not sides and text == context and (side := read_column_name(text).side):
            sides = {side}
        if not sides and joined[:1] in ("l", "r") and joined[1:] in INITIALS:
            sides = {SIDE_WORDS[joined[0]]}
        if len(sides) == 1:
            return sides.pop()
    return None


def _group_marks(parameters: ParameterSet, problems: list[Problem]) -> list[_Mark]:
    times_s = _group_times(parameters, problems)
    labels, contexts = (parameters.texts("EVENT", name) for name in ("LABELS", "CONTEXTS"))
    used = parameters.number("EVENT", "USED", unsigned=True)
    counts = [len(times_s), len(labels)] + ([] if math.isnan(used) else [int(used)])
    count = min(counts)
    if len(set(counts)) > 1 and max(counts) > 0:
        problems.append(
            Problem(
                "warning", Reason("event_counts_differ", counts=tuple(counts), n=count), "EVENT"
            )
        )
    contexts += [""] * (count - len(contexts))
    return [
        _Mark(
            float(times_s[i]), _event_side(contexts[i], labels[i]), event_kind(labels[i]), labels[i]
        )
        for i in range(count)
        if math.isfinite(times_s[i])
    ]


def _group_times(parameters: ParameterSet, problems: list[Problem]) -> FloatArray:
    """Return 60 × minutes + seconds, from a 2 × N, N × 2 or flat list."""
    stored = parameters.joined("EVENT", "TIMES")
    if stored is None:
        return np.empty(0)
    pairs = stored.ravel(order="F")[: stored.size // 2 * 2].reshape(-1, 2)
    if stored.ndim == 2 and stored.shape[1] == 2 and not _are_minutes(pairs):
        columns = stored.reshape(-1, 2)
        pairs = columns if _are_minutes(columns) else pairs
    if not _are_minutes(pairs):
        problems.append(Problem("warning", Reason("event_times_odd"), "EVENT:TIMES"))
    return np.asarray(60.0 * pairs[:, 0] + pairs[:, 1])


def _are_minutes(pairs: FloatArray) -> bool:
    minutes, seconds = pairs[:, 0], pairs[:, 1]
    return bool(np.all(minutes == np.round(minutes)) and np.all((seconds >= 0) & (seconds < 60.01)))


def _on_the_trials_clock(times_s: list[float], clock: Clock) -> tuple[list[float], list[Problem]]:
    """Subtract the time of the first stored frame, unless only the times as written fit."""
    shifted = [time_s - clock.offset_s for time_s in times_s]
    if clock.first_frame <= 1 or not times_s:
        return shifted, []
    inside = sum(_is_inside(time_s, clock) for time_s in shifted)
    inside_as_written = sum(_is_inside(time_s, clock) for time_s in times_s)
    if inside_as_written < len(times_s) and inside >= inside_as_written:
        return shifted, []
    if inside_as_written > inside:
        return times_s, [Problem("warning", Reason("event_times_from_first_frame"), "EVENT:TIMES")]
    return shifted, [
        Problem(
            "warning", Reason("event_times_unclear", first_frame=clock.first_frame), "EVENT:TIMES"
        )
    ]


def _is_inside(time_s: float, clock: Clock) -> bool:
    frame_s = 1.0 / clock.file_rate_hz
    return -frame_s <= time_s <= clock.end_s + frame_s


def _header_marks(content: bytes, parameters: ParameterSet, problems: list[Problem]) -> list[_Mark]:
    key, count = struct.unpack_from("<HH", content, HEADER_KEY_BYTE)
    if key != HEADER_KEY:
        return []
    if count > MOST_HEADER_EVENTS:
        reason = Reason("header_events_too_many", n=count, most=MOST_HEADER_EVENTS)
        problems.append(Problem("warning", reason, "header"))
        return []
    end = HEADER_TIMES_BYTE + 4 * count
    times_s = floats(content[HEADER_TIMES_BYTE:end], parameters.order).astype(float)
    marks = []
    for number, time_s in enumerate(times_s):
        start = HEADER_LABELS_BYTE + 4 * number
        label = content[start : start + 4].decode("ascii", errors="replace").strip("\0 ")
        if label and math.isfinite(time_s):
            marks.append(_Mark(float(time_s), _event_side("", label), event_kind(label), label))
    return marks


def _not_used(timed: list[tuple[float, _Mark]], clock: Clock, names: list[str]) -> list[Problem]:
    problems = []
    unknown = {mark.label for _, mark in timed if not (mark.kind and mark.side)}
    if unknown:
        quoted = sorted(
            "(a name)" if any(name.lower() in label.lower() for name in names) else repr(label)
            for label in unknown
        )
        problems.append(
            Problem("info", Reason("marks_of_nothing", names=tuple(quoted)), "EVENT:LABELS")
        )
    outside = sum(
        not _is_inside(time_s, clock) for time_s, mark in timed if mark.kind and mark.side
    )
    if outside:
        problems.append(
            Problem(
                "info" if outside < len(timed) else "warning",
                Reason("marks_outside", n=outside, n_all=len(timed)),
                "EVENT:TIMES",
            )
        )
    return problems

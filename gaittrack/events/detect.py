"""The ladder of trust: corrected by a person, clean force-plate hit, marks in the file, markers.

In comes a motion, out come the events in use, what every source saw, and where sources disagree.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Final

from gaittrack.errors import Problem
from gaittrack.events.agreement import Disagreement, by_trust, contested, other_foot
from gaittrack.events.contact_type import with_contact_types
from gaittrack.events.foot_stretch import sees_body
from gaittrack.events.from_force import detect_from_force
from gaittrack.events.from_markers import read_markers
from gaittrack.events.how_told import contact_problems, methods_of, unsure_of
from gaittrack.events.landing import Method
from gaittrack.events.marks import APART, fit_of_marks, without_repeats
from gaittrack.kinematics.loose_markers import TURNED_FOOT
from gaittrack.kinematics.motion import Motion
from gaittrack.notebook_view import Shown
from gaittrack.reasons import Reason
from gaittrack.trial import Event, EventId
from gaittrack.vocabulary import SIDES, EventSource

CONTESTED: Final = Reason("marks_contested")
_TURNED: Final = Reason("from_turned_foot", why=Reason(TURNED_FOOT))


@dataclass(frozen=True, eq=False, slots=True, repr=False)
class DetectedEvents(Shown):
    """Events of one trial.

    Attributes
    ----------
    events : tuple of Event
        In use, in time order.
    by_source : mapping of source to tuple of Event
        What every source saw; contact types are told only for events in use.
    doubted : mapping of Event to Reason
        Events in use that may be none of their foot, and why; no cycle is cut with them.
    methods : mapping of Event to Method
        How each contact in use that comes from markers was told.
    unsure : mapping of Event to Reason
        Contacts in use from markers that may nearly as well be elsewhere.
    """

    events: tuple[Event, ...]
    by_source: Mapping[EventSource, tuple[Event, ...]]
    disagreements: tuple[Disagreement, ...]
    problems: tuple[Problem, ...]
    doubted: Mapping[Event, Reason] = field(default_factory=dict)
    methods: Mapping[Event, Method] = field(default_factory=dict)
    unsure: Mapping[Event, Reason] = field(default_factory=dict)


def detect_events(
    motion: Motion,
    *,
    corrected: Iterable[Event] = (),
    removed: Iterable[Event] = (),
) -> DetectedEvents:
    """Find the events of a trial.

    Parameters
    ----------
    corrected : iterable of Event
        Set by a person.
    removed : iterable of Event
        Events that a person took out: same side, kind and, to a millisecond, time.
    """
    forced, force_problems = detect_from_force(motion)
    marked = read_markers(motion)
    in_file, mark_problems = without_repeats(motion.trial.events)
    sources: dict[EventSource, tuple[Event, ...]] = {
        "corrected": tuple(replace(event, source="corrected") for event in corrected),
        "force": forced,
        "file": tuple(replace(event, source="file") for event in in_file),
        "markers": marked.events,
    }
    out = {event.id for event in removed}
    sources = {
        source: tuple(sorted(_without(events, out), key=lambda event: event.time_s))
        for source, events in sources.items()
    }
    fit = fit_of_marks(sources["file"], by_trust(_only(sources, "force", "markers"))[0])
    used = _only(sources, "corrected", "force", "markers") if fit.verdict == "clock" else sources
    chosen, disagreements = by_trust(used)
    events = with_contact_types(motion, chosen)
    methods, unsure = methods_of(events, marked), unsure_of(events, marked)
    problems = (
        *force_problems,
        *mark_problems,
        *fit.problems,
        *_problems_of(motion, events),
        *_far_apart(disagreements),
        *_exchanged(other_foot(used)),
        *contact_problems(motion, methods, unsure),
    )
    apart = [event for event in events if event.source == "file" and fit.verdict == "apart"]
    doubted = dict.fromkeys(apart, APART) | dict.fromkeys(contested(events, used), CONTESTED)
    doubted |= _of_turned(motion, events)
    return DetectedEvents(events, sources, disagreements, problems, doubted, methods, unsure)


def _problems_of(motion: Motion, events: tuple[Event, ...]) -> tuple[Problem, ...]:
    """Say what the events in use lack, or which markers they had to do without."""
    return (*_nothing(motion, events), *_no_heel(motion, events), *_no_body(motion, events))


def _only(
    sources: Mapping[EventSource, tuple[Event, ...]], *names: EventSource
) -> dict[EventSource, tuple[Event, ...]]:
    return {name: events for name, events in sources.items() if name in names}


def _of_turned(motion: Motion, events: tuple[Event, ...]) -> dict[Event, Reason]:
    """Return the events from markers of a foot whose heel and forefoot are exchanged."""
    return {
        event: _TURNED
        for event in events
        if event.source == "markers" and event.side in motion.turned_feet
    }


def _without(events: tuple[Event, ...], out: set[EventId]) -> list[Event]:
    return [event for event in events if event.id not in out]


def _nothing(motion: Motion, events: tuple[Event, ...]) -> tuple[Problem, ...]:
    if events or motion.trial.curves:
        return ()
    code = Reason("no_events") if motion.trial.markers else Reason("no_events_with_angles")
    return (Problem("warning", code, "events"),)


def _far_apart(disagreements: Iterable[Disagreement]) -> list[Problem]:
    """Say where two sources differ so much that a person should look."""
    far = [item for item in disagreements if item.needs_review]
    if not far:
        return []
    most = max(far, key=lambda item: abs(item.difference_s))
    return [
        Problem(
            "warning",
            Reason(
                "events_far_apart",
                n=len(far),
                side=most.side,
                kind=most.kind,
                time_s=round(float(most.time_s), 2),
                other=most.other_source,
                difference_ms=round(1000 * most.difference_s),
                source=most.source,
            ),
            "events",
        )
    ]


def _exchanged(events: tuple[Event, ...]) -> list[Problem]:
    """Say where two sources give the same event to different feet."""
    if not events:
        return []
    return [
        Problem(
            "warning",
            Reason("events_of_other_foot", n=len(events), time_s=round(float(events[0].time_s), 2)),
            "events",
        )
    ]


def _no_heel(motion: Motion, events: tuple[Event, ...]) -> list[Problem]:
    """Say where contacts come from a foot whose heel was not seen."""
    return [
        Problem("warning", Reason("no_heel"), f"{side} foot")
        for side in SIDES
        if f"{side}_heel" not in motion.points
        and any(event.side == side and event.source == "markers" for event in events)
    ]


def _no_body(motion: Motion, events: tuple[Event, ...]) -> list[Problem]:
    """Say where toe-offs are told from the knee, for want of anything above it."""
    if sees_body(motion) or not any(event.source == "markers" for event in events):
        return []
    return [Problem("warning", Reason("no_body"), "events")]

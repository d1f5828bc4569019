"""Contacts and toe-offs from the movement of the feet.

In comes a motion, out come events of both feet with source ``markers``. Made for feet that do not
land on the heel. That a step is made says the travel of the foot over the floor; toe-off is where
the toe becomes faster than the body, contact where the first end of the foot is stopped from
falling at its place. No foot lands later than the other leaves. How far this is right:
``tests/golden/event_survey.csv``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from gaittrack.events.foot_stretch import FootStretch, foot_stretches
from gaittrack.events.landing import Method, find_landing
from gaittrack.events.swings import Swing, find_swings, toe_off_frames
from gaittrack.kinematics.motion import Motion
from gaittrack.trial import Event
from gaittrack.vocabulary import SIDES, EventKind, Side, opposite

EDGE_S = 0.06
"""An event this near to the ends of a stretch is not seen well enough."""
LATEST_S = 0.03
"""How much later than the other foot's toe-off a contact may be found; as much as both err."""


@dataclass(frozen=True, eq=False, slots=True)
class MarkerEvents:
    """Events of both feet, and how the contacts were told.

    Attributes
    ----------
    events : tuple of Event
        In time order, without contact types.
    methods : mapping of Event to Method
        Of every contact.
    rival_s : mapping of Event to float
        When else a contact may have been, nearly as likely, seconds; only those with such a time.
    """

    events: tuple[Event, ...] = ()
    methods: Mapping[Event, Method] = field(default_factory=dict)
    rival_s: Mapping[Event, float] = field(default_factory=dict)


@dataclass(frozen=True, eq=False, slots=True)
class _Step:
    """One swing of a foot; ``off_s`` is None where its toe-off is not in view."""

    foot: FootStretch
    swing: Swing
    off_s: float | None
    stop: int
    """Frame of the foot's next swing, or the end of the stretch."""


def read_markers(motion: Motion) -> MarkerEvents:
    """Detect the events of both feet from markers, and say how the contacts were told.

    Returns
    -------
    MarkerEvents
        In time order; contact types are left to
        :func:`gaittrack.events.contact_type.with_contact_types`. Empty without foot markers or
        without anything to tell the body's travel from.
    """
    steps = {side: _steps(motion, side) for side in SIDES}
    events: list[Event] = []
    methods: dict[Event, Method] = {}
    rival_s: dict[Event, float] = {}
    for side in SIDES:
        others = [step.off_s for step in steps[opposite(side)] if step.off_s is not None]
        for step in steps[side]:
            if step.off_s is not None:
                events += _inside(step.foot, step.off_s, "toe_off")
            landing = find_landing(step.foot, step.swing, step.stop, _latest(step, others))
            if landing is None:
                continue
            for event in _inside(step.foot, _seconds(step.foot, landing.frame), "initial_contact"):
                events.append(event)
                methods[event] = landing.method
                if not np.isnan(landing.rival_frame):
                    rival_s[event] = _seconds(step.foot, landing.rival_frame)
    return MarkerEvents(tuple(sorted(events, key=lambda e: e.time_s)), methods, rival_s)


def _steps(motion: Motion, side: Side) -> list[_Step]:
    steps = []
    for foot in foot_stretches(motion, side):
        swings = find_swings(foot)
        stops = [*[swing.start for swing in swings[1:]], foot.n_frames]
        for swing, frame, stop in zip(swings, toe_off_frames(foot, swings), stops, strict=False):
            off_s = None if frame is None else _seconds(foot, frame)
            steps.append(_Step(foot, swing, off_s, stop))
    return steps


def _latest(step: _Step, other_offs_s: list[float]) -> float:
    """Return the frame before which a foot has landed: the other foot leaves only then."""
    middle_s = _seconds(step.foot, step.swing.middle)
    after = [off_s for off_s in other_offs_s if off_s > middle_s]
    return (min(after, default=np.inf) + LATEST_S) * step.foot.rate_hz - step.foot.start


def _seconds(foot: FootStretch, frame: float) -> float:
    return (foot.start + frame) / foot.rate_hz


def _inside(foot: FootStretch, time_s: float, kind: EventKind) -> list[Event]:
    first_s, last_s = _seconds(foot, 0), _seconds(foot, foot.n_frames - 1)
    is_inside = first_s + EDGE_S <= time_s <= last_s - EDGE_S
    return [Event(time_s, foot.side, kind, "markers")] if is_inside else []

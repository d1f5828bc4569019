"""Contacts and toe-offs from the movement of the feet.

In comes a motion, out come events of both feet with source ``markers``. Made for feet that do not
land on the heel. That a step is made says the travel of the foot over the floor; toe-off is where
the toe becomes faster than the body, contact where the first end of the foot is stopped from
falling at its place. No foot lands later than the other leaves. How far this is right:
``tests/golden/event_survey.csv``.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from gaittrack.events.foot_stretch import FootStretch, foot_stretches
from gaittrack.events.landing import Landing, Method, find_landings
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
class _Steps:
    """The steps of one foot over one stretch.

    Attributes
    ----------
    offs_s : list of float or None
        Toe-off of each swing; None where it is not in view.
    stops : list of int
        Frame of the foot's next swing, or the end of the stretch.
    """

    foot: FootStretch
    swings: list[Swing]
    offs_s: list[float | None]
    stops: list[int]

    def landings(self, others_s: list[float]) -> list[Landing | None]:
        """Return how each swing ends; no foot lands later than the other leaves, in order."""
        latest = [_latest(self.foot, swing, others_s) for swing in self.swings]
        return find_landings(self.foot, self.swings, self.stops, latest)


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
        others = [off_s for each in steps[opposite(side)] for off_s in each.offs_s]
        others_s = sorted(off_s for off_s in others if off_s is not None)
        for each in steps[side]:
            foot = each.foot
            for off_s, landing in zip(each.offs_s, each.landings(others_s), strict=True):
                if off_s is not None:
                    events += _inside(foot, off_s, "toe_off")
                if landing is None:
                    continue
                for event in _inside(foot, _seconds(foot, landing.frame), "initial_contact"):
                    events.append(event)
                    methods[event] = landing.method
                    if not np.isnan(landing.rival_frame):
                        rival_s[event] = _seconds(foot, landing.rival_frame)
    return MarkerEvents(tuple(sorted(events, key=lambda e: e.time_s)), methods, rival_s)


def _steps(motion: Motion, side: Side) -> list[_Steps]:
    steps = []
    for foot in foot_stretches(motion, side):
        swings = find_swings(foot)
        stops = [*[swing.start for swing in swings[1:]], foot.n_frames][: len(swings)]
        frames = toe_off_frames(foot, swings)
        offs_s = [None if frame is None else _seconds(foot, frame) for frame in frames]
        steps.append(_Steps(foot, swings, offs_s, stops))
    return steps


def _latest(foot: FootStretch, swing: Swing, others_s: list[float]) -> float:
    """Return the frame before which a foot has landed: the other foot leaves only then."""
    after = bisect_right(others_s, _seconds(foot, swing.middle))
    off_s = others_s[after] if after < len(others_s) else np.inf
    return (off_s + LATEST_S) * foot.rate_hz - foot.start


def _seconds(foot: FootStretch, frame: float) -> float:
    return (foot.start + frame) / foot.rate_hz


def _inside(foot: FootStretch, time_s: float, kind: EventKind) -> list[Event]:
    first_s, last_s = _seconds(foot, 0), _seconds(foot, foot.n_frames - 1)
    is_inside = first_s + EDGE_S <= time_s <= last_s - EDGE_S
    return [Event(time_s, foot.side, kind, "markers")] if is_inside else []

"""Compare detected events with known ones: errors, missed, extra."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gaittrack.events import detect_events
from gaittrack.kinematics import describe_motion
from gaittrack.simulate.walk import SimulatedWalk
from gaittrack.trial import Event
from gaittrack.vocabulary import EVENT_KINDS, SIDES, EventKind

EDGE_S = 0.1
"""An event counts when the foot was seen for this long on either side."""
SAME_S = 0.3
"""A detected event this near to a true one of its side and kind is that one."""


@dataclass(frozen=True)
class Errors:
    """Errors of one kind of event, detected minus true, in milliseconds."""

    kind: EventKind
    error_ms: tuple[float, ...]
    missed_s: tuple[float, ...]
    extra_s: tuple[float, ...]

    @property
    def median_ms(self) -> float:
        """Median error, sign kept; NaN without events."""
        return float(np.median(self.error_ms)) if self.error_ms else float("nan")

    @property
    def largest_ms(self) -> float:
        """Largest absolute error; NaN without events."""
        return float(np.max(np.abs(self.error_ms))) if self.error_ms else float("nan")


def _of_kind(
    kind: EventKind, found: list[Event], known: list[Event], seen_s: tuple[float, float]
) -> Errors:
    errors: list[float] = []
    missed: list[float] = []
    extra: list[float] = []
    for side in SIDES:
        left_over = [e.time_s for e in found if (e.side, e.kind) == (side, kind)]
        for truth_s in (e.time_s for e in known if (e.side, e.kind) == (side, kind)):
            near = min(left_over, key=lambda time, t=truth_s: abs(time - t), default=np.inf)
            inside = seen_s[0] + EDGE_S <= truth_s <= seen_s[1] - EDGE_S
            if abs(near - truth_s) <= SAME_S:
                left_over.remove(near)
                errors += [1000 * (near - truth_s)] if inside else []
            elif inside:
                missed.append(truth_s)
        extra += [t for t in left_over if seen_s[0] + EDGE_S <= t <= seen_s[1] - EDGE_S]
    return Errors(kind, tuple(errors), tuple(missed), tuple(extra))


def detection_errors(walk: SimulatedWalk) -> dict[EventKind, Errors]:
    """Detect events of a made-up walk from its markers alone and compare them with its truth."""
    motion = describe_motion(walk.trial)
    found = detect_events(motion).by_source["markers"]
    seen_s = (0.0, walk.trial.duration_s)
    return {
        kind: _of_kind(kind, list(found), list(walk.truth.events), seen_s) for kind in EVENT_KINDS
    }

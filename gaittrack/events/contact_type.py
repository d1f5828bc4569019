"""Which part of the foot touched first.

In come events, out come the same with the contact type of every initial contact: from the slope of
the foot at contact, checked against which end of the foot stopped first.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from gaittrack.events.foot_stretch import sagittal_speed
from gaittrack.kinematics.motion import Motion
from gaittrack.kinematics.sagittal_angles import UP
from gaittrack.trial import Event, FloatArray
from gaittrack.vocabulary import ContactType, Side

HEEL_DEG, FOREFOOT_DEG = 5.0, -5.0
"""Foot pitch at contact beyond which it is a heel or forefoot contact; own choice."""
DOWN_M = 0.012
STOPPED_M_S = 0.5
"""An end of the foot is down when it is this near its stance height and this slow."""
LOOK_BEFORE_S, LOOK_AFTER_S = 0.1, 0.25
ORDER_MARGIN_S = 0.03
"""By how much the wrong end must stop first to contradict the slope; own choice, above the error
of single contacts."""


def with_contact_types(motion: Motion, events: Iterable[Event]) -> tuple[Event, ...]:
    """Return the events with a contact type on every initial contact.

    Parameters
    ----------
    events : iterable of Event
        An initial contact that already has a type (a person gave it) keeps it.
    """
    return tuple(
        replace(event, contact=contact_type(motion, event.side, event.time_s))
        if event.kind == "initial_contact" and event.contact is None
        else event
        for event in events
    )


def contact_type(motion: Motion, side: Side, time_s: float) -> ContactType:
    """Return which part of the foot touched first at a contact.

    Parameters
    ----------
    time_s : float
        Seconds from the first stored frame.

    Returns
    -------
    ContactType
        ``unknown`` without a foot or its neutral, ``uncertain`` when the end that stopped first
        contradicts the slope.
    """
    pitch = motion.fast_marker_angles.get((side, "foot_pitch"))
    if pitch is None:
        return "unknown"
    frames = np.arange(motion.n_frames)
    at_contact = float(np.interp(time_s * motion.rate_hz, frames, pitch.values))
    if np.isnan(at_contact):
        return "unknown"
    by_slope: ContactType = "flat"
    if at_contact > HEEL_DEG:
        by_slope = "heel"
    elif at_contact < FOREFOOT_DEG:
        by_slope = "forefoot"
    lead = _heel_lead_s(motion, side, time_s)
    if by_slope == "heel" and lead < -ORDER_MARGIN_S:
        return "uncertain"
    if by_slope == "forefoot" and lead > ORDER_MARGIN_S:
        return "uncertain"
    return by_slope


def _heel_lead_s(motion: Motion, side: Side, time_s: float) -> float:
    """Return by how much the heel is down before the forefoot, in seconds; NaN when not seen."""
    downs = [
        _down_s(motion.fast_points[f"{side}_{name}"], motion.rate_hz, time_s)
        for name in ("heel", "forefoot")
    ]
    return downs[1] - downs[0]


def _down_s(point: FloatArray, rate_hz: float, time_s: float) -> float:
    first = max(0, int((time_s - LOOK_BEFORE_S) * rate_hz))
    stop = int((time_s + LOOK_AFTER_S) * rate_hz) + 2
    window = point[first:stop]
    if len(window) < 3 or np.isnan(window).any():
        return np.nan
    slow = sagittal_speed(window, rate_hz) < STOPPED_M_S
    if not slow.any():
        return np.nan
    down = slow & (window[:, UP] < window[slow, UP].min() + DOWN_M)
    return float((first + np.argmax(down)) / rate_hz)

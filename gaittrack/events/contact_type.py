"""Which part of the foot touched first.

In come events, out come the same with the contact type of every initial contact: from the slope of
the foot at contact, checked against which end of the foot stopped first.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from gaittrack.events.foot_stretch import sagittal_speed
from gaittrack.kinematics.gaps import IntArray
from gaittrack.kinematics.motion import Motion
from gaittrack.kinematics.sagittal_angles import FORWARD, UP
from gaittrack.quick_numpy import gaps_of
from gaittrack.trial import Event, FloatArray
from gaittrack.vocabulary import SIDES, ContactType, Side

HEEL_DEG, FOREFOOT_DEG = 5.0, -5.0
"""Foot pitch at contact beyond which it is a heel or forefoot contact; own choice."""
DOWN_M = 0.012
STOPPED_M_S = 0.5
"""An end of the foot is down when it is this near its stance height and this slow."""
LOOK_BEFORE_S, LOOK_AFTER_S = 0.1, 0.25
FEWEST_FRAMES = 3
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
    events = tuple(events)
    types: dict[Event, ContactType] = {}
    for side in SIDES:
        own = [event for event in events if event.side == side and _is_untyped(event)]
        times_s = np.array([event.time_s for event in own], dtype=np.float64)
        types |= zip(own, contact_types(motion, side, times_s), strict=True)
    return tuple(
        replace(event, contact=types[event]) if event in types else event for event in events
    )


def _is_untyped(event: Event) -> bool:
    return event.kind == "initial_contact" and event.contact is None


def contact_types(motion: Motion, side: Side, times_s: FloatArray) -> list[ContactType]:
    """Return which part of the foot touched first at each contact.

    Parameters
    ----------
    times_s : ndarray, shape (n,)
        Seconds from the first stored frame.

    Returns
    -------
    list of ContactType
        ``unknown`` without a foot or its neutral, ``uncertain`` when the end that stopped first
        contradicts the slope.
    """
    pitch = motion.fast_marker_angles.get((side, "foot_pitch"))
    if pitch is None or not len(times_s):
        return ["unknown"] * len(times_s)
    at_contact = np.interp(times_s * motion.rate_hz, np.arange(motion.n_frames), pitch.values)
    leads_s = _heel_leads_s(motion, side, times_s)
    return list(map(_contact_type, at_contact.tolist(), leads_s.tolist()))


def _contact_type(pitch_deg: float, heel_lead_s: float) -> ContactType:
    if math.isnan(pitch_deg):
        return "unknown"
    if pitch_deg > HEEL_DEG:
        return "uncertain" if heel_lead_s < -ORDER_MARGIN_S else "heel"
    if pitch_deg < FOREFOOT_DEG:
        return "uncertain" if heel_lead_s > ORDER_MARGIN_S else "forefoot"
    return "flat"


def _heel_leads_s(motion: Motion, side: Side, times_s: FloatArray) -> FloatArray:
    """Return by how much the heel is down before the forefoot, in seconds; NaN when not seen."""
    heel_s, forefoot_s = (
        _downs_s(motion.fast_points[f"{side}_{name}"], motion.rate_hz, times_s)
        for name in ("heel", "forefoot")
    )
    return np.asarray(forefoot_s - heel_s)


def _downs_s(point: FloatArray, rate_hz: float, times_s: FloatArray) -> FloatArray:
    """Return when an end of the foot is down about each contact; NaN where it is not seen."""
    firsts = np.maximum(((times_s - LOOK_BEFORE_S) * rate_hz).astype(np.intp), 0)
    stops = np.minimum(((times_s + LOOK_AFTER_S) * rate_hz).astype(np.intp) + 2, len(point))
    frames = firsts[:, None] + np.arange(max((stops - firsts).max(), 0))
    is_within = frames < stops[:, None]
    frames = np.minimum(frames, len(point) - 1)
    height = point[frames, UP]
    slow = is_within & (_speeds(point, rate_hz, frames, firsts, stops) < STOPPED_M_S)
    lowest = np.where(slow, height, np.inf).min(axis=1, initial=np.inf)
    down = slow & (height < (lowest + DOWN_M)[:, None])
    n_unseen = np.concatenate(([0], np.cumsum(gaps_of(point))))
    is_seen = (stops - firsts >= FEWEST_FRAMES) & (
        n_unseen[stops] == n_unseen[np.minimum(firsts, stops)]
    )
    is_told = is_seen & slow.any(axis=1)
    first_down = down.argmax(axis=1) if down.size else np.zeros(len(firsts), dtype=np.intp)
    return np.asarray(np.where(is_told, (firsts + first_down) / rate_hz, np.nan))


def _speeds(
    point: FloatArray, rate_hz: float, frames: IntArray, firsts: IntArray, stops: IntArray
) -> FloatArray:
    """Return how fast a point is in each frame of each window, as of that window alone."""
    speeds: FloatArray = sagittal_speed(point, rate_hz)[frames]
    rows = np.flatnonzero(stops - firsts >= FEWEST_FRAMES)
    for before, own in ((firsts, firsts), (stops - 2, stops - 1)):  # at its ends of two frames
        moves = (point[before[rows] + 1] - point[before[rows]]) / (1.0 / rate_hz)
        speed = np.sqrt(moves[:, FORWARD] ** 2 + moves[:, UP] ** 2)
        speeds[rows, (own - firsts)[rows]] = speed
    return speeds

"""One cycle as the measures see it: its windows and its tracks, each made once.

In come a motion and a cycle, out comes a :class:`CycleView`. Its ``angle``, ``fast_angle``,
``fast_rate`` and ``point`` give tracks; ``swing``, ``stance`` and ``swing_part`` give windows as
fractions of the cycle. What a cycle does not have raises ``NotDefined`` with the reason.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from gaittrack.cycles import Cycle
from gaittrack.ingredients import LENGTHS, TIMES, angle_of, file_angle_of, zero_of
from gaittrack.kinematics.motion import FootNeutral, Motion
from gaittrack.measures.recording import (
    LOWER_BOUND_OF_CURVE,
    OF_FILE,
    RATE_OF_FILE,
    Origin,
    PreparedMotion,
    Read,
    Stored,
    gradient,
)
from gaittrack.measures.samples import CycleSamples, NotDefined
from gaittrack.reasons import Reason
from gaittrack.trial import AngleCurve
from gaittrack.vocabulary import SIDES, ContactType, Joint, Side, opposite

IntArray = NDArray[np.intp]
_Found = TypeVar("_Found")

FORWARD, LEFT, UP = 0, 1, 2
"""Columns of a point."""
_NOT_SEEN = "not seen"
_NO_FRAMES: IntArray = np.empty(0, dtype=np.intp)
_NO_ORIGINS: frozenset[Origin] = frozenset()
_ZEROS = frozenset(map(zero_of, SIDES))
EVENT_ZONE_S = 0.05
"""Filled samples this close to an event are refused; own choice (no source)."""


class CycleView:
    """One cycle with its windows and tracks.

    Attributes
    ----------
    side, other : {"left", "right"}
        Side of the cycle and the opposite one.
    duration_s : float
        NaN when unknown.
    toe_off, opposite_toe_off, opposite_contact : float
        Fractions of the cycle; NaN when not seen.
    """

    def __init__(self, recording: PreparedMotion, cycle: Cycle) -> None:
        self.recording, self.cycle, self.motion = recording, cycle, recording.motion
        self.side: Side = cycle.side
        self.other: Side = opposite(cycle.side)
        self._reads: set[Read] = set()
        from_markers = "markers" in cycle.sources
        self._events = {side: recording.events(side, from_markers=from_markers) for side in SIDES}
        told = recording.event_origins(cycle.side) if from_markers else frozenset()
        self._of_events = {
            self.side: (self._events[self.side], told),
            self.other: (self._events[self.other], frozenset()),
        }
        self._is_from_markers = from_markers
        self.duration_s = cycle.duration_s
        self._curves = _curves_of(self.motion, cycle) if cycle.from_curve else ()
        self.toe_off = cycle.toe_off_fraction
        if self._curves and math.isnan(self.toe_off):
            self.toe_off = _toe_off_of(self._curves)
        self._opposite_toe_off = self._fraction(cycle.opposite_toe_off_s)
        self._opposite_contact = self._fraction(cycle.opposite_contact_s)
        self._found: dict[Hashable, tuple[Any, set[Read]]] = {}
        self._tracks: dict[Hashable, CycleSamples] = {}
        self._zones = self._event_zones()

    def start_reading(self) -> None:
        """Forget what was read: a new value begins, of the own foot's events."""
        self._reads = {self._of_events[self.side]}

    def what_was_read(self) -> tuple[frozenset[str], frozenset[Origin]]:
        """Return the names of all that was read since :meth:`start_reading`, and the origins."""
        return self.recording.joined(frozenset(self._reads))

    def cancels(self, name: str) -> None:
        """Tell that what shifts everything read so far as a whole is in this value no more.

        The zero of a foot shifts as a whole too: values that it cancels in are of any zero.
        """
        names, origins = self.recording.joined(frozenset(self._reads))
        kept = frozenset(origin for origin in origins if origin[0] not in _ZEROS)
        self._reads = {(names - {name}, kept)}

    def once(self, key: Hashable, find: Callable[[], _Found]) -> _Found:
        """Return a result that several measures share; each of them counts as having read it."""
        if key not in self._found:
            before, self._reads = self._reads, set()
            try:
                self._found[key] = find(), self._reads
            finally:
                self._reads = before | self._reads
        found, reads = self._found[key]
        self._reads |= reads
        value: _Found = found
        return value

    @property
    def opposite_toe_off(self) -> float:
        """Fraction of the cycle at which the other foot leaves the floor; NaN when not seen."""
        self._reads.add(self._of_events[self.other])
        return self._opposite_toe_off

    @property
    def opposite_contact(self) -> float:
        """Fraction of the cycle at which the other foot touches; NaN when not seen."""
        self._reads.add(self._of_events[self.other])
        return self._opposite_contact

    @property
    def contact(self) -> ContactType:
        """Part of the foot that touches first, as foot pitch and markers tell it."""
        self._reads.add((self.recording.zero(self.side)[0], _NO_ORIGINS))
        return self.cycle.contact

    @property
    def speed_m_s(self) -> float:
        """Mean forward speed over the cycle; NaN when unknown."""
        names = self.recording.names_of("pelvis") | {LENGTHS, TIMES}
        self._reads.add((names, _NO_ORIGINS))
        return self.cycle.speed_m_s

    def neutral(self, side: Side) -> FootNeutral | None:
        """Return the zero of a foot, None when there is none."""
        self._reads.add((self.recording.zero(side)[0], _NO_ORIGINS))
        return self.motion.neutral.get(side)

    def needs_time_of_toe_off(self, *sides: Side) -> None:
        """Tell that the value is itself a time of toe-off: it moves with the point that tells it.

        A window that ends there hardly does.
        """
        for side in sides if self._is_from_markers else ():
            told = self.recording.toe_off_origins(side) | self.recording.event_origins(side)
            self._reads.add((frozenset(), told))

    def stance(self) -> tuple[float, float]:
        """Return the window contact to toe-off."""
        return 0.0, self._toe_off()

    def swing(self) -> tuple[float, float]:
        """Return the window toe-off to the next contact."""
        return self._toe_off(), 1.0

    def swing_part(self, start: float, end: float) -> tuple[float, float]:
        """Return the window between two fractions of swing."""
        toe_off = self._toe_off()
        return toe_off + start * (1 - toe_off), toe_off + end * (1 - toe_off)

    def angle(self, joint: Joint, *, side: Side | None = None) -> CycleSamples:
        """Return the angle in degrees that the angle measures use."""
        if self.cycle.from_curve:
            return self._curve_track(joint, side)
        return self._track(self.recording.angle(side or self.side, joint))

    def angle_labels(self, joint: Joint, *, side: Side | None = None) -> tuple[Reason, ...]:
        """Return what stands beside values of :meth:`angle`."""
        if self.cycle.from_curve:
            return (OF_FILE,)
        return self.recording.angle(side or self.side, joint).labels

    def fast_angle(self, joint: Joint) -> CycleSamples:
        """Return the angle in degrees that rates are taken from."""
        if self.cycle.from_curve:
            return self._curve_track(joint, None)
        return self._track(self.recording.fast_angle(self.side, joint))

    def fast_rate(self, joint: Joint) -> CycleSamples:
        """Return the rate of change in deg/s; not defined for a curve without cycle time."""
        if not self.cycle.from_curve:
            return self._track(self.recording.fast_rate(self.side, joint))
        track = self._curve_track(joint, None)
        if math.isnan(self.duration_s):
            raise NotDefined(Reason("no_cycle_time_for_rate"))
        rate = gradient(track.values) * (track.n_steps / self.duration_s)
        return CycleSamples(rate, 0.0, track.n_steps, None, (), track.what)

    def fall_rates(self, joint: Joint) -> tuple[CycleSamples, CycleSamples]:
        """Return how fast the angle of a falling foot changes, and a steadier rate to time it by.

        Both are :meth:`fast_rate` where there are no markers.
        """
        if self.cycle.from_curve:
            return (self.fast_rate(joint),) * 2
        rate = self.recording.fall_rate(self.side, joint)
        timing = self.recording.fall_rate(self.side, joint, is_for_timing=True)
        return self._track(rate), self._track(timing)

    def fall_labels(self, joint: Joint) -> tuple[Reason, ...]:
        """Return what stands beside values of :meth:`fall_rates`."""
        if self.cycle.from_curve:
            return self.rate_labels(joint)
        return self.recording.fall_rate(self.side, joint).labels

    def rate_labels(self, joint: Joint) -> tuple[Reason, ...]:
        """Return what stands beside values of :meth:`fast_rate`."""
        if self.cycle.from_curve:
            points = [c.values_deg for c in self._curves if c.joint == joint]
            n_points = len(points[0] if points else self.cycle.percent_curves[joint])
            return (Reason(LOWER_BOUND_OF_CURVE, n_points=n_points), RATE_OF_FILE)
        return self.recording.fast_angle(self.side, joint).labels

    def point(self, name: str, axis: int, *, side: Side | None = None) -> CycleSamples:
        """Return one coordinate in metres of a point given without its side."""
        if self.cycle.from_curve:
            raise NotDefined(Reason("angles_only"))
        stored = self.recording.point(side or self.side, name, axis)
        if stored.missing is not None:
            unseen = (f"{side or self.side}_{name}", (_NOT_SEEN,))
            self._reads.add((frozenset(), frozenset({unseen})))
        return self._track(stored)

    def slight_rise(self) -> tuple[float, float]:
        """Return the rise of the floor per metre forward and left that no point was turned by."""
        rise = self.motion.slight_rise
        if rise is None:
            return 0.0, 0.0
        forward, left = rise[int(self.cycle.start_s * self.motion.rate_hz)].tolist()
        return forward, left

    def frames(self, start: float, end: float) -> slice:
        """Return the frames of the recording between two fractions of the cycle."""
        if self.cycle.from_curve:
            return slice(0, 0)
        rate_hz = self.motion.rate_hz
        lower = math.ceil((self.cycle.start_s + start * self.duration_s) * rate_hz)
        upper = math.floor((self.cycle.start_s + end * self.duration_s) * rate_hz) + 1
        return slice(max(lower, 0), max(min(upper, self.motion.n_frames), 0))

    def foot_flat_frames(self, start: float, end: float, *, side: Side | None = None) -> IntArray:
        """Return the frames between two fractions of the cycle in which a foot is flat."""
        self._reads.add((self.recording.zero(side or self.side)[0], _NO_ORIGINS))
        mask = self.motion.foot_flat.get(side or self.side)
        frames = self.frames(start, end)
        flat: IntArray = _NO_FRAMES if mask is None else mask[frames].nonzero()[0]
        return flat + frames.start if flat.size else flat

    def fraction_of_frame(self, frame: int) -> float:
        """Return the fraction of the cycle at a frame."""
        return self._fraction(frame / self.motion.rate_hz)

    def _toe_off(self) -> float:
        if not 0 < self.toe_off < 1:
            raise NotDefined(Reason("no_toe_off"))
        return self.toe_off

    def _fraction(self, time_s: float) -> float:
        return (time_s - self.cycle.start_s) / self.duration_s

    def _event_zones(self) -> tuple[tuple[float, float], ...]:
        events = (0.0, self.toe_off, 1.0, self._opposite_toe_off, self._opposite_contact)
        half = EVENT_ZONE_S / self.duration_s
        return tuple((event - half, event + half) for event in events if not math.isnan(event))

    def _track(self, stored: Stored) -> CycleSamples:
        if stored.missing is not None:
            raise NotDefined(stored.missing)
        self._reads.add((stored.made_of, stored.origins))
        track = self._tracks.get(id(stored))
        if track is None:
            rate_hz = self.motion.rate_hz
            start, n_steps = self.cycle.start_s * rate_hz, self.duration_s * rate_hz
            track = self._tracks[id(stored)] = CycleSamples(
                stored.values, start, n_steps, stored.filled, self._zones, stored.what
            )
        return track

    def _curve_track(self, joint: Joint, side: Side | None) -> CycleSamples:
        values = self.cycle.percent_curves.get(joint)
        if (side or self.side) != self.side:
            raise NotDefined(Reason("no_angle_of_other_side", angle=joint))
        if values is None:
            raise NotDefined(Reason("no_angle_in_sheet", angle=joint))
        names = frozenset({angle_of(self.side, joint), file_angle_of(self.side, joint)})
        self._reads.add((names, frozenset({(angle_of(self.side, joint), ("file",))})))
        return CycleSamples(values, 0.0, len(values) - 1.0, None, (), joint)


def _curves_of(motion: Motion, cycle: Cycle) -> tuple[AngleCurve, ...]:
    """Return the curves of the sheet that the cycle is made of."""
    curves = motion.trial.curves
    return tuple(c for c in curves if c.side == cycle.side and c.cycle == cycle.label)


def _toe_off_of(curves: tuple[AngleCurve, ...]) -> float:
    """Return the toe-off fraction that the sheet gives without a cycle time; NaN when unclear."""
    given = {c.toe_off_percent for c in curves if not math.isnan(c.toe_off_percent)}
    return given.pop() / 100 if len(given) == 1 else math.nan

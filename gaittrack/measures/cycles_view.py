"""Several cycles as the measures see them: windows and tracks, each made once.

In come a motion and cycles that are alike (:func:`alike`), of one leg or of both, out comes a
:class:`CyclesView`. Its ``angle``, ``fast_angle``, ``fast_rate`` and ``point`` give tracks, of the
own or the other foot of each cycle; ``swing``, ``stance`` and ``swing_part`` give windows;
``values_in`` and ``value_at`` read the one in the other. What no cycle has raises ``NotDefined``
with the reason; what one cycle has not is refused to it alone.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Iterable, Sequence

import numpy as np

from gaittrack.cycles import Cycle
from gaittrack.ingredients import LENGTHS, TIMES, angle_of, file_angle_of
from gaittrack.measures.legs import Foot, Leg, OfLegs, of_legs, one_after_the_other
from gaittrack.measures.reading import Labels, NotDefined
from gaittrack.measures.recording import (
    LOWER_BOUND_OF_CURVE,
    OF_FILE,
    RATE_OF_FILE,
    PreparedMotion,
    Read,
    Stored,
    gradient,
)
from gaittrack.measures.sampled_cycles import SampledCycles
from gaittrack.measures.samples import Frames, Grid, IntArray, Series, Window, frames_of
from gaittrack.reasons import Reason
from gaittrack.trial import BoolArray, FloatArray
from gaittrack.vocabulary import SIDES, Joint, Side

FORWARD, LEFT, UP = 0, 1, 2
"""Columns of a point."""
EVENT_ZONE_S = 0.05
"""Filled samples this close to an event are refused; own choice (no source)."""
_NO_TOE_OFF = Reason("no_toe_off")


def alike(recording: PreparedMotion, cycles: Iterable[Cycle]) -> list[list[int]]:
    """Return which cycles can be seen together, by their places: what is so of one is so of all."""
    groups: dict[Hashable, list[int]] = {}
    for place, cycle in enumerate(cycles):
        points = _points_of_sheet(recording, cycle)
        key = ("markers" in cycle.sources, cycle.is_mean, *points.items())
        groups.setdefault((cycle.side if cycle.from_curve else "", *key), []).append(place)
    return list(groups.values())


class CyclesView(SampledCycles):
    """Cycles with their windows and tracks.

    Attributes
    ----------
    legs : list of Leg
        Sides of the cycles, and which of them are of each.
    is_mean, from_curve : bool
        As of each cycle; curves are of one leg.
    duration_s : ndarray, shape (n_cycles,)
        NaN when unknown.
    toe_off, opposite_toe_off, opposite_contact : ndarray, shape (n_cycles,)
        Fractions of the cycle; NaN when not seen.
    """

    @np.errstate(divide="ignore", invalid="ignore")
    def __init__(self, recording: PreparedMotion, cycles: Sequence[Cycle]) -> None:
        self.recording, self.motion, self.cycles = recording, recording.motion, cycles
        self.ids, self.sides = [cycle.id for cycle in cycles], [cycle.side for cycle in cycles]
        first = cycles[0]
        self.is_mean, self.from_curve = first.is_mean, first.from_curve
        self._is_from_markers = "markers" in first.sources
        times_s = [
            (c.start_s, c.toe_off_s, c.end_s, c.opposite_toe_off_s, c.opposite_contact_s)
            for c in cycles
        ]
        self._start_s, toe_off_s, end_s, *opposite_s = np.array(times_s, dtype=float).T
        self.duration_s: FloatArray = end_s - self._start_s
        self.toe_off = self._fraction(toe_off_s)
        self._opposite_toe_off, self._opposite_contact = map(self._fraction, opposite_s)
        if self.from_curve:
            self._points = _points_of_sheet(recording, first)
            given = np.array([_toe_off_of_sheet(recording, cycle) for cycle in cycles])
            self.toe_off = np.where(np.isnan(self.toe_off), given, self.toe_off)
        self._tracks: dict[Hashable, Series] = {}
        self._of_legs: dict[Hashable, OfLegs] = {}
        present = [side for side in SIDES if side in self.sides]
        super().__init__(self._find_grid(present), self._event_zones(), recording.joined)
        self.legs = [
            Leg(side, np.array([own == side for own in self.sides]) if present[1:] else self.all)
            for side in present
        ]
        self._own_events = self._find_events("own")
        self._other_events = self._find_events("other")

    def start_reading(self) -> None:
        """Forget what was read and refused: a new value begins, of the own foot's events."""
        self.begin()
        for read in self._own_events:
            self.read(*read)

    def _find_events(self, foot: Foot) -> list[tuple[Read, BoolArray]]:
        """Return what the events of a foot rest on; of the own one also what they are told by."""
        is_told = self._is_from_markers and foot == "own"
        found = []
        for leg in self.legs:
            told = self.recording.event_origins(leg.side) if is_told else frozenset()
            side, is_from_markers = leg.side_of(foot), self._is_from_markers
            names = self.recording.events(side, from_markers=is_from_markers)
            found.append(((names, told), leg.are))
        return found

    def _read_other_events(self) -> None:
        for read in self._other_events:
            self.read(*read)

    @property
    def opposite_toe_off(self) -> FloatArray:
        """Fraction of the cycle at which the other foot leaves the floor; NaN when not seen."""
        self._read_other_events()
        return self._opposite_toe_off

    @property
    def opposite_contact(self) -> FloatArray:
        """Fraction of the cycle at which the other foot touches; NaN when not seen."""
        self._read_other_events()
        return self._opposite_contact

    @property
    def contact(self) -> np.ndarray[tuple[int], np.dtype[np.str_]]:
        """Part of the foot that touches first, as foot pitch and markers tell it."""
        self._read_zero("own")
        return np.array([cycle.contact for cycle in self.cycles])

    @property
    def speed_m_s(self) -> FloatArray:
        """Mean forward speed over the cycle; NaN when unknown."""
        self.read((self.recording.names_of("pelvis") | {LENGTHS, TIMES}, frozenset()))
        return np.array([cycle.speed_m_s for cycle in self.cycles], dtype=float)

    @property
    def outward(self) -> FloatArray:
        """Whether left is outward: +1 of cycles of the left leg, -1 of the right one's."""
        return np.array([1.0 if side == "left" else -1.0 for side in self.sides])

    def _read_zero(self, foot: Foot) -> None:
        for leg in self.legs:
            self.read((self.recording.zero(leg.side_of(foot))[0], frozenset()), leg.are)

    def else_heel_of(self, foot: Foot, height_m: FloatArray, reason: Reason) -> FloatArray:
        """Return heights, where they are NaN the standing height of that foot's heel."""

        def find() -> FloatArray:
            self._read_zero(foot)
            standing_m = self.nothing.copy()
            for leg in self.legs:
                neutral = self.motion.neutral.get(leg.side_of(foot))
                if neutral is not None:
                    standing_m[leg.are] = neutral.heel_height_m
            self.refuse(np.isnan(standing_m), reason)
            return standing_m

        is_missing = np.isnan(height_m)
        return np.where(is_missing, self.among(is_missing, find), height_m)

    def needs_time_of_toe_off(self, *feet: Foot) -> None:
        """Tell that the value is itself a time of toe-off: it moves with the point that tells it.

        A window that ends there hardly does.
        """
        recording = self.recording
        for foot in feet if self._is_from_markers else ():
            for leg in self.legs:
                side = leg.side_of(foot)
                told = recording.toe_off_origins(side) | recording.event_origins(side)
                self.read((frozenset(), told), leg.are)

    def stance(self) -> Window:
        """Return the window contact to toe-off."""
        return self.once("stance", lambda: self.window(0.0, self._known_toe_off()))

    def swing(self) -> Window:
        """Return the window toe-off to the next contact."""
        return self.once("swing", lambda: self.window(self._known_toe_off(), 1.0))

    def swing_part(self, start: float, end: float) -> Window:
        """Return the window between two fractions of swing."""

        def find() -> Window:
            toe_off = self._known_toe_off()
            return self.window(*(toe_off + share * (1 - toe_off) for share in (start, end)))

        return self.once(("swing", start, end), find)

    def angle(self, joint: Joint, *, foot: Foot = "own") -> Series:
        """Return the angle in degrees that the angle measures use."""
        if self.from_curve:
            return self._curve_track(joint, foot)
        return self._track(self._legs_of(self.recording.angle, joint, foot=foot))

    def angle_labels(self, joint: Joint, *, foot: Foot = "own") -> Labels:
        """Return what stands beside values of :meth:`angle`."""
        if self.from_curve:
            return (OF_FILE,)
        return self._legs_of(self.recording.angle, joint, foot=foot).labels

    def fast_angle(self, joint: Joint) -> Series:
        """Return the angle in degrees that rates are taken from."""
        if self.from_curve:
            return self._curve_track(joint)
        return self._track(self._legs_of(self.recording.fast_angle, joint))

    def fast_rate(self, joint: Joint) -> Series:
        """Return the rate of change in deg/s; not defined for a curve without cycle time."""
        if not self.from_curve:
            return self._track(self._legs_of(self.recording.fast_rate, joint))
        track = self._curve_track(joint)
        self.refuse(np.isnan(self.duration_s), Reason("no_cycle_time_for_rate"))
        if (joint, "rate") not in self._tracks:
            curves = track.values.reshape(len(self.cycles), -1)
            per_s = self.grid.n_steps / self.duration_s
            rates = [gradient(curve) * times for curve, times in zip(curves, per_s, strict=True)]
            self._tracks[joint, "rate"] = Series(np.concatenate(rates), joint)
        return self._tracks[joint, "rate"]

    def fall_rates(self, joint: Joint) -> tuple[Series, Series]:
        """Return how fast the angle of a falling foot changes, and a steadier rate to time it by.

        Both are :meth:`fast_rate` where there are no markers.
        """
        if self.from_curve:
            return (self.fast_rate(joint),) * 2
        rate = self._track(self._legs_of(self.recording.fall_rate, joint))
        return rate, self._track(self._legs_of(self.recording.fall_timing, joint))

    def fall_labels(self, joint: Joint) -> Labels:
        """Return what stands beside values of :meth:`fall_rates`."""
        if self.from_curve:
            return self.rate_labels(joint)
        return self._legs_of(self.recording.fall_rate, joint).labels

    def rate_labels(self, joint: Joint) -> Labels:
        """Return what stands beside values of :meth:`fast_rate`."""
        if self.from_curve:
            return (Reason(LOWER_BOUND_OF_CURVE, n_points=self._points[joint]), RATE_OF_FILE)
        return self._legs_of(self.recording.fast_angle, joint).labels

    def point(self, name: str, axis: int, *, foot: Foot = "own") -> Series:
        """Return one coordinate in metres of a point given without its side."""
        if self.from_curve:
            raise NotDefined(Reason("angles_only"))
        return self._track(self._legs_of(self.recording.point, name, axis, foot=foot))

    def slight_rise(self) -> FloatArray:
        """Return the rise of the floor per metre that no point was turned by, (2, n_cycles).

        Forward and left.
        """
        rise = self.motion.slight_rise
        if rise is None:
            return np.zeros((2, len(self.cycles)))
        frame = (self._start_s * self.motion.rate_hz).astype(np.intp)
        own: FloatArray = rise[np.clip(frame, 0, len(rise) - 1)].T
        return own

    def frames(self, start: FloatArray | float, end: FloatArray | float) -> Frames:
        """Return the frames of the recording between two fractions of each cycle, as in tracks."""
        times_s = (self._start_s + each * self.duration_s for each in (start, end))
        lower, upper = (each * self.motion.rate_hz for each in times_s)
        n_frames = 0 if self.from_curve else self.motion.n_frames
        at, are = frames_of(np.ceil(lower), np.floor(upper) + 1, n_frames)
        return Frames(at + self.grid.first[:, None], are)

    def foot_flat_frames(
        self, start: FloatArray | float, end: FloatArray | float, *, foot: Foot = "own"
    ) -> Frames:
        """Return the frames between two fractions of each cycle in which a foot is flat."""
        self._read_zero(foot)
        at, are = self.frames(start, end)
        if self.from_curve:
            return Frames(at, np.zeros_like(are))
        never = np.zeros(self.motion.n_frames, dtype=bool)
        flat = [self.motion.foot_flat.get(leg.side_of(foot), never) for leg in self.legs]
        return Frames(at, are & one_after_the_other(flat)[at])

    def fraction_of_frame(self, frame: IntArray) -> FloatArray:
        """Return the fraction of each cycle at a frame of its track."""
        return self._fraction((frame - self.grid.first) / self.motion.rate_hz)

    def _find_grid(self, sides: Sequence[Side]) -> Grid:
        n_cycles = len(self.cycles)
        if self.from_curve:
            n_points = len(next(iter(self.cycles[0].percent_curves.values()), ()))
            starts, steps = np.zeros(n_cycles), np.full(n_cycles, n_points - 1.0)
            return Grid(starts, steps, n_points * np.arange(n_cycles), n_points)
        rate_hz, n_frames = self.motion.rate_hz, self.motion.n_frames
        start, n_steps = self._start_s * rate_hz, self.duration_s * rate_hz
        first = np.array([n_frames * sides.index(side) for side in self.sides], dtype=np.intp)
        return Grid(start, n_steps, first, n_frames)

    def _known_toe_off(self) -> FloatArray:
        self.refuse(~((0 < self.toe_off) & (self.toe_off < 1)), _NO_TOE_OFF)
        return self.toe_off

    def _fraction(self, time_s: FloatArray) -> FloatArray:
        fraction: FloatArray = (time_s - self._start_s) / self.duration_s
        return fraction

    def _event_zones(self) -> tuple[FloatArray, FloatArray]:
        """Return the fractions within 50 ms of an event, from and to, shape (5, n_cycles)."""
        ends = np.zeros_like(self.toe_off), np.ones_like(self.toe_off)
        events = np.stack((*ends, self.toe_off, self._opposite_toe_off, self._opposite_contact))
        half = EVENT_ZONE_S / self.duration_s
        return events - half, events + half

    def _legs_of(self, find: Callable[..., Stored], *what: Hashable, foot: Foot = "own") -> OfLegs:
        """Return a series of the recording, of each leg's own or other foot."""
        key = (find, foot, *what)
        found = self._of_legs.get(key)
        if found is None:
            stored = tuple(find(leg.side_of(foot), *what) for leg in self.legs)
            found = self._of_legs[key] = of_legs(self.legs, stored)
        return found

    def _track(self, found: OfLegs) -> Series:
        for leg, stored in zip(self.legs, found.stored, strict=True):
            self.read((stored.made_of, stored.origins), leg.are)
            if stored.missing is not None:
                self.refuse(leg.are, stored.missing)
        if found.missing is not None:
            raise NotDefined(found.missing)
        return found.series

    def _curve_track(self, joint: Joint, foot: Foot = "own") -> Series:
        if foot == "other":
            raise NotDefined(Reason("no_angle_of_other_side", angle=joint))
        if joint not in self._points:
            raise NotDefined(Reason("no_angle_in_sheet", angle=joint))
        angle = angle_of(self.sides[0], joint)
        names = frozenset({angle, file_angle_of(self.sides[0], joint)})
        self.read((names, frozenset({(angle, ("file",))})))
        if joint not in self._tracks:
            curves = [cycle.percent_curves[joint] for cycle in self.cycles]
            self._tracks[joint] = Series(np.concatenate(curves), joint)
        return self._tracks[joint]


def _points_of_sheet(recording: PreparedMotion, cycle: Cycle) -> dict[Joint, int]:
    """Return of how many points each curve of a cycle was in its sheet; nothing of recordings."""
    if not cycle.from_curve:
        return {}
    own = recording.curves_of(cycle.side, cycle.label)
    points = {curve.joint: len(curve.values_deg) for curve in reversed(own)}
    return {joint: points.get(joint, len(each)) for joint, each in cycle.percent_curves.items()}


def _toe_off_of_sheet(recording: PreparedMotion, cycle: Cycle) -> float:
    """Return the toe-off fraction that the sheet gives without a cycle time; NaN when unclear."""
    own = recording.curves_of(cycle.side, cycle.label)
    given = {c.toe_off_percent for c in own if not math.isnan(c.toe_off_percent)}
    return given.pop() / 100 if len(given) == 1 else math.nan

"""What was recorded: one trial, as read from one file, in SI units.

In comes what a reader found; out goes a frozen :class:`Trial`. Points are in metres in the axes of
the file, forces in newtons, angles in degrees; a gap is NaN, never 0. Times are seconds from the
first stored frame. Nothing here is filtered, filled or turned.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from pathlib import PurePath
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from gaittrack.errors import Problem
from gaittrack.notebook_view import Shown
from gaittrack.vocabulary import ContactType, EventKind, EventSource, Joint, Side

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


def frozen_array(values: ArrayLike) -> FloatArray:
    """Return ``values`` as a read-only float64 array that nobody else can write to."""
    if isinstance(values, np.ndarray) and _is_frozen(values):
        return values
    array = np.array(values, dtype=np.float64)
    array.setflags(write=False)
    return array


def _is_frozen(array: NDArray[np.generic]) -> bool:
    return array.dtype == np.float64 and array.base is None and not array.flags.writeable


@dataclass(frozen=True, eq=False, slots=True, repr=False)
class Signal(Shown):
    """One quantity over time.

    Attributes
    ----------
    values : ndarray, shape (n_frames,) or (n_frames, 3)
        NaN where nothing was recorded.
    unit : str
        ``m``, ``deg``, ``N``, ``N.m``, ``m/s`` or ``deg/s``.
    meaning : str
        What it is and which direction is positive.
    """

    values: FloatArray
    unit: str
    meaning: str

    def __post_init__(self) -> None:
        """Keep an own read-only copy of the values."""
        object.__setattr__(self, "values", frozen_array(self.values))


@dataclass(frozen=True, eq=False, slots=True, repr=False)
class ForcePlate(Shown):
    """One force plate, in the axes of the file, at its own rate.

    Attributes
    ----------
    force_n : ndarray, shape (n_samples, 3)
        Force of the floor on the foot (up is positive along the vertical), baseline removed.
    centre_of_pressure_m : ndarray, shape (n_samples, 3)
        NaN while the plate is unloaded.
    corners_m : ndarray, shape (4, 3), or all NaN when the file does not say
    name : str
        ``plate 1``, ``plate 2`` … in the order of the file.
    """

    force_n: FloatArray
    centre_of_pressure_m: FloatArray
    corners_m: FloatArray
    rate_hz: float
    name: str

    def __post_init__(self) -> None:
        """Keep own read-only copies."""
        for key in ("force_n", "centre_of_pressure_m", "corners_m"):
            object.__setattr__(self, key, frozen_array(getattr(self, key)))


@dataclass(frozen=True, slots=True)
class EventId:
    """Which event of a trial: its foot, its kind and its millisecond from the first stored frame.

    The same recording gives the same ids each time, whatever else is found in it.
    """

    side: Side
    kind: EventKind
    ms: int

    @property
    def time_s(self) -> float:
        """Its time to the millisecond, in seconds from the first stored frame."""
        return self.ms / 1000


@dataclass(frozen=True, slots=True)
class Event:
    """One contact or toe-off of one foot.

    Attributes
    ----------
    time_s : float
        Seconds from the first stored frame.
    contact : ContactType or None
        Part of the foot that touched first; None for toe-off, and where it is not told yet.
    """

    time_s: float
    side: Side
    kind: EventKind
    source: EventSource
    contact: ContactType | None = None

    @property
    def id(self) -> EventId:
        """What names it in its trial."""
        return EventId(self.side, self.kind, round(1000 * self.time_s))


@dataclass(frozen=True, eq=False, slots=True, repr=False)
class AngleCurve(Shown):
    """One joint angle over one gait cycle, 0–100 %, as a sheet holds it.

    Attributes
    ----------
    cycle : str
        The sheet's own name of the cycle; curves of one side with one name belong together.
    values_deg : ndarray, shape (n_points,)
        Evenly spaced from 0 to 100 % inclusive, sign and zero as in ``vocabulary.JOINT_MEANING``.
    cycle_time_s : float
        NaN when the sheet does not give it: then there are no rates.
    toe_off_percent : float
        NaN when the sheet does not give it: then there are no swing measures.
    is_mean : bool
        The curve is already an average of several cycles.
    condition : str
        What the sheet calls the condition, or "".
    """

    side: Side
    joint: Joint
    cycle: str
    values_deg: FloatArray
    cycle_time_s: float = float("nan")
    toe_off_percent: float = float("nan")
    is_mean: bool = False
    condition: str = ""

    def __post_init__(self) -> None:
        """Keep an own read-only copy of the values."""
        object.__setattr__(self, "values_deg", frozen_array(self.values_deg))


@dataclass(frozen=True, slots=True)
class Provenance:
    """Where a trial comes from and what was done to it.

    Attributes
    ----------
    file_name : str
        Name without folders.
    sha256 : str
        Hash of the file's bytes.
    format : str
        ``C3D``, ``joint-angle sheet`` or ``marker text table``.
    steps : tuple of str
        What was done, in order, each added after it succeeded.
    columns : tuple of str
        Names of a sheet's columns, or of its rows of curves; empty where markers have names.
    day : str
        When it was recorded as the file says, in ISO form: a guess to offer, nothing more.
    device : tuple of str
        What it was recorded with, in the words of its header.
    people : frozenset of str
        :func:`gaittrack.part_names.person_key` of who its header names: the names stay in the file.
    """

    file_name: str
    sha256: str
    format: str
    steps: tuple[str, ...] = ()
    columns: tuple[str, ...] = ()
    day: str = ""
    device: tuple[str, ...] = ()
    people: frozenset[str] = frozenset()


@dataclass(frozen=True, eq=False, slots=True, repr=False)
class Trial(Shown):
    """One recording as read from one file.

    Attributes
    ----------
    rate_hz : float
        Frames per second; NaN for a sheet of 0–100 % curves without time.
    first_frame : int
        Number the recording system gave to the first stored frame (1 when it gave none).
    markers : mapping of label to ndarray, shape (n_frames, 3)
        Metres, axes of the file. A two-dimensional recording has 0 along the missing axis and
        ``n_dimensions`` 2.
    angles : mapping of (side, joint) to Signal
        Joint angles over time that the file itself holds.
    curves : tuple of AngleCurve
        Joint angles over 0–100 % of a cycle that the file itself holds.
    events : tuple of Event
        Marks in the file, in time order, on this trial's clock.
    """

    rate_hz: float
    n_frames: int
    provenance: Provenance
    first_frame: int = 1
    markers: Mapping[str, FloatArray] = field(default_factory=dict)
    angles: Mapping[tuple[Side, Joint], Signal] = field(default_factory=dict)
    curves: tuple[AngleCurve, ...] = ()
    plates: tuple[ForcePlate, ...] = ()
    events: tuple[Event, ...] = ()
    problems: tuple[Problem, ...] = ()
    n_dimensions: int = 3

    def __post_init__(self) -> None:
        """Keep own read-only copies and refuse arrays of another length than the trial."""
        markers = {label: frozen_array(xyz) for label, xyz in self.markers.items()}
        for label, xyz in markers.items():
            if xyz.shape != (self.n_frames, 3):
                raise ValueError(
                    f"marker {label!r} must have shape ({self.n_frames}, 3), got {xyz.shape}"
                )
        for (side, joint), signal in self.angles.items():
            if signal.values.shape != (self.n_frames,):
                raise ValueError(
                    f"{side} {joint} must have shape ({self.n_frames},), got {signal.values.shape}"
                )
        object.__setattr__(self, "markers", MappingProxyType(markers))
        object.__setattr__(self, "angles", MappingProxyType(dict(self.angles)))

    def _facts(self) -> Mapping[str, object]:
        return {
            "file": self.provenance.file_name,
            "format": self.provenance.format,
            "rate_hz": self.rate_hz,
            "n_frames": self.n_frames,
            "markers": self.markers,
            "angles": self.angles,
            "curves": len(self.curves),
            "plates": [plate.name for plate in self.plates],
            "events": len(self.events),
            "problems": [str(each) for each in self.problems],
        }

    def __reduce__(self) -> tuple[object, ...]:
        """Cross to another process: read-only mappings cannot be pickled, plain ones can."""
        values = {item.name: getattr(self, item.name) for item in fields(self)}
        values["markers"], values["angles"] = dict(self.markers), dict(self.angles)
        return _rebuild_trial, (values,)

    @property
    def duration_s(self) -> float:
        """Time from the first to the last stored frame, in seconds."""
        return (self.n_frames - 1) / self.rate_hz if self.n_frames else 0.0


def _rebuild_trial(values: dict[str, Any]) -> Trial:
    return Trial(**values)


def with_step(trial: Trial, step: str, *problems: Problem) -> Trial:
    """Return ``trial`` with one more step (when not empty) and more problems recorded."""
    provenance = trial.provenance
    if step:
        provenance = replace(provenance, steps=(*provenance.steps, step))
    return replace(trial, provenance=provenance, problems=(*trial.problems, *problems))


def file_name(path: str) -> str:
    """Return the last part of a path, whichever system wrote it."""
    return PurePath(path.replace("\\", "/")).name

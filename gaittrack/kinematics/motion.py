"""What a trial looks like once it is turned into the walker's own axes.

A :class:`Motion` is made only by :func:`gaittrack.kinematics.describe_motion` from a ``Trial``;
events, cycles and measures read it and nothing else.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from gaittrack.errors import Problem
from gaittrack.notebook_view import Shown
from gaittrack.reasons import Reason
from gaittrack.trial import BoolArray, FloatArray, Signal, Trial
from gaittrack.vocabulary import Joint, Side

AngleOrigin = Literal["file", "markers"]


@dataclass(frozen=True, eq=False, slots=True, repr=False)
class LabAxes(Shown):
    """Where forward, left and up are, frame by frame.

    Attributes
    ----------
    up_axis : str
        Axis of the file that points up, for example ``+Z``.
    forward : ndarray, shape (n_frames, 3)
        Unit vector of progression in the axes of the file, constant within one pass.
    pass_number : ndarray, shape (n_frames,)
        1, 2 … for each straight pass; 0 while turning, starting or standing.
    belt_speed_m_s : float
        Speed that was added back for a treadmill; 0 overground.
    """

    up_axis: str
    forward: FloatArray
    pass_number: FloatArray
    belt_speed_m_s: float
    is_treadmill: bool


@dataclass(frozen=True, slots=True)
class FootNeutral:
    """Zero of one foot.

    Attributes
    ----------
    foot_pitch_deg : float
        Raw pitch that counts as 0; NaN when neither a standing trial nor foot-flat gave it.
    heel_height_m, forefoot_height_m : float
        Height of the points when the foot is flat.
    reason : Reason or None
        Why there is none.
    """

    foot_pitch_deg: float
    heel_height_m: float
    forefoot_height_m: float
    source: Literal["standing trial", "foot-flat", "none"]
    reason: Reason | None = None


@dataclass(frozen=True, slots=True, repr=False)
class MarkerFacts(Shown):
    """How well the landmarks in use were seen, and how far apart they lie.

    Attributes
    ----------
    seen_share : mapping of landmark to float
        Frames in which it was where a body moves it, as a share of those with people in view.
    noise_m : mapping of landmark to float
        SD of one coordinate from frame to frame.
    segments_m : mapping of segment to float
        Median length; the segments of ``segments.SEGMENTS``.
    smoothed_before : frozenset of str
        Landmarks of feet, ankles and knees that were low-passed before the file was written.
    """

    seen_share: Mapping[str, float] = field(default_factory=dict)
    noise_m: Mapping[str, float] = field(default_factory=dict)
    segments_m: Mapping[str, float] = field(default_factory=dict)
    smoothed_before: frozenset[str] = frozenset()


@dataclass(frozen=True, eq=False, slots=True, repr=False)
class Motion(Shown):
    """A trial in the walker's axes.

    Attributes
    ----------
    trial : Trial
        What was recorded, untouched.
    axes : LabAxes or None
        None for a trial without markers.
    landmark_labels : mapping of landmark key to label
        What each landmark was taken from.
    points : mapping of point key to ndarray, shape (n_frames, 3)
        Forward, left, up in metres, gaps of at most 0.1 s filled, low-passed at 6 Hz. Besides the
        landmarks: ``left_hip_centre``, ``left_knee_centre``, ``left_ankle_centre``,
        ``left_forefoot`` (point the foot pitch is taken to), ``left_toe_point`` (point whose
        clearance is measured), the same of the right side, and ``pelvis`` (its centre).
        On a treadmill the belt's travel is added to the forward coordinate.
    fast_points : the same, low-passed at 15 Hz; feet, ankles and knees only
    filled : mapping of point key to ndarray of bool, shape (n_frames,)
        True where a sample was filled or depends on a filled one.
    angles : mapping of (side, joint) to Signal, shape (n_frames,)
        Degrees; what the angle measures use: the file's own where it has them, else from markers.
    marker_angles : mapping of (side, joint) to Signal
        From markers at 6 Hz, whatever the file holds.
    fast_marker_angles : mapping of (side, joint) to Signal
        From markers at 15 Hz, for rates: ankle, knee, foot_pitch, shank_lean.
    falling_angles : mapping of (side, joint) to Signal
        From markers at 20 Hz, for how fast the foot falls: ankle, foot_pitch.
    foot_flat : mapping of side to ndarray of bool, shape (n_frames,)
    toe_point_name, foot_pitch_name : mapping of side to str
        In words: which markers they are taken from.
    smoothing : str
        The filters in words, printed beside results.
    problems : tuple of Problem
        The trial's own and those found here.
    turned_feet : tuple of Side
        Feet whose heel lies ahead of the forefoot: nothing is to be taken from these points.
    markers : MarkerFacts
        How well landmarks were seen, their noise and distances in metres.
    slight_rise : ndarray, shape (n_frames, 2), or None
        Rise of the floor per metre forward and left, too slight to turn the points by.
    is_floor_seen : bool
        Whether enough stances were seen to tell how the floor rises along the way.
    parts : mapping of point key to tuple of landmark key
        The landmarks that each point of ``points`` which is no landmark itself is made of.
    landmarks : frozenset of str
        Landmarks seen nearly as often as most: those that points are rather made of.
    left_out : mapping of landmark key to Reason
        Landmarks that were seen, but cannot be what they are named after.
    """

    trial: Trial
    axes: LabAxes | None
    landmark_labels: Mapping[str, str]
    points: Mapping[str, FloatArray]
    fast_points: Mapping[str, FloatArray]
    filled: Mapping[str, BoolArray]
    angles: Mapping[tuple[Side, Joint], Signal]
    angle_origin: Mapping[tuple[Side, Joint], AngleOrigin]
    marker_angles: Mapping[tuple[Side, Joint], Signal]
    fast_marker_angles: Mapping[tuple[Side, Joint], Signal]
    falling_angles: Mapping[tuple[Side, Joint], Signal]
    neutral: Mapping[Side, FootNeutral]
    foot_flat: Mapping[Side, BoolArray]
    toe_point_name: Mapping[Side, str]
    foot_pitch_name: Mapping[Side, str]
    smoothing: str
    problems: tuple[Problem, ...]
    turned_feet: tuple[Side, ...] = ()
    markers: MarkerFacts = field(default_factory=MarkerFacts)
    slight_rise: FloatArray | None = None
    is_floor_seen: bool = True
    parts: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    left_out: Mapping[str, Reason] = field(default_factory=dict)
    landmarks: frozenset[str] = frozenset()

    @property
    def rate_hz(self) -> float:
        """Frames per second of the trial."""
        return self.trial.rate_hz

    @property
    def n_frames(self) -> int:
        """Number of frames of the trial."""
        return self.trial.n_frames

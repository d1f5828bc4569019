"""How large measurement error is, by measure and by which markers were put on again and by whom.

In come a measure and what was done to the markers between two conditions, out comes a
:class:`MeasurementError`: the scatter of placing them (tau), the error of a difference (2.77 tau),
its source, and whether it is only a proposal. What markers cannot shift has a fixed error instead.
A laboratory's own figures replace these.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Final, Literal, get_args

from gaittrack.compare.measurement_error.placement import UNTOUCHED, Placement
from gaittrack.reasons import Reason

How = Literal["untouched", "same day, same tester", "other day, same tester", "other tester"]
"""What was done to the markers between two conditions."""
HOWS: Final[tuple[How, ...]] = get_args(How)
MarkerGroup = Literal["foot", "shank", "thigh", "pelvis"]
MARKER_GROUPS: Final[tuple[MarkerGroup, ...]] = get_args(MarkerGroup)

_POINTS: Final[dict[MarkerGroup, tuple[str, ...]]] = {
    "foot": ("foot",),
    "shank": ("knee", "ankle"),
    "thigh": ("hip", "knee"),
    "pelvis": ("pelvis", "hip"),
}
"""Ends of the segments that a group may move. A joint's point counts with both of its segments, the
hip also with the pelvis it may be computed from: rather too many than too few."""


@dataclass(frozen=True, slots=True)
class Handling:
    """What was done to the markers between two conditions, and to which."""

    how: How
    groups: frozenset[MarkerGroup]


@dataclass(frozen=True, slots=True)
class MeasurementError:
    """The error of a difference.

    Attributes
    ----------
    placement : Placement
        What the interval is widened by.
    error : float
        Smallest difference that exceeds measurement error, in the unit of the measure; NaN when
        none is known.
    is_inside : bool
        The placement is that error: it must not be asked for a second time.
    is_proposal : bool
        Own proposal, not a published figure.
    is_own : bool
        From the laboratory's own repeat visits.
    """

    placement: Placement
    error: float
    source: Reason
    is_inside: bool
    is_proposal: bool
    is_own: bool = False


@dataclass(frozen=True, slots=True)
class OwnError:
    """A laboratory's own figures of one measure.

    Attributes
    ----------
    smallest_change : float
        Of the whole scatter between visits, walks included; the error of what markers cannot shift.
    """

    placement: Placement
    smallest_change: float
    source: Reason


NO_ERROR_FIGURE: Final = "no_error_figure"
OwnErrors = Mapping[tuple[str, How], OwnError]


@dataclass(frozen=True, slots=True)
class _Kind:
    """Placement scatter of one kind of measure.

    ``taus`` by handling, the untouched left out; ``shares`` of tau² by point, of the same tester's
    placement.
    """

    taus: tuple[float, float, float]
    shares: Mapping[str, float]
    source: str
    braced_taus: tuple[float, float] | None = None


def _of_points(**variances: float) -> dict[str, float]:
    total = sum(variances.values())
    return {point: variance / total for point, variance in variances.items()}


_ANKLE_SHARES: Final = _of_points(foot=0.30, knee=0.70 * 25 / 34, ankle=0.70 * 9 / 34)
"""Same day: 0.84 of 1.0 deg is the shank's lean, the rest the foot's."""
_KNEE_SHARES: Final = _of_points(hip=8.0**2, knee=(2 * 5.0) ** 2, ankle=3.0**2)
_THIGH_SHARES: Final = _of_points(hip=8.0**2, knee=5.0**2)
_LEFT_ON: Final = 3.0
"""Error of a difference of angles (deg) and clearances (mm) when no marker was moved."""
_LEFT_ON_SOURCE: Final = Reason("error_left_on")

_ANKLE: Final = _Kind((1.0, 1.8, 2.5), _ANKLE_SHARES, "error_ankle", braced_taus=(1.1, 2.2))
_ANKLE_AT_CONTACT: Final = _Kind((1.2, 2.0, 2.7), _ANKLE_SHARES, "error_ankle_at_contact")
_ANKLE_EXCURSION: Final = _Kind((0.7, 1.5, 1.8), _ANKLE_SHARES, "error_ankle_excursion")
_FOOT_PITCH: Final = _Kind((0.5, 1.2, 1.3), {"foot": 1.0}, "error_foot_pitch")
_THIGH: Final = _Kind((1.4, 2.0, 2.6), _THIGH_SHARES, "error_thigh")
_PELVIS_THIGH: Final = _Kind(
    (2.0, 3.0, 4.0),
    _of_points(pelvis=2.0**2 - 1.4**2, hip=1.4**2 * 64 / 89, knee=1.4**2 * 25 / 89),
    "error_pelvis_thigh",
)
_KNEE: Final = _Kind((1.9, 2.3, 3.6), _KNEE_SHARES, "error_knee")
_KNEE_EXCURSION: Final = _Kind((0.7, 1.5, 1.8), _KNEE_SHARES, "error_knee_excursion")
_TOE: Final = _Kind((1.0, 2.0, 2.5), {"foot": 1.0}, "error_clearance")

_KINDS: Final[dict[str, _Kind]] = {
    "peak_swing_dorsiflexion_deg": _ANKLE,
    "mid_swing_dorsiflexion_deg": _ANKLE,
    "dorsiflexion_at_toe_clearance_deg": _ANKLE,
    "peak_stance_dorsiflexion_deg": _ANKLE,
    "push_off_ankle_deg": _ANKLE,
    "dorsiflexion_at_contact_deg": _ANKLE_AT_CONTACT,
    "push_off_range_deg": _ANKLE_EXCURSION,
    "stance_ankle_range_deg": _ANKLE_EXCURSION,
    "foot_pitch_at_contact_deg": _FOOT_PITCH,
    "foot_lowering_angle_deg": _FOOT_PITCH,
    "mid_swing_foot_pitch_deg": _FOOT_PITCH,
    "peak_hip_flexion_thigh_vertical_deg": _THIGH,
    "peak_hip_flexion_pelvis_thigh_deg": _PELVIS_THIGH,
    "knee_flexion_at_contact_deg": _KNEE,
    "loading_knee_flexion_peak_deg": _KNEE,
    "stance_knee_flexion_minimum_deg": _KNEE,
    "peak_swing_knee_flexion_deg": _KNEE,
    "knee_yield_in_loading_deg": _KNEE_EXCURSION,
    "minimum_toe_clearance_mm": _TOE,
    "minimum_forefoot_clearance_mm": _TOE,
    "toe_height_under_hip_mm": _TOE,
}


@dataclass(frozen=True, slots=True)
class _Fixed:
    """An error that markers do not make: least, and per cent of the mean of both, by handling."""

    least: tuple[float, float, float, float]
    percent: tuple[float, float, float, float]
    source: str
    is_proposal: bool


SPEED_MEASURE: Final = "walking_speed_m_s"
_SPEED_BANDS: Final = ((0.4, 0.10), (0.8, 0.15), (math.inf, 0.21))
"""Upper end of the band (m/s) and its error (m/s)."""
_RATE: Final = _Fixed((25, 35, 50, 50), (20, 25, 30, 30), "error_rate", is_proposal=True)
_STEP: Final = _Fixed((0.067,) * 4, (0,) * 4, "error_step", is_proposal=False)
_TIMING: Final = _Fixed((4.2,) * 4, (0,) * 4, "error_timing", is_proposal=False)
_LOWERING: Final = _Fixed((28,) * 4, (0,) * 4, "error_lowering", is_proposal=True)
_FIXED: Final[dict[str, _Fixed]] = {
    "loading_response_plantarflexion_rate_deg_s": _RATE,
    "loading_response_plantarflexion_mean_rate_deg_s": _RATE,
    "foot_to_floor_rate_deg_s": _RATE,
    "foot_lowering_time_ms": _LOWERING,
    "step_length_m": _STEP,
    "stance_percent": _TIMING,
    "swing_percent": _TIMING,
    "double_support_percent": _TIMING,
}


FIGURES: Final = (_KINDS, _FIXED, _SPEED_BANDS, _LEFT_ON)
"""Every figure of this room."""


def in_situation(source: str | Reason, how: How) -> Reason:
    """Return a source that holds for one handling of the markers, cited with it."""
    told = Reason(source) if isinstance(source, str) else source
    return Reason("in_situation", source=told, how=how)


def find_handling(
    groups: Collection[MarkerGroup] | None,
    *,
    is_other_day: bool,
    is_same_tester: bool | None = None,
) -> Handling:
    """Return what was done to the markers between two conditions.

    Parameters
    ----------
    groups : collection of MarkerGroup or None
        Which were put on again on the same day; None when not recorded, which counts as all. On
        another day all were.
    is_same_tester : bool or None
        None when not recorded: the same on one day, another on another day.
    """
    if is_other_day:
        how: How = "other day, same tester" if is_same_tester else "other tester"
        return Handling(how, frozenset(MARKER_GROUPS))
    moved = frozenset(MARKER_GROUPS if groups is None else groups)
    if not moved:
        return Handling("untouched", moved)
    return Handling("other tester" if is_same_tester is False else "same day, same tester", moved)


def find_error(
    measure: str,
    handling: Handling,
    values: tuple[float, float],
    *,
    braced: tuple[bool | None, bool | None] = (None, None),
    own: OwnErrors | None = None,
) -> MeasurementError:
    """Return the measurement error of a difference.

    Parameters
    ----------
    values, braced : tuple
        Means, and whether a brace was worn, of the condition and of the reference. Per cent and the
        speed band go by the mean of both, so that swapping them changes nothing.
    own : mapping, optional
        The laboratory's own figures; used first.

    Returns
    -------
    MeasurementError
        NaN where no figure is known.
    """
    kind = _KINDS.get(measure)
    share = _touched_share(kind, handling)
    how: How = handling.how if share or kind is None else "untouched"
    if found := (own or {}).get((measure, how)):
        if share and found.placement.own > 0:
            return _inside(found.placement, found.source, is_proposal=False, is_own=True)
        if not share and found.smallest_change > 0:
            return _beside(found.smallest_change, found.source, is_proposal=False, is_own=True)
    if kind is None:
        return _fixed_error(measure, how, values)
    if not share:
        return _beside(_LEFT_ON, _LEFT_ON_SOURCE, is_proposal=True)
    placement, is_published = _placement(kind, how, share, braced)
    return _inside(placement, in_situation(kind.source, how), is_proposal=not is_published)


def _inside(
    placement: Placement, source: Reason, *, is_proposal: bool, is_own: bool = False
) -> MeasurementError:
    said = Reason("proposed", source=source) if is_proposal else source
    return MeasurementError(placement, placement.error, said, True, is_proposal, is_own)


def _beside(
    error: float, source: Reason, *, is_proposal: bool, is_own: bool = False
) -> MeasurementError:
    said = Reason("proposed", source=source) if is_proposal else source
    return MeasurementError(UNTOUCHED, error, said, False, is_proposal, is_own)


def _touched_share(kind: _Kind | None, handling: Handling) -> float:
    """Return the part of tau² that the markers put on again make, 0-1."""
    if kind is None:
        return 0.0
    moved = {point for group in handling.groups for point in _POINTS[group]}
    return sum(share for point, share in kind.shares.items() if point in moved)


def _placement(
    kind: _Kind, how: How, share: float, braced: tuple[bool | None, bool | None]
) -> tuple[Placement, bool]:
    """Return the placement, and whether its figures are published ones."""
    if how == "other day, same tester" and kind.braced_taus and None not in braced:
        with_brace, without = kind.braced_taus
        own, reference = (with_brace if is_braced else without for is_braced in braced)
        return Placement(own, reference), True
    tau = kind.taus[HOWS.index(how) - 1] * math.sqrt(share)
    return Placement(tau, tau), False


def _fixed_error(measure: str, how: How, values: tuple[float, float]) -> MeasurementError:
    middle = abs(sum(values)) / 2
    if measure == SPEED_MEASURE:
        least = next((error for top, error in _SPEED_BANDS if middle < top), math.nan)
        known = Reason(NO_ERROR_FIGURE if math.isnan(least) else "error_speed")
        return _beside(least, known, is_proposal=False)
    rule = _FIXED.get(measure)
    if rule is None:
        return _beside(math.nan, Reason(NO_ERROR_FIGURE), is_proposal=False)
    at = HOWS.index(how)
    error = max(rule.least[at], rule.percent[at] / 100 * middle)
    source = in_situation(rule.source, how) if len(set(rule.least)) > 1 else Reason(rule.source)
    return _beside(error, source, is_proposal=rule.is_proposal)

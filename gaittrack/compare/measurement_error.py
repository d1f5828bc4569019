"""How large a difference must be to exceed measurement error, by measure and situation.

In come a measure, a situation and the two values, out comes a :class:`Floor` with its source, or
none: "no error figure known". A laboratory's own floors (``repeat_visits.py``) replace these.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal, get_args

from gaittrack.reasons import Reason

Situation = Literal["same session, markers untouched", "same session, markers moved", "other day"]
SITUATIONS: Final[tuple[Situation, ...]] = get_args(Situation)
"""Unknown handling of markers counts as moved."""

NO_FLOOR: Final = "no_error_figure"
IN_SITUATION: Final = "in_situation"


@dataclass(frozen=True, slots=True)
class Floor:
    """The smallest difference that exceeds measurement error.

    Attributes
    ----------
    value : float
        In the unit of the measure; NaN when none is known.
    source : Reason
        Where it comes from, or that none is known.
    is_own : bool
        From the laboratory's own repeat visits.
    """

    value: float
    source: Reason
    is_own: bool = False

    @property
    def is_known(self) -> bool:
        """Whether there is a figure."""
        return not math.isnan(self.value)


@dataclass(frozen=True, slots=True)
class FloorRule:
    """A floor before the values are known.

    Attributes
    ----------
    is_of_situation : bool
        Whether it holds for one situation only.
    least : float
        In the unit of the measure.
    percent : float
        Per cent of the mean of both conditions; the larger of the two counts.
    """

    least: float
    percent: float
    source: Reason
    is_of_situation: bool = False

    def cited(self, situation: Situation) -> Reason:
        """Return where it comes from, with the situation if it is for that one."""
        if not self.is_of_situation:
            return self.source
        return Reason(IN_SITUATION, source=self.source, situation=situation)


FloorTable = Mapping[tuple[str, Situation], FloorRule]
"""A laboratory's own floors."""

_SWING: Final = "floor_swing"
_HIP: Final = "floor_hip"
_CLEARANCE: Final = "floor_clearance"
_RATE: Final = "floor_rate"
_GENERAL: Final = "floor_general"
_STEP: Final = "floor_step"
_TIMING: Final = "floor_timing"
_SPEED: Final = "floor_speed"
SPEED_MEASURE: Final = "walking_speed_m_s"
_SPEED_BANDS: Final = ((0.4, 0.10), (0.8, 0.15), (math.inf, 0.21))
"""Upper end of the band (m/s) and its floor (m/s)."""

_BY_SITUATION: Final[dict[str, tuple[tuple[tuple[float, float], ...], str]]] = {
    **dict.fromkeys(
        (
            "peak_swing_dorsiflexion_deg",
            "mid_swing_dorsiflexion_deg",
            "dorsiflexion_at_toe_clearance_deg",
            "dorsiflexion_at_contact_deg",
        ),
        (((3, 0), (5, 0), (6, 0)), _SWING),
    ),
    **dict.fromkeys(
        ("peak_hip_flexion_pelvis_thigh_deg", "peak_hip_flexion_thigh_vertical_deg"),
        (((3, 0), (5, 0), (7, 0)), _HIP),
    ),
    **dict.fromkeys(
        ("minimum_toe_clearance_mm", "toe_height_under_hip_mm", "minimum_forefoot_clearance_mm"),
        (((3, 0), (5, 0), (8, 0)), _CLEARANCE),
    ),
    **dict.fromkeys(
        (
            "loading_response_plantarflexion_rate_deg_s",
            "loading_response_plantarflexion_mean_rate_deg_s",
            "foot_to_floor_rate_deg_s",
        ),
        (((25, 20), (35, 25), (50, 30)), _RATE),
    ),
}
_IN_ANY_SITUATION: Final[dict[str, tuple[float, str]]] = {
    **dict.fromkeys(
        (
            "knee_flexion_at_contact_deg",
            "loading_knee_flexion_peak_deg",
            "stance_knee_flexion_minimum_deg",
            "peak_stance_dorsiflexion_deg",
            "push_off_ankle_deg",
            "push_off_range_deg",
            "stance_ankle_range_deg",
            "peak_swing_knee_flexion_deg",
        ),
        (5.0, _GENERAL),
    ),
    "step_length_m": (0.067, _STEP),
    **dict.fromkeys(("stance_percent", "swing_percent", "double_support_percent"), (4.2, _TIMING)),
}


def find_floor(
    measure: str,
    situation: Situation,
    value: float,
    reference_value: float,
    *,
    own: FloorTable | None = None,
) -> Floor:
    """Return the floor of a measure.

    Parameters
    ----------
    measure : str
        Name of the measure.
    value, reference_value : float
        Means of both conditions. Per cent, and the speed band, go by their mean, so that swapping
        the conditions changes nothing.
    own : mapping, optional
        The laboratory's own floors; used first, for the situations they were made in.

    Returns
    -------
    Floor
        NaN with the source ``NO_FLOOR`` where there is none.
    """
    middle = abs(value + reference_value) / 2
    if own and (measure, situation) in own:
        rule = own[measure, situation]
        return Floor(_apply(rule, middle), rule.cited(situation), is_own=True)
    if measure == SPEED_MEASURE:
        return _speed_floor(middle)
    rule_found = published_rule(measure, situation)
    if rule_found is None:
        return Floor(math.nan, Reason(NO_FLOOR))
    return Floor(_apply(rule_found, middle), rule_found.cited(situation))


def _speed_floor(middle: float) -> Floor:
    least = next((floor for top, floor in _SPEED_BANDS if middle < top), math.nan)
    return Floor(least, Reason(NO_FLOOR if math.isnan(least) else _SPEED))


def published_rule(measure: str, situation: Situation) -> FloorRule | None:
    """Return the built-in rule of a measure other than speed; None where there is none."""
    if measure in _BY_SITUATION:
        figures, source = _BY_SITUATION[measure]
        least, percent = figures[SITUATIONS.index(situation)]
        return FloorRule(least, percent, Reason(source), is_of_situation=True)
    if measure in _IN_ANY_SITUATION:
        least, source = _IN_ANY_SITUATION[measure]
        return FloorRule(least, 0, Reason(source))
    return None


def _apply(rule: FloorRule, middle: float) -> float:
    return max(rule.least, rule.percent / 100 * middle)

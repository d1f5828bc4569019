"""Two pictures for each point of the page for the person, drawn from what was measured.

In come a point, the comparison's rows and the walks, out come two pictures of leg, foot and shoe,
and the codes of the notes that belong to them. What was not measured is drawn upright, and the
note says so.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from gaittrack.compare.judged.rows import ComparisonRow
from gaittrack.compare.walked.walks import WalkRecord
from gaittrack.report import leg_drawing
from gaittrack.report.leg_drawing import Foot, foot_over_floor
from gaittrack.report.person_points import HEEL, Point
from gaittrack.report.person_words import PART_OF_SECOND_S
from gaittrack.trial import FloatArray
from gaittrack.vocabulary import Joint, Side

CURVES: Final[tuple[Joint, ...]] = ("hip_thigh_vertical", "knee", "foot_pitch")
_PITCH, _ANKLE = "foot_pitch_at_contact_deg", "dorsiflexion_at_contact_deg"
_SWING_PITCH, _SWING_ANKLE = "mid_swing_foot_pitch_deg", "mid_swing_dorsiflexion_deg"
_TO_UPRIGHT: Final = "peak_hip_flexion_thigh_vertical_deg"
MEASURES: Final = frozenset({_PITCH, _ANKLE, _SWING_PITCH, _SWING_ANKLE})
"""What the pictures need beside the questions."""
JOINTED: Final = "jointed"
_LEG_SCALE: Final = 0.4
_LOADING: Final = slice(0, 31)
_SWING: Final = slice(60, 101)
_ANKLE_UPRIGHT: Final = 106 + 130j
_FOOT_SCALE: Final = 0.9
_SECOND_SCALE: Final = 0.17


@dataclass(frozen=True, eq=False, slots=True)
class Drawing:
    """What a picture is drawn from: one condition and one leg.

    Attributes
    ----------
    worn : str
        Class of the brace, or ``brace``; empty without one.
    measure, value : str, float
        Of the row that is told; empty and NaN where only heel contacts are.
    said : str
        Beside a ruler.
    """

    rows: Mapping[tuple[str, Side], ComparisonRow]
    records: Sequence[WalkRecord]
    condition: str
    side: Side
    is_here: bool
    worn: str
    measure: str
    value: float
    said: str

    def of(self, measure: str) -> float:
        """Return the value of a measure in this condition; NaN where there is none."""
        row = self.rows.get((measure, self.side))
        if row is None:
            return math.nan
        return row.value if self.is_here else row.reference_value

    def curve(self, joint: Joint) -> FloatArray | None:
        """Return the mean curve of an angle over the cycle, None where there is none."""
        found = [
            record.curves[self.side, joint]
            for record in self.records
            if record.condition == self.condition and (self.side, joint) in record.curves
        ]
        whole = [each[np.isfinite(each).all(axis=1)] for each in found]
        joined = np.concatenate(whole) if whole else np.empty((0, 101))
        return joined.mean(axis=0) if len(joined) else None

    def brace(self, foot: Foot, *, knee: bool = False) -> list[str]:
        """Return the brace where one is worn."""
        if not self.worn:
            return []
        return [leg_drawing.brace(foot, knee=knee, jointed=self.worn == JOINTED)]


def draw(topic: str, drawing: Drawing) -> tuple[list[str], tuple[str, ...]]:
    """Return the parts of a picture, and the codes of its notes."""
    return _DRAWN[topic](drawing)


def _landing(drawing: Drawing) -> tuple[list[str], tuple[str, ...]]:
    """Draw the foot as it meets the floor."""
    pitch, ankle = drawing.of(_PITCH), drawing.of(_ANKLE)
    if math.isnan(pitch):
        return _upright(drawing, ankle if math.isfinite(ankle) else 0.0)
    lean = ankle - pitch if math.isfinite(ankle) else 0.0
    foot = foot_over_floor(pitch, lean, 0.0, _FOOT_SCALE)
    parts = [leg_drawing.floor(), *_with_shoe(drawing, foot), leg_drawing.touch(foot.lowest())]
    return parts, ("to_scale" if math.isfinite(ankle) else "upright",)


def _upright(
    drawing: Drawing, angle_deg: float, note: str = "angles_only"
) -> tuple[list[str], tuple[str, ...]]:
    """Draw the foot turned at an ankle under an upright shank: no floor is known."""
    foot = leg_drawing.foot_in_picture(angle_deg, _ANKLE_UPRIGHT, _FOOT_SCALE)
    return [*_with_shoe(drawing, foot), leg_drawing.level_and_sole(foot)], (note,)


def _toe(drawing: Drawing) -> tuple[list[str], tuple[str, ...]]:
    """Draw the foot in the air, its sole as high as the toes were measured."""
    pitch, ankle = drawing.of(_SWING_PITCH), drawing.of(_SWING_ANKLE)
    is_known = math.isfinite(pitch) and math.isfinite(ankle)
    angles = (pitch, ankle - pitch) if is_known else (0.0, 0.0)
    foot = foot_over_floor(*angles, drawing.value, _FOOT_SCALE)
    parts = [leg_drawing.floor(), *_with_shoe(drawing, foot)]
    if drawing.value >= 1.0:
        parts.append(leg_drawing.ruler(foot.lowest(), drawing.said))
    return parts, ("to_scale" if is_known else "upright", "ankle_dot")


def _falling(drawing: Drawing) -> tuple[list[str], tuple[str, ...]]:
    """Draw how far the foot turns in a part of a second, over the floor it comes down to."""
    angle = drawing.value * PART_OF_SECOND_S
    foot = foot_over_floor(angle, 0.0, 0.0, _FOOT_SCALE)
    return [leg_drawing.floor(), *_with_shoe(drawing, foot)], ("turn",)


def _knee(drawing: Drawing) -> tuple[list[str], tuple[str, ...]]:
    """Draw the leg at its largest knee angle after contact, dashed as it landed."""
    thigh, knee = drawing.curve("hip_thigh_vertical"), drawing.curve("knee")
    if thigh is None or knee is None:
        return _bent(drawing, drawing.value / 2, drawing.value / 2), ("sketch",)
    at = int(np.argmax(knee[_LOADING])) if drawing.value >= 1.0 else 0
    leans = [float(knee[place] - thigh[place]) for place in (0, at)]
    parts = _bent(drawing, float(thigh[at]), leans[1])
    if at == 0:
        return parts, ("to_scale",)
    landed, bent = (foot_over_floor(0.0, lean, 0.0, _LEG_SCALE) for lean in leans)
    parts.insert(1, leg_drawing.ghost(landed, float(thigh[0])))
    parts.append(leg_drawing.arrow(leg_drawing.knee_of(bent) + 40, 12 + drawing.value))
    return parts, ("to_scale", "dashed")


def _bent(drawing: Drawing, thigh_deg: float, lean_deg: float) -> list[str]:
    foot = foot_over_floor(0.0, lean_deg, 0.0, _LEG_SCALE)
    leg = [leg_drawing.whole_leg(foot, thigh_deg), leg_drawing.shoe(foot)]
    return [leg_drawing.floor(), *leg, *drawing.brace(foot, knee=True)]


def _thigh(drawing: Drawing) -> tuple[list[str], tuple[str, ...]]:
    """Draw the leg at the highest of its thigh, hung from the hip beside a dashed upright."""
    thigh, knee = drawing.curve("hip_thigh_vertical"), drawing.curve("knee")
    hip = 105 + 278j
    if thigh is None or knee is None:
        highest, lean, pitch = drawing.value, 40.0, 0.0
    else:
        at = 60 + int(np.argmax(thigh[_SWING]))
        highest, lean = float(thigh[at]), float(knee[at] - thigh[at])
        pitches = drawing.curve("foot_pitch")
        pitch = 0.0 if pitches is None else float(pitches[at])
    foot = leg_drawing.hanging_from(hip, highest, lean, pitch)
    leg = [leg_drawing.whole_leg(foot, highest, whole_thigh=True), leg_drawing.shoe(foot)]
    level = leg_drawing.line((hip, hip - 250j), "level")
    note = "sketch" if thigh is None or knee is None else "to_scale"
    note = note if drawing.measure == _TO_UPRIGHT else "from_hips"
    return [level, *leg, *drawing.brace(foot, knee=True)], (note,)


def _speed(drawing: Drawing) -> tuple[list[str], tuple[str, ...]]:
    """Draw the way of one second, from shoe to shoe."""
    first = foot_over_floor(0.0, 0.0, 0.0, _SECOND_SCALE)
    shoes = [
        Foot(0.0, 0.0, complex(x, first.at.imag), _SECOND_SCALE)
        for x in (20.0, 20.0 + 1000 * _SECOND_SCALE * drawing.value)
    ]
    legs = [
        part
        for foot in shoes
        for part in (leg_drawing.whole_leg(foot, 0.0), leg_drawing.shoe(foot))
    ]
    way = leg_drawing.arrow(complex(20, 140), shoes[1].at.real - 20)
    return [leg_drawing.floor(), *legs, way], ("second",)


def _with_shoe(drawing: Drawing, foot: Foot) -> list[str]:
    return [leg_drawing.lower_leg(foot), leg_drawing.shoe(foot), *drawing.brace(foot)]


_DRAWN: Final[Mapping[str, Callable[[Drawing], tuple[list[str], tuple[str, ...]]]]] = {
    HEEL: _landing,
    "landing": _landing,
    "landing_ankle": lambda own: _upright(own, own.value),
    "falling": _falling,
    "lift": lambda own: _upright(own, own.value, note="upright"),
    "toe": _toe,
    "thigh": _thigh,
    "knee_give": _knee,
    "knee_straight": lambda own: (_bent(own, own.value / 2, own.value / 2), ("sketch",)),
    "push_off": lambda own: _upright(own, -own.value, note="upright"),
    "speed": _speed,
}


def drawings(
    point: Point,
    rows: Mapping[tuple[str, Side], ComparisonRow],
    records: Sequence[WalkRecord],
    worn: tuple[str, str],
    said: tuple[str, str],
    names: tuple[str, str],
) -> list[tuple[list[str], tuple[str, ...]]]:
    """Return the two pictures of a point, of its first leg: the reference's and the condition's.

    Parameters
    ----------
    worn : (str, str)
        Class of the brace in each, or ``brace``; empty without one.
    said : (str, str)
        Their values beside a ruler.
    names : (str, str)
        Names of the conditions.
    """
    row = point.rows[0] if point.rows else None
    values = (math.nan, math.nan) if row is None else (row.reference_value, row.value)
    return [
        draw(
            point.topic,
            Drawing(
                rows,
                records,
                names[place],
                point.findings[0].side,
                bool(place),
                worn[place],
                "" if row is None else row.measure,
                values[place],
                said[place],
            ),
        )
        for place in (0, 1)
    ]

"""A brace in one of its settings from the side: the angle it holds the ankle at, and its stops.

In come the facts of a brace and a setting, out comes HTML: a drawing to scale, its angles in words
below it. What is not recorded is not drawn.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from markupsafe import Markup

from gaittrack.record.registry import CONDITION
from gaittrack.record.wording import fact_label, said_of
from gaittrack.report.html_parts import drawn
from gaittrack.report.leg_drawing import (
    Foot,
    brace,
    floor,
    foot_over_floor,
    line,
    lower_leg,
    shoe,
    svg,
)

_SCALE: Final = 0.62
_ANGLE: Final = "orthosis_ankle_angle_deg"
_STOPS: Final = ("orthosis_plantar_stop_deg", "orthosis_dorsi_stop_deg")
_TOLD: Final = ("orthosis_class", "orthosis_joint_type", _ANGLE, *_STOPS)
_LONG_MM: Final = 345.0
_JOINTED: Final = "jointed"
_BEHIND: Final = ("dorsal-leaf", "flexible", "solid", _JOINTED)
"""Types that are drawn: what runs behind the calf."""


def brace_html(facts: Mapping[str, Any], called: str) -> Markup:
    """Return the drawing; empty where neither type nor any angle is recorded.

    Parameters
    ----------
    called : str
        Code of the brace and its setting.
    """
    known = [name for name in _TOLD if facts.get(name) is not None]
    if not known:
        return Markup()
    lean = float(facts.get(_ANGLE) or 0)
    foot = foot_over_floor(0.0, lean, 0.0, _SCALE)
    kind = facts.get("orthosis_class")
    stops = [facts[name] for name in _STOPS if facts.get(name) is not None]
    parts = [floor(), lower_leg(foot), shoe(foot)]
    parts += [brace(foot, knee=True, jointed=kind == _JOINTED)] if kind in _BEHIND else []
    parts += [_stop(foot, float(angle)) for angle in stops]
    lines = [(CONDITION[name], facts[name]) for name in known]
    words = "; ".join(f"{fact_label(fact)}: {said_of(fact, value)}" for fact, value in lines)
    held = "" if _ANGLE in known else " The angle it holds is not recorded: drawn upright."
    caption = f"{called}: {words}.{held}{' Dashed: the stops.' if stops else ''}"
    return drawn("parts.figure", svg(parts, caption, "with"), caption, "brace-drawing")


def _stop(foot: Foot, angle_deg: float) -> str:
    """Return the line to which the shank may turn."""
    turned = Foot(foot.pitch_deg, angle_deg, foot.at, foot.scale)
    return line((foot.at, turned.shank(_LONG_MM * 1j)), "level")

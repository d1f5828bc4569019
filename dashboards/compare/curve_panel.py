"""Curves of a comparison: the leg that matters most at first; then any angle, left and right.

In comes a comparison of stored walks, out come the choice of an angle and its panels.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from typing import Final

from dash import html
from dash.development.base_component import Component

from dashboards.parts.controls import choice, labelled, picture
from gaittrack.compare.comparison import Comparison, CurveComparison, compare_curves
from gaittrack.figures.condition_styles import styles_of
from gaittrack.figures.curves_figure import (
    JOINT_TITLES,
    draw_curve_panel,
    draw_difference_panel,
    toe_offs,
    typical_of,
    typical_words,
)
from gaittrack.report.comparison_page import CURVES_READING
from gaittrack.report.page_figures import shown_side, words_on_curves
from gaittrack.study.results.comparing import StoredComparison
from gaittrack.vocabulary import SIDES, Joint

ANGLE, CURVES = "compare-angle", "compare-curves"
ALL_ANGLES: Final = "all"
LEG: Final = "leg"
_OF_LEG: Final[tuple[tuple[Joint, ...], ...]] = (
    ("ankle",),
    ("knee",),
    ("hip_pelvis_thigh", "hip_thigh_vertical"),
)
"""What stands side by side at first; of each the first that was recorded."""


def angles(found: StoredComparison) -> Iterator[Component]:
    """Yield the choice of an angle and the place of its panels, which are asked for by it."""
    joints = joints_of(found)
    if not joints:
        yield html.P("There are no joint angles in these recordings.")
        return
    words: dict[str, str] = {
        LEG: f"The {shown_side(found.comparison)} leg",
        **{joint: JOINT_TITLES[joint][0] for joint in joints},
        ALL_ANGLES: "All angles, both legs",
    }
    look = {"size": "md", "className": "no-print compare-angle"}
    yield choice(ANGLE, "Curves", labelled(words), LEG, **look)
    yield html.P(CURVES_READING, className="soft")
    yield html.Div(id=CURVES)


def joints_of(found: StoredComparison) -> list[Joint]:
    """Return the angles that were recorded, in the order they are printed."""
    known = {joint for record in found.records for _, joint in record.curves}
    return [joint for joint in JOINT_TITLES if joint in known]


def curve_panels(found: StoredComparison, angle: str) -> list[Component]:
    """Return curves: of one leg side by side; of an angle or all, left and right, with differences.

    Parameters
    ----------
    angle : str
        A joint, ``LEG`` or ``ALL_ANGLES``.
    """
    known = joints_of(found)
    if angle == LEG:
        return [html.Div(list(_leg(found, known)), className="side-by-side three")]
    joints = known if angle == ALL_ANGLES else [joint for joint in known if joint == angle]
    curves = _compared(found, joints)
    panels: list[Component] = []
    for joint in joints:
        own = sorted(
            (c for c in curves if c.joint == joint),
            key=lambda c: (c.side != shown_side(found.comparison), SIDES.index(c.side)),
        )
        drawn = [_panel(found.comparison, each) for each in own]
        less = [shown for each in own if (shown := _difference(found.comparison, each)) is not None]
        panels += [html.Div(part, className="side-by-side") for part in (drawn, less) if part]
    return panels


def _compared(found: StoredComparison, joints: Collection[Joint]) -> Sequence[CurveComparison]:
    reference = found.comparison.settings["reference"]
    return compare_curves(found.records, reference=reference, joints=joints)


def _leg(found: StoredComparison, known: Collection[Joint]) -> Iterator[Component]:
    first = (next((name for name in names if name in known), None) for names in _OF_LEG)
    joints = [joint for joint in first if joint is not None]
    own = [c for c in _compared(found, joints) if c.side == shown_side(found.comparison)]
    for curves in sorted(own, key=lambda c: joints.index(c.joint)):
        yield _panel(found.comparison, curves)


def _panel(comparison: Comparison, curves: CurveComparison) -> Component:
    typical = typical_of(comparison, curves.joint)
    figure = draw_curve_panel(
        curves,
        styles_of(comparison),
        toe_off_percent=toe_offs(comparison, curves.side),
        typical=typical,
    )
    told = [*filter(None, words_on_curves(curves)), *typical_words(typical)]
    caption = ". ".join(told) + "."
    return picture(figure, caption=caption, height_px=300, reads="%")


def _difference(comparison: Comparison, curves: CurveComparison) -> Component | None:
    reference = comparison.settings["reference"]
    figure = draw_difference_panel(curves, styles_of(comparison), reference=reference)
    if figure is None:
        return None
    caption = "Mean minus the reference's mean; bar at the foot: where the conditions differ."
    return picture(figure, caption=caption, height_px=230, reads="%")

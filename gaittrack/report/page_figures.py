"""The figures of a page of comparison: change plots, curve panels, walk replay.

In comes a comparison with its walks, out comes HTML with inline SVG.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np
from markupsafe import Markup

from gaittrack.compare.comparison import Comparison, CurveComparison
from gaittrack.compare.row_words import said_once
from gaittrack.compare.walked.walks import WalkRecord
from gaittrack.figures.condition_styles import Figure, styles_of
from gaittrack.figures.curves_figure import draw_curve_panel, toe_offs, typical_of, typical_words
from gaittrack.figures.walk_replay import (
    Replay,
    draw_replay,
    draw_toe_paths,
    find_replay,
    share_ranges,
)
from gaittrack.file_comparison import FileComparison
from gaittrack.report.html_parts import drawn, paragraph
from gaittrack.report.svg_chart import draw_svg, frame_of, points_text
from gaittrack.trial import FloatArray
from gaittrack.vocabulary import SIDES, Side

_WIDE_PX: Final = 900.0
_STICK_PX: Final = 430.0
CURVE_ORDER: Final = ("ankle", "knee", "hip_pelvis_thigh", "hip_thigh_vertical", "foot_pitch")
"""Angles on the page, in this order; the others stand in the JSON output."""


def key_of_conditions(comparison: Comparison) -> Markup:
    """Return which colour and line means which condition."""
    entries = []
    for name, style in styles_of(comparison).items():
        line = {"x": [0, 1], "y": [0.5, 0.5], "mode": "lines", "name": name}
        line["line"] = {"color": style.colour, "dash": style.dash, "width": 3}
        entries.append((_line_sample(line), name))
    return drawn("figures.key", entries)


def _line_sample(line: Figure) -> Markup:
    empty = {"title": {"text": ""}, "range": [0, 1]}
    figure = {"data": [line], "layout": {"xaxis": empty, "yaxis": empty}}
    whole = draw_svg(figure, label=f"line of {line['name']}", width=105, height=60)
    return whole[whole.index("<g><title>") : whole.rindex("</svg>")]


def _figure(figure: Figure, *, width: float = 430.0, height: float = 270.0) -> Markup:
    title = figure["layout"]["title"]
    counts = title.get("subtitle", {}).get("text", "")
    picture = draw_svg(figure, label=f"{title['text']} {counts}", width=width, height=height)
    return drawn("figures.figure", picture, title["text"], counts)


def curve_figures(result: FileComparison) -> Markup:
    """Return the curve panels, side by side: one row per angle."""
    comparison = result.comparison
    chosen = sorted(
        (curves for curves in comparison.curves if curves.joint in CURVE_ORDER),
        key=lambda curves: (CURVE_ORDER.index(curves.joint), SIDES.index(curves.side)),
    )
    if not chosen:
        return paragraph("No joint angles in the recordings.")
    panels = [_panel(curves, comparison, _steps(curves, result.records)) for curves in chosen]
    return drawn("figures.grid", panels)


def _panel(
    curves: CurveComparison,
    comparison: Comparison,
    steps: Mapping[str, FloatArray],
    **size: float,
) -> Markup:
    typical = typical_of(comparison, curves.joint)
    figure = draw_curve_panel(
        curves,
        styles_of(comparison),
        toe_off_percent=toe_offs(comparison, curves.side),
        steps=steps,
        typical=typical,
    )
    found, reasons = words_on_curves(curves)
    subtitle = figure["layout"]["title"]["subtitle"]
    parts = subtitle["text"], found, reasons, *typical_words(typical)
    subtitle["text"] = ". ".join(part for part in parts if part)
    return _figure(figure, **size)


def words_on_curves(curves: CurveComparison) -> tuple[str, str]:
    """Return where conditions differ, and why one has no band; once where it is the same of all."""
    found = {name: str(each.finding) for name, each in curves.locations.items()}
    reasons = {name: str(band.reason) for name, band in curves.bands.items() if band.reason}
    return "; ".join(said_once(found.items())), "; ".join(said_once(reasons.items()))


def _steps(curves: CurveComparison, records: Sequence[WalkRecord]) -> dict[str, FloatArray]:
    key = (curves.side, curves.joint)
    found: dict[str, list[FloatArray]] = {}
    for record in records:
        if key in record.curves:
            found.setdefault(record.condition, []).append(record.curves[key])
    return {name: np.vstack(values) for name, values in found.items()}


def replay_figures(result: FileComparison) -> Markup:
    """Return the walk replay with its controls, or why there is none."""
    styles = styles_of(result.comparison)
    side = shown_side(result.comparison)
    names = result.comparison.settings["conditions"]
    found = [find_replay(name, result.walks[name], side) for name in names]
    replays = [replay for replay in found if replay is not None]
    if not replays:
        return paragraph("No replay: the recordings hold no markers to draw a leg from.")
    figures = [draw_replay(replay, styles[replay.condition]) for replay in replays]
    share_ranges(figures)
    sticks = [_marked(_figure(figure, width=_STICK_PX)) for figure in figures]
    paths = _figure(draw_toe_paths(replays, styles), width=_WIDE_PX)
    return drawn("figures.replay", sticks, paths, _replay_json(replays, figures))


def shown_side(comparison: Comparison) -> Side:
    """Return the affected side, else the braced one, else the left."""
    settings = comparison.settings
    for said in (
        settings["affected"],
        *(worn["orthosis_side"] for worn in settings["conditions"].values()),
    ):
        if said in SIDES:
            side: Side = said
            return side
    return "left"


def _marked(figure: Markup) -> Markup:
    """Return a stick figure with its legs numbered, for the script that moves them."""
    first, *legs = figure.split("<g><title>")
    told = (f'<g data-leg="{n}"><title>{leg}' for n, leg in enumerate(legs))
    return Markup("".join([first, *told]))


def _replay_json(replays: Sequence[Replay], figures: Sequence[Figure]) -> Markup:
    walks = []
    for replay, figure in zip(replays, figures, strict=True):
        frame = frame_of(figure, width=_STICK_PX)
        frames = [[points_text(leg, frame) for leg in each["data"]] for each in figure["frames"]]
        walks.append({"duration_s": round(float(replay.time_s[-1]), 3), "frames": frames})
    return Markup(json.dumps(walks, separators=(",", ":")))  # of numbers alone

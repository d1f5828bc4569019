"""The figures of a page of comparison: change plots, curve panels, walk replay.

In comes a comparison with its walks, out comes HTML with inline SVG.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from html import escape
from typing import Final

import numpy as np

from gaittrack.compare.comparison import Comparison, CurveComparison
from gaittrack.compare.walks import WalkRecord
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
from gaittrack.measured_walk import MeasuredWalk
from gaittrack.report.svg_chart import draw_svg, frame_of, points_text
from gaittrack.trial import FloatArray
from gaittrack.vocabulary import SIDES, Side

_WIDE_PX: Final = 900.0
_STICK_PX: Final = 430.0
CURVE_ORDER: Final = ("ankle", "knee", "hip_pelvis_thigh", "hip_thigh_vertical", "foot_pitch")
"""Angles on the page, in this order; the others stand in the JSON output."""


def key_of_conditions(comparison: Comparison) -> str:
    """Return which colour and line means which condition."""
    entries = []
    for name, style in styles_of(comparison).items():
        line = {"x": [0, 1], "y": [0.5, 0.5], "mode": "lines", "name": name}
        line["line"] = {"color": style.colour, "dash": style.dash, "width": 3}
        entries.append(f"<span>{_line_sample(line)}{escape(name)}</span>")
    return f'<div class="key">{"".join(entries)}</div>'


def _line_sample(line: Figure) -> str:
    empty = {"title": {"text": ""}, "range": [0, 1]}
    figure = {"data": [line], "layout": {"xaxis": empty, "yaxis": empty}}
    drawn = draw_svg(figure, label=f"line of {line['name']}", width=105, height=60)
    inside = drawn[drawn.index("<g><title>") : drawn.rindex("</svg>")]
    return f'<svg viewBox="52 4 43 16" aria-hidden="true">{inside}</svg>'


def _grid(figures: Iterator[str]) -> str:
    return f'<div class="figures">{"".join(figures)}</div>'


def _figure(figure: Figure, *, width: float = 430.0, height: float = 270.0) -> str:
    title = figure["layout"]["title"]
    counts = title.get("subtitle", {}).get("text", "")
    small = f"<small>{escape(counts)}</small>" if counts else ""
    drawn = draw_svg(figure, label=f"{title['text']} {counts}", width=width, height=height)
    return f"<figure><figcaption>{escape(title['text'])}{small}</figcaption>{drawn}</figure>"


def curve_figures(result: FileComparison) -> str:
    """Return the curve panels, side by side: one row per angle."""
    comparison = result.comparison
    chosen = sorted(
        (curves for curves in comparison.curves if curves.joint in CURVE_ORDER),
        key=lambda curves: (CURVE_ORDER.index(curves.joint), SIDES.index(curves.side)),
    )
    if not chosen:
        return "<p>No joint angles in the recordings.</p>"
    return _grid(_panel(curves, comparison, _steps(curves, result.records)) for curves in chosen)


def _panel(
    curves: CurveComparison,
    comparison: Comparison,
    steps: Mapping[str, FloatArray],
    **size: float,
) -> str:
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
    return _by_text(found), _by_text(reasons)


def _by_text(told: Mapping[str, str]) -> str:
    names: dict[str, list[str]] = {}
    for name, text in told.items():
        names.setdefault(text, []).append(name)
    return "; ".join(f"{', '.join(own)}: {text}" for text, own in names.items())


def _steps(curves: CurveComparison, records: Sequence[WalkRecord]) -> dict[str, FloatArray]:
    key = (curves.side, curves.joint)
    found: dict[str, list[FloatArray]] = {}
    for record in records:
        if key in record.curves:
            found.setdefault(record.condition, []).append(record.curves[key])
    return {name: np.vstack(values) for name, values in found.items()}


def replay_figures(result: FileComparison) -> str:
    """Return the walk replay with its controls, or why there is none."""
    styles = styles_of(result.comparison)
    side = shown_side(result.comparison)
    found = [find_replay(name, walks, side) for name, walks in _ordered(result).items()]
    replays = [replay for replay in found if replay is not None]
    if not replays:
        return "<p>No replay: the recordings hold no markers to draw a leg from.</p>"
    figures = [draw_replay(replay, styles[replay.condition]) for replay in replays]
    share_ranges(figures)
    sticks = (
        f'<div id="replay-{number}">{_marked(_figure(figure, width=_STICK_PX))}</div>'
        for number, figure in enumerate(figures)
    )
    paths = _figure(draw_toe_paths(replays, styles), width=_WIDE_PX)
    data = _replay_json(replays, figures)
    script = f'<script type="application/json" id="replay-data">{data}</script>'
    return f"{_CONTROLS}{_grid(sticks)}{paths}{script}"


_CONTROLS: Final = (
    '<div class="controls"><button type="button" id="replay-play">Play</button>'
    '<label for="replay-time">0-100 % of the cycle</label>'
    '<input type="range" id="replay-time" min="0" max="100" value="0"></div>'
)


def _ordered(result: FileComparison) -> Mapping[str, Sequence[MeasuredWalk]]:
    return {name: result.walks[name] for name in result.comparison.settings["conditions"]}


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


def _marked(drawn: str) -> str:
    """Return a stick figure with its legs numbered, for the script that moves them."""
    parts = drawn.split("<g><title>")
    legs = "".join(f'<g data-leg="{n}"><title>{part}' for n, part in enumerate(parts[1:]))
    return parts[0] + legs


def _replay_json(replays: Sequence[Replay], figures: Sequence[Figure]) -> str:
    walks = []
    for replay, figure in zip(replays, figures, strict=True):
        frame = frame_of(figure, width=_STICK_PX)
        frames = [[points_text(leg, frame) for leg in each["data"]] for each in figure["frames"]]
        walks.append({"duration_s": round(float(replay.time_s[-1]), 3), "frames": frames})
    return json.dumps(walks, separators=(",", ":")).replace("</", "<\\/")

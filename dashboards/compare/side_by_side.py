"""One step of each compared condition side by side, drawn from the recordings.

In comes a comparison, out come stick figures with one slider, and the frames that
``assets/compare.js`` moves them by. A recording is measured for it, which takes a moment.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

import dash_mantine_components as dmc
from dash import html
from dash.development.base_component import Component

from dashboards.parts.controls import graph
from dashboards.walks.measured_walks import WalkMemory
from gaittrack.figures.condition_styles import Style, styles_of
from gaittrack.figures.walk_replay import (
    Replay,
    draw_replay,
    draw_toe_paths,
    find_replay,
    share_ranges,
)
from gaittrack.measured_walk import MeasuredWalk
from gaittrack.report.comparison_page import REPLAY_READING
from gaittrack.report.page_figures import shown_side
from gaittrack.study.results.comparing import StoredComparison
from gaittrack.study.results.sources import recording_of
from gaittrack.study.store import Study

FRAMES, TIME, PLAY = "compare-frames", "compare-time", "compare-play"
_MOST_TRIED: Final = 3
"""Walks of a condition that are measured to find one in which a leg can be drawn; own choice."""
_HEIGHT_PX: Final = 380


def replay_walks(
    study: Study, memory: WalkMemory, found: StoredComparison
) -> dict[str, tuple[MeasuredWalk, ...]]:
    """Return a measured walk of each condition in which a leg can be drawn.

    Returns
    -------
    dict of str to tuple of MeasuredWalk
        The reference first; empty tuples where there is none.
    """
    names = found.comparison.settings["conditions"]
    return {name: _drawable(study, memory, found, name) for name in names}


def _drawable(
    study: Study, memory: WalkMemory, found: StoredComparison, name: str
) -> tuple[MeasuredWalk, ...]:
    side = shown_side(found.comparison)
    own = [found.trial_ids[each.walk_id] for each in found.records if each.condition == name]
    for trial_id in list(dict.fromkeys(own))[:_MOST_TRIED]:
        with study.read() as connection:
            recording = recording_of(connection, study, trial_id)
        walk = memory.measured(recording)
        if isinstance(walk, MeasuredWalk) and find_replay(name, [walk], side) is not None:
            return (walk,)
    return ()


def replay(
    study: Study, memory: WalkMemory, found: StoredComparison
) -> tuple[list[Component], dict[str, Any] | None]:
    """Return the stick figures with their controls, and the frames that move them.

    Returns
    -------
    list of Component
        Words alone when there is nothing to draw.
    dict or None
        Frames by figure, and how long the first step takes, seconds.
    """
    side = shown_side(found.comparison)
    walks = replay_walks(study, memory, found)
    drawn = [find_replay(name, own, side) for name, own in walks.items()]
    replays = [each for each in drawn if each is not None]
    if not replays:
        return [html.P("No replay: the recordings hold no markers to draw a leg from.")], None
    styles = styles_of(found.comparison)
    figures = [draw_replay(each, styles[each.condition]) for each in replays]
    share_ranges(figures)
    frames = [[instant["data"] for instant in figure.pop("frames")] for figure in figures]
    data = {"frames": frames, "duration_s": round(float(replays[0].time_s[-1]), 3)}
    return list(_parts(replays, figures, styles)), data


def _parts(
    replays: Sequence[Replay], figures: Sequence[dict[str, Any]], styles: Mapping[str, Style]
) -> Iterator[Component]:
    yield html.P(REPLAY_READING, className="soft")
    yield html.Div(
        [
            html.Button("Play", id=PLAY),
            dmc.Slider(
                id=TIME,
                min=0,
                max=100,
                value=0,
                label=None,
                updatemode="drag",
                thumbLabel="Per cent of the cycle",
                size="md",
                className="compare-slider",
            ),
        ],
        className="row no-print",
    )
    sticks = [
        graph(
            f"compare-stick-{place}",
            figure,
            caption=f"{one.condition}, seen from the side",
            height_px=_HEIGHT_PX,
        )
        for place, (one, figure) in enumerate(zip(replays, figures, strict=True))
    ]
    yield html.Div(sticks, className="side-by-side")
    paths = draw_toe_paths(replays, styles)
    title = paths["layout"].pop("title")
    caption = f"{title['text']}, over the floor: {title['subtitle']['text']}."
    yield graph("compare-toe", paths, caption=caption, height_px=300)

"""One recording as the screen shows it: what it is, its feet over time, its strides, its history.

In comes a trial's number, out come what is known of it and the components that show it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final

from dash import html
from dash.development.base_component import Component
from sqlalchemy import select

from dashboards.parts.markup import pressing
from dashboards.walks.editing import MEASURE
from dashboards.walks.measured_walks import WalkMemory
from dashboards.walks.stride_tables import PRESSED
from gaittrack.contents import marker_lines
from gaittrack.errors import Problem
from gaittrack.figures.event_lines import symbols
from gaittrack.figures.quality import FIRST_SHOWN_S, draw_side, has_feet, stride_lane
from gaittrack.figures.sheet_curves import draw_sheet_curves
from gaittrack.measured_walk import MeasuredWalk, Result
from gaittrack.record.answered_warnings import Answers
from gaittrack.study.checksums import damaged_results
from gaittrack.study.laboratory import laboratory_answers
from gaittrack.study.recordings.reviewing import TrialKind, known_trial, trial_history
from gaittrack.study.results.keeping import KnownTrial, is_stale
from gaittrack.study.results.sources import recording_of
from gaittrack.study.store import Study
from gaittrack.study.tables import TRIAL
from gaittrack.vocabulary import SIDES, Side


@dataclass(frozen=True, eq=False, slots=True)
class ShownTrial:
    """One trial of the study, as it is now.

    Attributes
    ----------
    result : MeasuredWalk, RefusedFile or None
        Measured with today's software and settings; None for a standing trial.
    is_stale : bool
        Whether the stored result is damaged, or of another version or other settings.
    standing : str
        Name of its standing trial; empty without one.
    entries : list of dict
        Its history.
    answers : mapping of str to str
        Warnings that the laboratory has answered for every walk.
    """

    trial: KnownTrial
    kind: TrialKind
    result: Result | None
    is_stale: bool
    standing: str
    entries: list[dict[str, Any]]
    answers: Answers


def look_at(study: Study, memory: WalkMemory, trial_id: int) -> ShownTrial:
    """Look a trial up and measure it.

    Raises
    ------
    StudyError
        It is no longer in the study.
    """
    with study.read() as connection:
        trial, kind = known_trial(connection, trial_id)
        recording = recording_of(connection, study, trial_id)
        entries = trial_history(connection, trial)
        standing_id = connection.execute(
            select(TRIAL.c.standing_id).where(TRIAL.c.id == trial_id)
        ).scalar()
        standing = known_trial(connection, standing_id)[0].code if standing_id else ""
        old = is_stale(connection, trial)
        old |= bool(damaged_results(connection, TRIAL.c.id == trial_id, is_thorough=True))
        answers = laboratory_answers(connection)
    result = memory.measured(recording) if kind == "walk" else None
    old &= kind == "walk"
    return ShownTrial(trial, kind, result, old, standing, entries, answers)


def is_over_time(walk: MeasuredWalk) -> bool:
    """Tell whether a walk was recorded over time; a sheet of 0-100 % curves was not."""
    return not math.isnan(walk.trial.rate_hz)


def kind_words(walk: MeasuredWalk) -> str:
    """Return what was recorded: the format, how fast and how long."""
    what = "curves over 0-100 % of the cycle: there is no time to replay"
    if is_over_time(walk):
        what = f"{walk.trial.rate_hz:g} frames a second · {walk.trial.duration_s:.1f} s"
    return f"{walk.trial.provenance.format} · {what}"


def facts(shown: ShownTrial, walk: MeasuredWalk) -> list[Component]:
    """Return what else is known of a recording: its file, its zero, its markers, notes."""
    zero = f", zero of the foot: {_zero_words(shown, walk)}" if walk.motion.neutral else ""
    notes = [one for one in walk.problems if one.level == "info"]
    lines = [html.Li(line) for line in marker_lines(walk.motion.markers)]
    parts = [html.P(f"{shown.trial.file_name}{zero}."), *problem_lists(notes)]
    markers = [html.H3("Markers"), html.Ul(lines)] if lines else []
    return [html.Details([html.Summary("About this recording"), *parts, *markers])]


STALE: Final = (
    "The stored numbers of this walk are damaged, or of an older version or of other settings than "
    "what is shown here. Compare and Overview use the stored ones, damaged ones left out, until it "
    "is measured again."
)


def stale_box(*, may_edit: bool) -> Component:
    """Return what a stale result means, and the act that ends it for who may edit."""
    act = pressing(PRESSED, {"what": MEASURE})
    button = [html.Button("Measure this walk again", className="no-print", **act)]
    return html.Div([html.P(STALE), *(button if may_edit else [])], className="watch")


def _zero_words(shown: ShownTrial, walk: MeasuredWalk) -> str:
    words = {"standing trial": f"standing trial {shown.standing}"}
    sides = {
        side: words.get(foot.source, foot.source) for side, foot in walk.motion.neutral.items()
    }
    if len(set(sides.values())) == 1:
        return next(iter(sides.values()))
    return ", ".join(f"{side} {source}" for side, source in sides.items())


def problem_lists(problems: Iterable[Problem]) -> list[Component]:
    """Return what a person should know, the serious part open and the rest to be opened."""
    lines: dict[bool, list[Component]] = {True: [], False: []}
    for one in problems:
        lines[one.level != "info"].append(html.Li(f"{one.where}: {one.what} {one.action}"))
    found: list[Component] = []
    if lines[True]:
        heading = html.H3("To look at", id="walks-problems")
        found.append(html.Section([heading, html.Ul(lines[True])]))
    if lines[False]:
        n_notes = len(lines[False])
        found.append(html.Details([html.Summary(f"Notes ({n_notes})"), html.Ul(lines[False])]))
    return found


def drawings(walk: MeasuredWalk) -> list[dict[str, Any]]:
    """Return a figure for every side that has anything to draw, as ``walks_plots.js`` takes it."""
    timed = is_over_time(walk)
    draw = draw_side if timed else draw_sheet_curves
    return [
        {
            "side": side,
            "figure": draw(walk, side),
            "caption": _caption(walk, side),
            "symbols": symbols(walk, side) if timed else [],
            "strides": stride_lane(walk, side) if timed else [],
            "last_s": walk.trial.duration_s if timed else None,
        }
        for side in SIDES
        if _has_side(walk, side)
    ]


def _has_side(walk: MeasuredWalk, side: Side) -> bool:
    has_angles = any(key[0] == side for key in walk.motion.angles)
    return has_feet(walk, side) or has_angles or any(c.side == side for c in walk.cycles)


def _caption(walk: MeasuredWalk, side: Side) -> str:
    if not is_over_time(walk):
        return f"Joint angles of the {side} leg as the sheet gives them."
    if not has_feet(walk, side):
        words = f"Joint angles of the {side} leg; the recording has no foot markers."
    else:
        words = f"{side.capitalize()} heel (solid) and toe (dashed) in the laboratory."
    if walk.trial.duration_s <= FIRST_SHOWN_S:
        return words
    return f"{words} The first {FIRST_SHOWN_S:g} s are shown at first; the time cursor moves on."

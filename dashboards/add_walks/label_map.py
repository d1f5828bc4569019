"""Landmarks that were not found, chosen from the files' labels, for the screen Add walks.

In comes what was found in the files, out come a choice per missing landmark; in come the choices,
out comes the laboratory's map with them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

import dash_mantine_components as dmc
from dash import ALL, Dash, Input, Output, State, html, no_update
from dash.development.base_component import Component

from dashboards.add_walks.look_and_store import Looked
from dashboards.parts import ids
from dashboards.shell.access import require
from gaittrack.errors import StudyError
from gaittrack.study.recordings.landmark_map import remember_landmarks
from gaittrack.study.store import Study
from gaittrack.vocabulary import LANDMARKS, SIDES

LANDMARK: Final = "add-walks-landmark"
_POINTS: Final = {
    "heel": "heel",
    "forefoot": "metatarsal_5",
    "toe_point": "toe",
    "ankle_centre": "ankle",
    "knee_centre": "knee",
    "hip_centre": "hip",
}
"""The landmark that is asked for when a point of the body is missing."""


def register(app: Dash, study: Study) -> None:
    """Register what remembers the choices for the laboratory."""

    @app.callback(
        Output(ids.CHANGED, "data", allow_duplicate=True),
        Input("add-walks-remember", "n_clicks"),
        State({"type": LANDMARK, "name": ALL}, "id"),
        State({"type": LANDMARK, "name": ALL}, "value"),
        State(ids.CHANGED, "data"),
        prevent_initial_call=True,
    )
    def remember(n_clicks: int | None, keys: Any, values: Any, changed: int) -> object:
        visitor = require("administer")
        if not n_clicks:
            return no_update
        chosen = chosen_landmarks(keys, values)
        remember_landmarks(study, chosen, who=visitor.name, why="chosen on the screen Add walks")
        return changed + 1


def missing_landmarks(looks: Sequence[Looked]) -> dict[str, list[str]]:
    """Return the landmarks to ask for, each with the labels it could be.

    Returns
    -------
    dict of str to list of str
        Landmarks that some file with markers lacks, and the labels of those files that are no
        landmark yet.
    """
    found: dict[str, list[str]] = {}
    for one in looks:
        taken = set(one.contents.landmarks.values()) if one.contents else set()
        free = [label for label in one.labels if label not in taken]
        if free:
            for landmark in _asked_for(one):
                own = found.setdefault(landmark, [])
                own += [label for label in free if label not in own]
    return found


def _asked_for(one: Looked) -> list[str]:
    if one.contents is None:
        return [f"{side}_{name}" for side in SIDES for name in _POINTS.values()]
    missing = {name for each in one.contents.missing for name in each.names}
    asked = [
        f"{side}_{landmark}"
        for side in SIDES
        for point, landmark in _POINTS.items()
        if f"{side}_{point}" in missing
    ]
    return [*asked, *(["left_asis", "right_asis"] if "pelvis" in missing else [])]


def map_part(looks: Sequence[Looked], *, may_set: bool) -> list[Component]:
    """Return the choices, or nothing when no landmark is missing."""
    asked = missing_landmarks(looks)
    if not asked:
        return []
    words = (
        "Some landmarks were not found by what the labels spell. Choose the label that is meant; "
        "the choice is remembered for the laboratory, stands in the history, and holds for every "
        "file: results measured before become stale."
    )
    if not may_set:
        return [
            html.H2("Landmarks"),
            html.P(f"{words} Ask whoever administers the study to do so."),
        ]
    selects = [
        dmc.Select(
            id={"type": LANDMARK, "name": name},
            label=LANDMARKS[name].capitalize(),
            data=labels,
            searchable=True,
            clearable=True,
            placeholder="not chosen",
        )
        for name, labels in asked.items()
    ]
    return [
        html.H2("Landmarks"),
        html.P(words),
        html.Div(selects, className="fields"),
        html.Button("Remember these and look again", id="add-walks-remember"),
    ]


def chosen_landmarks(keys: Sequence[Mapping[str, Any]], values: Sequence[Any]) -> dict[str, str]:
    """Return landmark to label for what was chosen.

    Raises
    ------
    StudyError
        Nothing was chosen, or one label twice.
    """
    chosen = {key["name"]: value for key, value in zip(keys, values, strict=True) if value}
    if not chosen:
        raise StudyError.of("no_landmark_chosen", where="form")
    twice = sorted({label for label in chosen.values() if list(chosen.values()).count(label) > 1})
    if twice:
        raise StudyError.of("one_label_cannot_two_landmarks", where="form", twice=", ".join(twice))
    return chosen

"""The laboratory's maps: what each names, which files it is for, how many walks take it.

In come the maps of the study, out comes a table; a map can be called otherwise, removed, and taken
back to what it was.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from dash import Dash, Input, Output, dcc, html
from dash.development.base_component import Component

from dashboards.laboratory.changing import register_change, stale_words
from dashboards.parts import ids
from dashboards.parts.controls import aria, data, folded, table
from dashboards.parts.dash_private import Markup
from dashboards.parts.markup import drawn, pressing, still
from dashboards.shell.access import require
from gaittrack.compare.row_words import count_words
from gaittrack.lab_map import LabMap
from gaittrack.study.laboratory import LONGEST_MAP_NAME, laboratory_maps
from gaittrack.study.named_maps import (
    gone_maps,
    map_texts,
    remove_map,
    rename_map,
    undo_map,
    walks_by_map,
    what_it_names,
)
from gaittrack.study.store import Study

PRESSED, PLACE = "laboratory-map", "laboratory-maps"
_HOW: Final = (
    "A map says which label or column of a file is which place of the body. Each file takes the "
    "map that fits it best and says so; labels of another map refuse no file. Maps of labels are "
    "made on Add walks, from files that need one."
)
_HEADS: Final = ("Map", "Names", "Taken by", "What it says")


def layout(study: Study) -> Component:
    """Return the part; the maps follow."""
    parts = [html.H2("Maps"), html.P(_HOW, className="soft"), html.Div(id=PLACE)]
    return html.Section([*parts, dcc.Store(id=PRESSED)], className="card")


def register(app: Dash, study: Study) -> None:
    """Register the callbacks."""

    @app.callback(Output(PLACE, "children"), Input(ids.CHANGED, "data"))
    def show(_changed: int) -> list[Any]:
        may_change = "administer" in require("view").rights
        with study.read() as connection:
            maps, counts = laboratory_maps(connection), walks_by_map(connection)
            texts, gone = map_texts(connection), gone_maps(connection)
        return still(map_parts(maps, counts, texts, gone, may_change=may_change))

    def change(press: dict[str, Any], *, who: str, why: str) -> str:
        return f"{_done(study, press['value'], who=who, why=why)} {stale_words(study)}"

    register_change(app, Input(PRESSED, "data"), change)


def _done(study: Study, press: Mapping[str, Any], *, who: str, why: str) -> str:
    name = str(press.get("name", ""))
    if press.get("act") == "rename":
        new = str(press.get("chosen", "")).strip()
        rename_map(study, name, new, who=who, why=why)
        return f"{name} is called {new} now."
    if press.get("act") == "remove":
        remove_map(study, name, who=who, why=why)
        return f"{name} is removed; what it was stays in the history."
    was = undo_map(study, name, who=who, why=why)
    return f"{was or name} is as it was before." if was else f"{name} is not there, as before."


def map_parts(
    maps: Sequence[LabMap],
    counts: Mapping[str, int],
    texts: Mapping[str, str],
    gone: Sequence[str],
    *,
    may_change: bool,
) -> list[Component]:
    """Return the maps as a table, and those that were removed with their way back.

    Parameters
    ----------
    counts : mapping of str to int
        How many walks take each.
    gone : sequence of str
        Names that maps had.
    """
    rows = [
        [
            _name(each.name) if may_change else each.name,
            what_it_names(each),
            count_words(counts.get(each.name, 0), "walk"),
            folded("as a file", html.Pre(texts[each.name])),
            *([_acts(each.name)] if may_change else []),
        ]
        for each in maps
    ]
    heads = (*_HEADS, *(["Change"] if may_change else []))
    none: Component = html.P("No map is kept: what labels and columns spell counts.")
    parts = [table(heads, rows, caption="Maps of this laboratory")] if rows else [none]
    if gone and may_change:
        backs = [_button(f"Bring {name} back", "undo", name) for name in gone]
        parts.append(html.Div(["Removed or renamed: ", *backs], className="row"))
    return parts


def _name(name: str) -> Component:
    """Return the field for another name; the button beside it sends what stands there."""
    label = f"Name of the map {name}"
    return Markup(drawn("parts.name_field", label, name, LONGEST_MAP_NAME))


def _acts(name: str) -> Component:
    rename = pressing(PRESSED, {"act": "rename", "name": name})
    said = aria(label=f"Rename: {name}")
    acts = [
        html.Button("Rename", className="quiet", **said, **rename, **data(field="beside")),
        _button("As it was before", "undo", name),
        _button("Remove", "remove", name),
    ]
    return html.Div(acts, className="row")


def _button(words: str, act: str, name: str) -> Component:
    press = pressing(PRESSED, {"act": act, "name": name})
    return html.Button(words, className="quiet", **aria(label=f"{words}: {name}"), **press)

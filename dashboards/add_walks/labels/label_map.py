"""Which label is which place: a map made from the files' labels, for the screen Add walks.

In comes what was found in the files, out comes a part of the screen that shows every place with its
labels, what was guessed by name and by place, and the file's own points; pressed, it keeps the map
under its name for all files that it fits.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from html import escape
from typing import Any, Final

from dash import Dash, Input, Output, State, dcc, html, no_update
from dash.development.base_component import Component

from dashboards.add_walks.labels.map_draft import (
    MapDraft,
    after,
    begun,
    draft_of_looks,
    files_that_take,
    kept_landmarks,
    labels_of,
    offered,
)
from dashboards.add_walks.labels.map_drawing import drawing, own_points
from dashboards.add_walks.labels.map_places import NUMBER_OF, PLACES, MarkerPlace, words_of
from dashboards.add_walks.look_and_store import Looked
from dashboards.parts import ids
from dashboards.parts.dash_private import Markup
from dashboards.shell.access import require
from dashboards.shell.bars import say
from gaittrack.compare.row_words import count_words
from gaittrack.errors import StudyError
from gaittrack.lab_map import LabMap
from gaittrack.study.laboratory import laboratory_maps
from gaittrack.study.named_maps import undo_map
from gaittrack.study.recordings.landmark_map import keep_landmarks
from gaittrack.study.store import Study

DRAFT: Final = "add-walks-map-draft"
PRESS: Final = "add-walks-map-press"
"""Stores: the map while it is made, and what was pressed or chosen."""
_WHY: Final = "made on the screen Add walks"
_HOW: Final = {"map": "in the map", "name": "by name", "place": "by place", "you": "chosen"}


def map_part(looks: Sequence[Looked], *, may_set: bool) -> list[Component]:
    """Return the part of the screen that names the places of the files' labels."""
    draft = draft_of_looks(looks)
    if not draft["sets"]:
        return [html.P("No file with labels of markers was looked at yet.")]
    if not may_set:
        words = (
            "A map says which label is which place. Ask whoever administers the study to make one."
        )
        return [html.H2("Which label is which place?"), html.P(words)]
    return [
        dcc.Store(id=DRAFT, data=draft),
        dcc.Store(id=PRESS),
        html.Div(id="add-walks-map", className="label-map"),
    ]


def register(app: Dash, study: Study) -> None:
    """Register what happens when something of the map is chosen."""

    @app.callback(
        Output("add-walks-map", "children"),
        Output(DRAFT, "data"),
        Output(ids.CHANGED, "data", allow_duplicate=True),
        Input(PRESS, "data"),
        State(DRAFT, "data"),
        State(ids.CHANGED, "data"),
        prevent_initial_call="initial_duplicate",
    )
    def act(
        pressed: dict[str, Any] | None, draft: MapDraft | None, changed: int | None
    ) -> tuple[Any, ...]:
        visitor = require("administer" if pressed else "view")
        if not draft:
            return no_update, no_update, no_update
        with study.read() as connection:
            maps = laboratory_maps(connection)
        press = dict((pressed or {}).get("value") or {})
        if press.get("act") in ("use", "undo"):
            _keep(study, draft, maps, press, visitor.name)
            return no_update, no_update, (changed or 0) + 1
        now = after(draft, press, maps) if "labels" in draft else begun(draft, maps)
        return Markup("".join(_shown(now, maps))), now, no_update


def _keep(
    study: Study, draft: MapDraft, maps: Sequence[LabMap], press: dict[str, Any], who: str
) -> None:
    name = str(draft["name"])
    if press["act"] == "undo":
        undo_map(study, name, who=who, why=f"taken back; {_WHY}")
        say(f"The last change of {name} is taken back.")
        return
    own = next((each for each in maps if each.name == name), LabMap())
    n, why = files_that_take(draft, maps)
    if not draft["labels"]:
        raise StudyError.of("no_landmark_chosen", where="map")
    if not n:
        raise StudyError.of("map_taken_by_no_file", where=name, why=why)
    landmarks = kept_landmarks(draft, own)
    said = {"only": draft["only"], "standing_only": draft["standing_only"]}
    keep_landmarks(study, name, landmarks, **said, who=who, why=_WHY)
    say(f"{name} is kept; files with these labels take it by themselves.")


def _shown(draft: MapDraft, maps: Sequence[LabMap]) -> Iterator[str]:
    n_filled = sum(_is_filled(place, draft) for own in PLACES.values() for place in own)
    n_files, why = files_that_take(draft, maps)
    yield (
        f"<h2>Which label is which place? {n_filled} of {len(NUMBER_OF)} places are filled.</h2>"
    )
    yield from _choice_of_map(draft, maps)
    filled = [p.name for own in PLACES.values() for p in own if _is_filled(p, draft)]
    yield '<div class="map-grid"><section class="card"><div class="map-key">'
    yield "<span class=filled>filled</span><span class=chosen>chosen</span>"
    yield f"<span class=empty>empty</span></div>{drawing(filled, draft['place'], PRESS)}</section>"
    yield from _list(draft)
    yield from _aside(draft)
    yield "</div>"
    yield from _acts(draft, n_files, why)


def _is_filled(place: MarkerPlace, draft: MapDraft) -> bool:
    return all(key in draft["labels"] for key in place.keys.values())


def _value(**value: Any) -> str:
    return f'data-press="{PRESS}" data-value="{escape(json.dumps(value))}"'


def _button(words: str, kind: str = "", **value: Any) -> str:
    return f'<button type="button" class="{kind}" {_value(**value)}>{escape(words)}</button>'


def _choice_of_map(draft: MapDraft, maps: Sequence[LabMap]) -> Iterator[str]:
    """Give the name, and the other maps with how much of them these files hold."""
    here = set(labels_of(draft))
    yield '<div class="row map-names"><label>Map '
    yield f'<input type="text" maxlength="28" value="{escape(draft["name"])}" '
    yield f"{_value(act='name')}></label>"
    for each in maps:
        n = sum(label in here for label in each.landmarks.values())
        words = f"{each.name}: {n} of {count_words(len(each.landmarks), 'label')} here"
        pressed = str(each.name == draft["name"]).lower()
        yield f'<button type="button" class="pill" aria-pressed="{pressed}" '
        yield f"{_value(act='map', name=each.name)}>{escape(words)}</button>"
    yield _button("A new map", "pill", act="map", name="")
    yield "<span>A map has a name and is kept. Files with the same labels take it by themselves."
    yield "</span></div>"


def _list(draft: MapDraft) -> Iterator[str]:
    guesses = offered(draft)
    yield '<table class="map-list"><thead><tr><th scope="col">place</th>'
    yield '<th scope="col">right</th><th scope="col">left</th>'
    yield '<th scope="col">found, or guessed by place?</th><th scope="col">worn</th></tr></thead>'
    for title, places in PLACES.items():
        yield f'<tbody><tr class="part"><th scope="rowgroup" colspan="5">{title}</th></tr>'
        for place in places:
            yield from _row(place, draft, guesses)
        yield "</tbody>"
    yield "</table>"


def _row(place: MarkerPlace, draft: MapDraft, guesses: dict[str, str]) -> Iterator[str]:
    kind = ' class="looked"' if place.name == draft["place"] else ""
    number = _button(str(NUMBER_OF[place.name]), "number", act="look", place=place.name)
    yield f'<tr{kind}><th scope="row">{number} {escape(place.words)}</th>'
    for side, key in place.keys.items():
        span = "" if side else ' colspan="2"'
        yield f"<td{span}>{_select(key, draft)}</td>"
    hows = {draft["by"][key] for key in place.keys.values() if key in draft["by"]}
    mine = [guesses[key] for key in place.keys.values() if key in guesses]
    words = ", ".join(_HOW[how] for how in _HOW if how in hows)
    if mine:
        words = _button(f"{' · '.join(mine)}?", "quiet guess", act="take", place=place.name)
    yield f"<td>{words if mine or words else 'empty'}</td><td>{_worn(place, draft)}</td></tr>"


def _worn(place: MarkerPlace, draft: MapDraft) -> str:
    """Return the button that says whether a marker is worn in walks too."""
    is_rare = any(key in draft["standing_only"] for key in place.keys.values())
    now = "only standing" if is_rare else "always"
    label = f"{now}: when the marker is worn, {place.words}"
    return (
        f'<button type="button" class="quiet" aria-pressed="{str(is_rare).lower()}" '
        f'aria-label="{escape(label)}" {_value(act="worn", place=place.name)}>{now}</button>'
    )


def _select(key: str, draft: MapDraft) -> str:
    now, name = draft["labels"].get(key, ""), f'aria-label="{escape(words_of(key))}"'
    return _options("set", labels_of(draft), now, "empty", name=name, landmark=key)


def _aside(draft: MapDraft) -> Iterator[str]:
    """Give the file's own points, one guess by place, and the labels without a place."""
    yield '<aside><section class="card"><h3>As they lie in the file</h3>'
    if draft["moment"]:
        yield f"<p>{escape(draft['file'])}, {draft['at_s']:.2f} s; right leg solid</p>"
        yield own_points(draft["moment"], draft["labels"], draft["place"])
    else:
        yield "<p>Where the markers lie could not be told from this file.</p>"
    yield "</section>"
    guesses = offered(draft)
    if guesses:
        place = next(iter(guesses)).removeprefix("left_").removeprefix("right_")
        own = [guesses[key] for key in (f"right_{place}", f"left_{place}") if key in guesses]
        words = words_of(f"right_{place}").removesuffix(", right")
        yield f'<section class="card doubt"><h3>{escape(" and ".join(own))}: {words}, or not?</h3>'
        yield "<p>The names are not known here. The points lie and move as this place does, "
        yield "on both sides.</p><div class=row>"
        yield _button("That is the place", act="take", place=place)
        yield _button("Leave out", act="leave out", place=place)
        yield "</div></section>"
    taken = set(draft["labels"].values())
    free = [label for label in labels_of(draft) if label not in taken]
    yield f'<section class="card"><h3>Labels without a place: {len(free)}</h3>'
    yield f"<p>{escape(', '.join(free)) or 'none'}"
    yield (
        ". They are kept in the file and not used.</p></section></aside>"
        if free
        else ("</p></section></aside>")
    )


def _acts(draft: MapDraft, n_files: int, why: str) -> Iterator[str]:
    yield '<div class="row">'
    words = f"Use “{draft['name']}” for {count_words(n_files, 'file')}"
    yield _button(words, "main", act="use")
    yield _button("Swap right and left", act="swap")
    if offered(draft):
        yield _button("Take all guesses by place", act="take")
    if not draft["is_new"]:
        yield _button(f"Take back the last change of “{draft['name']}”", "quiet", act="undo")
    yield "</div>"
    if why or draft["only"]:
        yield f'<p class="watch">{escape(why)} '
        yield '<label class="map-only">This map is only for files that hold the label '
        yield f"{_options('only', labels_of(draft), draft['only'], 'any')}</label></p>"


def _options(act: str, labels: Sequence[str], now: str, none: str, **value: str) -> str:
    options = "".join(
        f'<option value="{escape(label)}"{" selected" if label == now else ""}>'
        f"{escape(label) or none}</option>"
        for label in ("", *labels)
    )
    return f"<select {value.pop('name', '')} {_value(act=act, **value)}>{options}</select>"

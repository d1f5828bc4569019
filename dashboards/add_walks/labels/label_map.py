"""Which label is which place: a map made from the files' labels, for the screen Add walks.

In comes what was found in the files, out comes a part of the screen that shows every place with its
labels, what was guessed by name and by place, and the file's own points; pressed, it keeps the map
under its name for all files that it fits.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
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
    names_in,
    offered,
)
from dashboards.add_walks.labels.map_drawing import own_points, spots
from dashboards.add_walks.labels.map_places import NUMBER_OF, PLACES, MarkerPlace, words_of
from dashboards.add_walks.look_and_store import Looked
from dashboards.parts import ids
from dashboards.parts.dash_private import Markup
from dashboards.parts.markup import drawn
from dashboards.parts.sent_kinds import refuse_unless
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
            refuse_unless("labels" in draft)
            _keep(study, draft, maps, press, visitor.name)
            return no_update, no_update, (changed or 0) + 1
        now = after(draft, press, maps) if "labels" in draft else begun(draft, maps)
        return Markup(drawn("maps.labels", _shown(now, maps))), now, no_update


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


def _shown(draft: MapDraft, maps: Sequence[LabMap]) -> dict[str, Any]:
    """Return what ``templates/maps.html`` shows of a map while it is made."""
    n_files, why = files_that_take(draft, maps)
    filled = [p.name for own in PLACES.values() for p in own if _is_filled(p, draft)]
    guesses, labels = offered(draft), labels_of(draft)
    taken = set(draft["labels"].values())
    name = draft["name"]
    return {
        "store": PRESS,
        "name": name,
        "filled": filled,
        "n_places": len(NUMBER_OF),
        "maps": [{"name": each.name, "words": _labels_here(each, set(labels))} for each in maps],
        "spots": spots(filled, draft["place"]),
        "rows": [
            (title, [_row(place, draft, guesses) for place in places])
            for title, places in PLACES.items()
        ],
        "choices": lambda none: {"": none} | {label: label for label in labels},
        "tells": {"": "any"} | {name: name for name in names_in(draft)},
        "file": draft["file"],
        "at_s": draft["at_s"],
        "points": own_points(draft["moment"], draft["labels"], draft["place"]),
        "guess": _first_guess(guesses),
        "free": [label for label in labels if label not in taken],
        "use": f"Use “{name}” for {count_words(n_files, 'file')}",
        "undo": "" if draft["is_new"] else f"Take back the last change of “{name}”",
        "why": why,
        "only": draft["only"],
    }


def _is_filled(place: MarkerPlace, draft: MapDraft) -> bool:
    return all(key in draft["labels"] for key in place.keys.values())


def _labels_here(one: LabMap, here: Collection[str]) -> str:
    n = sum(label in here for label in one.landmarks.values())
    return f"{n} of {count_words(len(one.landmarks), 'label')}"


def _row(place: MarkerPlace, draft: MapDraft, guesses: Mapping[str, str]) -> dict[str, Any]:
    keys = place.keys.values()
    hows = {draft["by"][key] for key in keys if key in draft["by"]}
    mine = [guesses[key] for key in keys if key in guesses]
    return {
        "name": place.name,
        "number": str(NUMBER_OF[place.name]),
        "words": place.words,
        "is_chosen": place.name == draft["place"],
        "sides": [
            {
                "key": key,
                "label": words_of(key),
                "now": draft["labels"].get(key, ""),
                "spans": not side,
            }
            for side, key in place.keys.items()
        ],
        "guess": f"{' · '.join(mine)}?" if mine else "",
        "how": ", ".join(_HOW[how] for how in _HOW if how in hows) or "empty",
        "is_rare": any(key in draft["standing_only"] for key in keys),
    }


def _first_guess(guesses: Mapping[str, str]) -> dict[str, Any] | None:
    """Return the first place that is guessed by where the points lie."""
    if not guesses:
        return None
    place = next(iter(guesses)).removeprefix("left_").removeprefix("right_")
    own = [guesses[key] for key in (f"right_{place}", f"left_{place}") if key in guesses]
    words = words_of(f"right_{place}").removesuffix(", right")
    return {"place": place, "labels": own, "words": words}

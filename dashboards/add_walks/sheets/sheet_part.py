"""Which column of a sheet is which angle, for the screen Add walks.

In comes what was found in the files, out comes a part of the screen that shows the columns with
their first numbers and the guess about each; pressed, it keeps what was said as a map for all
sheets with these columns.
"""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from typing import Any, Final

from dash import Dash, Input, Output, State, dcc, html, no_update, set_props
from dash.development.base_component import Component

from dashboards.add_walks.files_table import PRESSED
from dashboards.add_walks.look_and_store import Looked
from dashboards.add_walks.sheets.sheet_draft import (
    KEYS,
    TOE_OFF,
    SheetDraft,
    after,
    draft_of_sheets,
    map_of,
    what_is_open,
)
from dashboards.parts import ids
from dashboards.parts.dash_private import Markup
from dashboards.parts.markup import drawn
from dashboards.shell.access import require
from dashboards.shell.bars import say
from gaittrack.compare.row_words import count_words
from gaittrack.lab_map import NOT_WANTED, LabMap
from gaittrack.read.sheets.sheet_question import ASKED
from gaittrack.study.named_maps import keep_map
from gaittrack.study.store import Study
from gaittrack.vocabulary import JOINTS, SIDES

DRAFT: Final = "add-walks-sheet-draft"
PRESS: Final = "add-walks-sheet-press"
"""Stores: what was said so far, and what was pressed or chosen."""
MOST_COLUMNS, MOST_SIGNS = 8, 24
"""Of the first rows, columns and signs of a cell that are shown; own choice."""
_WHY: Final = "said on the screen Add walks"
_JOINTS: Final[Mapping[str, str]] = {joint: joint.replace("_", " ") for joint in JOINTS} | {
    NOT_WANTED: "not used"
}
_SIDES: Final[Mapping[str, str]] = {side: side for side in SIDES}
_SIGNS: Final = {"1": "flexion +", "-1": "extension +"}
_ZEROS: Final = {"0": "0°", "90": "90°", "-90": "−90°", "180": "180°"}
_CHOICES: Final[Mapping[str, Mapping[str, str]]] = {
    "layout": {"time_series": "over time", "cycles": "over the cycle, a column each"},
    "unit": {"deg": "degrees", "rad": "radians"},
}
_SHEET_WORDS: Final = {
    "layout": "The rows run",
    "unit": "Angles in",
    "rate_hz": "Frames per second",
    TOE_OFF: "Toe-off in per cent",
    "workbook_sheet": "Sheet of the workbook",
    "block": "Table of numbers",
    "person_number": "Person",
    "trial": "Recording",
    "percent_column": "Column of per cent",
    "value_column": "Column of angles",
    "cycle_column": "Column that numbers the cycles",
    "condition_column": "Column that names what was worn",
    "header_numbers": "Columns 1 to 100 are",
}


def sheet_part(
    looks: Sequence[Looked], maps: Sequence[LabMap], *, may_set: bool
) -> list[Component]:
    """Return the part of the screen that says what the columns of a sheet are."""
    draft = draft_of_sheets(looks, maps)
    if draft is None:
        return [html.P("No sheet waits for a word about its columns.")]
    title = html.H2("Which column is which angle?")
    if not may_set:
        words = "A map says it. Ask whoever administers the study to make one."
        return [title, html.P(words)]
    return [
        dcc.Store(id=DRAFT, data=draft),
        dcc.Store(id=PRESS),
        html.Div(
            Markup(drawn("maps.sheet", _shown(draft))), id="add-walks-sheet", className="label-map"
        ),
    ]


def register(app: Dash, study: Study) -> None:
    """Register what happens when something of a sheet is chosen."""

    @app.callback(
        Output("add-walks-sheet", "children"),
        Output(DRAFT, "data"),
        Output(ids.CHANGED, "data", allow_duplicate=True),
        Input(PRESS, "data"),
        State(DRAFT, "data"),
        State(ids.CHANGED, "data"),
        prevent_initial_call=True,
    )
    def act(
        pressed: dict[str, Any] | None, draft: SheetDraft | None, changed: int | None
    ) -> tuple[Any, ...]:
        visitor = require("administer")
        press = dict((pressed or {}).get("value") or {})
        if not draft or not press:
            return no_update, no_update, no_update
        if press.get("act") == "use":
            keep_map(study, str(draft["name"]), map_of(draft), who=visitor.name, why=_WHY)
            say(f"{draft['name']} is kept; sheets with these columns take it by themselves.")
            back = {"act": "part", "part": "files"}
            set_props(PRESSED, {"data": {"value": back, "at": time.time()}})
            return no_update, no_update, (changed or 0) + 1
        now = after(draft, press)
        return _drawn(now), now, no_update


def _drawn(draft: SheetDraft) -> Markup:
    return Markup(drawn("maps.sheet", _shown(draft)))


def _shown(draft: SheetDraft) -> dict[str, Any]:
    """Return what ``templates/maps.html`` shows of a sheet's columns."""
    n_open = len(what_is_open(draft))
    files = count_words(draft["n"], "file")
    is_over_time = draft["keys"].get("layout") == "time_series"
    named = any(one["cycle"] or one["condition"] for one in draft["columns"])
    has_more = named and not is_over_time
    return {
        "store": PRESS,
        "name": draft["name"],
        "left": f"{count_words(n_open, 'point')} to say" if n_open else "all is said",
        "n_files": files,
        "file": draft["file"],
        "doubts": draft["doubts"],
        **_first_rows(draft),
        "of_sheet": [_key(draft, key) for key in _keys_shown(draft)],
        "has_more": has_more,
        "columns": [_row(n, one, has_more=has_more) for n, one in enumerate(draft["columns"])],
        "is_open": bool(n_open),
        "use": f"Use “{draft['name']}” for {files}",
    }


def _first_rows(draft: SheetDraft) -> dict[str, Any]:
    """Return the first rows as they stand in the file, and which of them names the columns."""
    width = max((len(row) for _, row in draft["rows"]), default=0)
    n_shown = min(width, MOST_COLUMNS)
    rows = [
        (number, number == draft["header"], [cell[:MOST_SIGNS] for cell in row])
        for number, row in ((n, [*row, *[""] * n_shown][:n_shown]) for n, row in draft["rows"])
    ]
    return {"rows": rows, "width": width, "n_shown": n_shown}


def _key(draft: SheetDraft, key: str) -> tuple[str, str, str, Mapping[str, str] | None]:
    """Return what is said of the whole sheet; without choices where it is a number."""
    now, words = draft["keys"].get(key, ""), _SHEET_WORDS.get(key, key)
    choices = {word: word for word in draft["words"].get(key, ())} or _CHOICES.get(key)
    if choices is None:
        return key, words, "" if now == ASKED else _text(now), None
    return key, words, _text(now), _offered(choices, _text(now))


def _keys_shown(draft: SheetDraft) -> list[str]:
    """Return what to say of the sheet: what is asked, and what may be said of its layout."""
    told = draft["keys"]
    is_over_time = told.get("layout") == "time_series"
    left_out = {TOE_OFF} if is_over_time else set()
    left_out |= set() if "rate_hz" in told else {"rate_hz"}
    asked = [key for key, value in told.items() if value == ASKED or key in draft["words"]]
    return [key for key in dict.fromkeys((*KEYS, *asked)) if key not in left_out]


def _row(n: int, one: Mapping[str, Any], *, has_more: bool) -> dict[str, Any]:
    is_used = one["joint"] != NOT_WANTED
    columns: Sequence[tuple[str, Mapping[str, str]]]
    columns = (("joint", _JOINTS), ("side", _SIDES), ("sign", _SIGNS), ("zero_deg", _ZEROS))
    return {
        "n": n,
        "name": one["name"],
        "is_asked": is_used and ASKED in one.values(),
        "first": ", ".join("gap" if value is None else f"{value:.4g}" for value in one["first"]),
        "choices": [
            (
                key,
                key.replace("_deg", ""),
                _text(one[key]),
                _offered(choices, _text(one[key])) if is_used or key == "joint" else None,
            )
            for key, choices in columns
        ],
        "texts": [
            (key, "" if one[key] == ASKED else _text(one[key]))
            for key in (("cycle", "condition") if has_more and is_used else ())
        ],
    }


def _text(value: object) -> str:
    return f"{value:g}" if isinstance(value, int | float) else str(value)


def _offered(choices: Mapping[str, str], now: str) -> Mapping[str, str]:
    """Return what may be chosen, with what stands there now in front where it is none of that."""
    found = {"": "as found", ASKED: "choose"}.get(now, now.replace("_", " "))
    return choices if now in choices else {now: found, **choices}

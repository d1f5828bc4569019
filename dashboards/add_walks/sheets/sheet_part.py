"""Which column of a sheet is which angle, for the screen Add walks.

In comes what was found in the files, out comes a part of the screen that shows the columns with
their first numbers and the guess about each; pressed, it keeps what was said as a map for all
sheets with these columns.
"""

from __future__ import annotations

import json
import time
from collections.abc import Iterator, Mapping, Sequence
from html import escape
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
from dashboards.shell.access import require
from dashboards.shell.bars import say
from gaittrack.compare.row_words import count_words
from gaittrack.lab_map import NOT_WANTED, LabMap
from gaittrack.read.sheet_question import ASKED
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
        html.Div(Markup("".join(_shown(draft))), id="add-walks-sheet", className="label-map"),
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
        return Markup("".join(_shown(now))), now, no_update


def _shown(draft: SheetDraft) -> Iterator[str]:
    n_open = len(what_is_open(draft))
    left = f"{count_words(n_open, 'point')} to say" if n_open else "all is said"
    yield f"<h2>Which column is which angle? {left}, then use it for "
    yield f"{count_words(draft['n'], 'file')}.</h2>"
    yield f"<p>{escape(draft['file'])}: {escape('; '.join(draft['doubts']))}</p>"
    yield from _first_rows(draft)
    yield from _of_the_sheet(draft)
    yield '<table class="map-list sheet-columns"><thead><tr><th scope="col">column</th>'
    for words in ("first numbers", "angle", "side", "counts", "neutral"):
        yield f'<th scope="col">{words}</th>'
    is_over_time = draft["keys"].get("layout") == "time_series"
    named = any(one["cycle"] or one["condition"] for one in draft["columns"])
    has_more = named and not is_over_time
    yield '<th scope="col">cycle</th><th scope="col">worn</th>' if has_more else ""
    yield "</tr></thead><tbody>"
    for n, one in enumerate(draft["columns"]):
        yield from _row(n, one, has_more=has_more)
    yield "</tbody></table>"
    words = f"Use “{draft['name']}” for {count_words(draft['n'], 'file')}"
    disabled = "" if not n_open else " disabled"
    yield f'<div class="row"><button type="button" class="main"{disabled} {_value(act="use")}>'
    yield f"{escape(words)}</button></div>"


def _first_rows(draft: SheetDraft) -> Iterator[str]:
    """Show the first rows as they stand in the file."""
    width = max((len(row) for _, row in draft["rows"]), default=0)
    shown = min(width, MOST_COLUMNS)
    beyond = f", the first {shown} of {width} columns" if width > shown else ""
    yield f'<table class="sheet-rows"><caption>The first rows as they stand{beyond}</caption>'
    yield "<tbody>"
    for number, row in draft["rows"]:
        is_header = number == draft["header"]
        words = f"{number} names" if is_header else f"{number}"
        yield f'<tr{" class=header" if is_header else ""}><th scope="row">{words}</th>'
        cells = [*row, *[""] * shown][:shown]
        yield "".join(f"<td>{escape(cell[:MOST_SIGNS])}</td>" for cell in cells)
        yield "</tr>"
    yield "</tbody></table>"


def _of_the_sheet(draft: SheetDraft) -> Iterator[str]:
    yield '<div class="row map-names"><label>Map '
    yield f'<input type="text" maxlength="28" value="{escape(draft["name"])}" '
    yield f"{_value(act='name')}></label>"
    for key in _keys_shown(draft):
        now = draft["keys"].get(key, "")
        yield f"<label>{_SHEET_WORDS.get(key, key)} "
        choices = {word: word for word in draft["words"].get(key, ())} or _CHOICES.get(key)
        if choices is None:
            shown = "" if now == ASKED else _text(now)
            yield f'<input type="number" min="1" value="{escape(shown)}" size="6" '
            yield f"{_value(act='key', key=key)}>"
        else:
            yield _select(choices, _text(now), act="key", key=key)
        yield "</label>"
    yield "</div>"


def _keys_shown(draft: SheetDraft) -> list[str]:
    """Return what to say of the sheet: what is asked, and what may be said of its layout."""
    told = draft["keys"]
    is_over_time = told.get("layout") == "time_series"
    left_out = {TOE_OFF} if is_over_time else set()
    left_out |= set() if "rate_hz" in told else {"rate_hz"}
    asked = [key for key, value in told.items() if value == ASKED or key in draft["words"]]
    return [key for key in dict.fromkeys((*KEYS, *asked)) if key not in left_out]


def _row(n: int, one: Mapping[str, Any], *, has_more: bool) -> Iterator[str]:
    is_open = one["joint"] != NOT_WANTED
    kind = ' class="looked"' if is_open and ASKED in one.values() else ""
    first = ", ".join("gap" if value is None else f"{value:.4g}" for value in one["first"])
    yield f'<tr{kind}><th scope="row">{escape(one["name"])}</th><td class="numbers">{first}</td>'
    columns: list[tuple[str, Mapping[str, str]]]
    columns = [("joint", _JOINTS), ("side", _SIDES), ("sign", _SIGNS), ("zero_deg", _ZEROS)]
    for key, choices in columns:
        now = _text(one[key])
        if key != "joint" and not is_open:
            yield "<td class=none></td>"
            continue
        about = f'aria-label="{escape(key.replace("_deg", ""))} of {escape(one["name"])}"'
        yield f"<td>{_select(choices, now, about, act='column', n=n, key=key)}</td>"
    for key in ("cycle", "condition") if has_more and is_open else ():
        shown = "" if one[key] == ASKED else _text(one[key])
        yield f'<td><input type="text" size="6" aria-label="{key} of {escape(one["name"])}" '
        yield f'value="{escape(shown)}" {_value(act="column", n=n, key=key)}></td>'
    yield "</tr>"


def _text(value: object) -> str:
    return f"{value:g}" if isinstance(value, int | float) else str(value)


def _select(choices: Mapping[str, str], now: str, about: str = "", **value: Any) -> str:
    found = {"": "as found", ASKED: "choose"}.get(now, now.replace("_", " "))
    offered = choices if now in choices else {now: found, **choices}
    options = "".join(
        f'<option value="{escape(key)}"{" selected" if key == now else ""}>{escape(words)}</option>'
        for key, words in offered.items()
    )
    return f"<select {about} {_value(**value)}>{options}</select>"


def _value(**value: Any) -> str:
    return f'data-press="{PRESS}" data-value="{escape(json.dumps(value))}"'

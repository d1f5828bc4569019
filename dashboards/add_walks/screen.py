"""Add walks: files from this computer into the study, looked at before anything is stored.

In come files, who walked, at which visit and what was worn; out come what is in each file and what
is wrong with it, then trials in the study. The import is the one of the command line.
"""

from __future__ import annotations

from typing import Any, Final

import dash_mantine_components as dmc
from dash import ALL, ClientsideFunction, Dash, Input, Output, State, ctx, dcc, html, no_update
from dash.development.base_component import Component

from dashboards.add_walks import steps, uploads
from dashboards.add_walks.entered import FIELDS, Entered
from dashboards.add_walks.files_table import press_html, sign
from dashboards.add_walks.visit_form import (
    EVERY_FIELD,
    FIELD,
    person_part,
    person_words,
    proposed_worn,
    visit_part,
    worn_of,
    worn_part,
)
from dashboards.parts import ids
from dashboards.parts.controls import aria, data
from dashboards.parts.dash_private import Markup
from dashboards.parts.fact_fields import NAME, field, field_id, read_fields
from dashboards.parts.markup import drawn
from dashboards.shell.access import require
from dashboards.shell.both_legs import register_same
from gaittrack.read import READABLE_SUFFIXES
from gaittrack.record.registry import CONDITION
from gaittrack.study.people.enrolled import code_of, person_codes
from gaittrack.study.people.last_visit import NextVisit, next_visit
from gaittrack.study.store import Study

_STORES: Final = ("sent", "known", "pressed", "now", "news", "whole")
_FORM: Final = "form-part"
"""Class of the screen while the form is open."""
_SHOES: Final = {"type": FIELD, "part": "condition", "n": ALL, "name": "footwear"}


def layout(study: Study) -> Component:
    """Return the screen, with a new basket for the files that will be sent."""
    if "edit" not in require("view").rights:
        return html.Div([html.H1("Add walks"), html.P("You may look, but not add walks here.")])
    require("edit")
    basket = uploads.baskets().start()
    with study.read() as connection:
        codes = person_codes(connection)
    return html.Div(
        [
            html.H1("Add walks", id="add-walks-title"),
            dcc.Store(id="add-walks-basket", data=basket),
            *(dcc.Store(id=f"add-walks-{name}") for name in _STORES),
            dcc.Interval(id="add-walks-tick", interval=300, disabled=True),
            html.Div(id="add-walks-strip"),
            html.Div([_left(basket, codes), _right()], className="both"),
            html.Div(id="add-walks-found"),
        ],
        id="add-walks-body",
        className="add-walks at-1 files-part no-files",
    )


def _left(basket: str, codes: list[str]) -> Component:
    """Return what holds for all files."""
    taken = html.Section(id="add-walks-taken", className="card")
    return html.Div([_files_section(basket), _for_all(codes), taken], className="left")


def _right() -> Component:
    """Return the places for the files, and for what stands there in their place."""
    look = html.Button("Look at the files", id="add-walks-look", className="main")
    foot = [look, html.Div(id="add-walks-note", className="row")]
    return html.Div(
        [
            _what_comes(),
            html.Div(id="add-walks-asked"),
            _rate(),
            html.Div(id="add-walks-which"),
            html.Div(foot, className="row add-foot"),
            html.Div(id="add-walks-special"),
            _form(),
        ],
        className="right",
    )


def _files_section(basket: str) -> Component:
    kinds = ", ".join(sorted(READABLE_SUFFIXES))
    most = uploads.MOST_FILE_BYTES // 1024**2
    return html.Section(
        [
            Markup(drawn("add_walks.folder")),
            html.B("Drop files or a folder"),
            html.Div(id="add-walks-inputs", className="row"),
            html.Small(f"{kinds}; each at most {most} MB. Nothing is stored before step 3."),
            html.P(id="add-walks-sending", role="status"),
        ],
        id="add-walks-drop",
        className="drop",
        **data(
            basket=basket,
            most=str(uploads.MOST_FILE_BYTES),
            files=str(uploads.MOST_FILES),
            kinds=kinds.replace(" ", ""),
        ),
    )


def _for_all(codes: list[str]) -> Component:
    """Return the fields of what holds for all files."""
    person = dmc.Autocomplete(
        id="add-walks-person",
        label="Person",
        placeholder="a code, never a name",
        data=codes,
        limit=20,
        debounce=400,
        value="",
    )
    visit = dmc.TextInput(id="add-walks-visit-code", label="Visit", value="", debounce=400)
    shoe = dmc.Select(
        id="add-walks-shoe",
        label="Shoe",
        data=list(CONDITION["footwear"].words),
        placeholder="as said of each",
        clearable=True,
    )
    lines = [
        person,
        html.Small(id="add-walks-person-words"),
        visit,
        field(FIELD, "visit", 0, "date"),
        html.Small(id="add-walks-day-words"),
        shoe,
    ]
    return html.Section([html.H2("For all files"), *lines], className="card for-all")


def _what_comes() -> Component:
    """Return what will be done, while there are no files yet."""
    steps = (
        ("Drop the files", "A whole folder is fine. Names of folders and files stay as they are."),
        (
            "Say who walked, at which visit, what was worn",
            "What folders and names say is filled in, and says where it is from. "
            "What is missing in several files is asked once.",
        ),
        ("Look and store", "Each file says what it can answer, or what is wrong with it."),
    )
    items = [html.Li([html.B(title), html.Span(words)]) for title, words in steps]
    return html.Div(html.Ol(items, className="card"), className="empty what-comes")


def _rate() -> Component:
    """Return the question for frames a second: one field for all sheets that lack them."""
    hz = dmc.NumberInput(
        id="add-walks-rate-hz", hideControls=True, w=80, **aria(label="Frames a second")
    )
    use = html.Button("Use for these", id="add-walks-rate-use")
    words = html.B(id="add-walks-rate")
    row = html.P([Markup(sign("trouble")), words, hz, "frames/s", use])
    return html.Div(row, className="card asked rate")


def _form() -> Component:
    """Return what is filled in where something is new or has changed."""
    parts = [
        html.Div(id="add-walks-about"),
        html.H3("What was worn"),
        html.Div(id="add-walks-worn"),
        html.Button("Add a condition", id="add-walks-more", className="quiet"),
        html.H3("The visit"),
        html.Div(field(FIELD, "visit", 0, "number"), className="fields"),
        html.Div(id="add-walks-visit"),
        Markup(press_html("Done: to the files", {"act": "part", "part": "files"}, "main")),
    ]
    return html.Section(parts, className="card form")


def register(app: Dash, study: Study) -> None:
    """Register the callbacks of the screen, and the route that takes files."""
    uploads.add_route(app.server)
    for name, asked, place in (
        ("inputs", Input("add-walks-basket", "data"), "add-walks-inputs"),
        ("left", Input(ids.ADDRESS, "pathname"), "main"),
    ):
        app.clientside_callback(
            ClientsideFunction("add_walks", name), Output(place, "title"), asked
        )
    _register_person(app, study)
    _register_proposal(app, study)
    _register_form(app, study)
    _register_worn(app)
    register_same(app, FIELD)
    _register_for_all(app)
    steps.register(app, study)


def _register_person(app: Dash, study: Study) -> None:
    @app.callback(
        Output("add-walks-person", "value"),
        Input("add-walks-basket", "data"),
        State(ids.CHOICE, "data"),
    )
    def begin_with_chosen(_basket: str, choice: dict[str, int] | None) -> object:
        require("edit")
        person = (choice or {}).get("person")
        if person is None:
            return ""
        with study.read() as connection:
            return code_of(connection, person) or ""


def _register_proposal(app: Dash, study: Study) -> None:
    @app.callback(
        Output("add-walks-person-words", "children"),
        Output("add-walks-about", "children"),
        Output("add-walks-visit", "children"),
        Output("add-walks-worn", "children"),
        Output("add-walks-visit-code", "value"),
        Output(field_id(FIELD, "visit", 0, "number"), "value"),
        Output("add-walks-known", "data"),
        Output("add-walks-whole", "data"),
        Input("add-walks-person", "value"),
        State("add-walks-body", "className"),
        prevent_initial_call=True,
    )
    def propose(person: str | None, body: str) -> tuple[Any, ...]:
        require("edit")
        code, is_open = (person or "").strip(), _FORM in body
        with study.read() as connection:
            proposed = next_visit(connection, code)
        known = _known(proposed)
        visit = visit_part(proposed) if is_open else []
        worn = worn_part(proposed_worn(proposed), known, is_whole=is_open)
        parts = person_words(code, proposed), person_part(code, proposed), visit, worn
        return *parts, proposed.code, proposed.number, known, is_open


def _register_form(app: Dash, study: Study) -> None:
    @app.callback(
        Output("add-walks-visit", "children", allow_duplicate=True),
        Output("add-walks-worn", "children", allow_duplicate=True),
        Output("add-walks-whole", "data", allow_duplicate=True),
        Input("add-walks-body", "className"),
        State("add-walks-whole", "data"),
        *FIELDS,
        prevent_initial_call=True,
    )
    def open_form(body: str, is_whole: bool | None, *given: Any) -> tuple[Any, ...]:
        """Draw the fields that are empty only once somebody opens the form: they are many."""
        require("edit")
        if is_whole or _FORM not in body:
            return no_update, no_update, no_update
        entered = Entered(*given)
        with study.read() as connection:
            proposed = next_visit(connection, entered.about.person)
        worn = worn_part(worn_of(entered.form), entered.known or {}, is_whole=True)
        return visit_part(proposed), worn, True


def _known(proposed: NextVisit) -> dict[str, Any]:
    """Return what the screen has to know of the person, and the fields cannot say."""
    return {
        "last": proposed.last,
        "code": proposed.code,
        "number": proposed.number,
        "affected_side": proposed.facts.get("affected_side"),
        "days_worn": proposed.days_worn,
        "braces": list(proposed.braces),
    }


def _register_worn(app: Dash) -> None:
    @app.callback(
        Output("add-walks-worn", "children", allow_duplicate=True),
        Input("add-walks-more", "n_clicks"),
        Input({"type": "add-walks-remove", "n": ALL}, "n_clicks"),
        State(EVERY_FIELD, "id"),
        State(EVERY_FIELD, "value"),
        State("add-walks-known", "data"),
        prevent_initial_call=True,
    )
    def change(
        _more: int | None, _removed: list[int | None], keys: Any, values: Any, known: Any
    ) -> object:
        require("edit")
        if not ctx.triggered_id or not ctx.triggered[0]["value"]:
            return no_update
        worn = worn_of(read_fields(keys, values))
        if ctx.triggered_id == "add-walks-more":
            worn.append({NAME: ""})
        else:
            del worn[ctx.triggered_id["n"]]
        return worn_part(worn, known or {}, is_whole=True)


def _register_for_all(app: Dash) -> None:
    @app.callback(
        Output(_SHOES, "value", allow_duplicate=True),
        Input("add-walks-shoe", "value"),
        State(_SHOES, "value"),
        prevent_initial_call=True,
    )
    def shoe_of_all(shoe: str | None, values: list[str | None]) -> object:
        require("edit")
        return [shoe or value for value in values]

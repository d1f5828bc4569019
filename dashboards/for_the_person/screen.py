"""For the person: the answer in plain words, to look at, to print, and to talk about.

In come the chosen person and visit, the pair to compare, a language and who is spoken to, out comes
the page; what it says is made in ``gaittrack.report``.
"""

from __future__ import annotations

from typing import Any, Final

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, html
from dash.development.base_component import Component

from dashboards.for_the_person.written import FILE_NAME, Written, views, write
from dashboards.parts import ids
from dashboards.parts.controls import aria, choice, choose_first, labelled
from dashboards.parts.dash_private import Markup
from dashboards.parts.saving import PICTURE, save_menu
from dashboards.parts.sent_kinds import refuse_unless
from dashboards.shell.access import require
from dashboards.shell.handing_out import file_output, file_place, hand_out_page
from gaittrack.report.language import language, language_codes
from gaittrack.report.person_html import person_article, person_html
from gaittrack.report.person_points import MOST_POINTS
from gaittrack.study.people.enrolled import is_there
from gaittrack.study.store import Study

_TITLE: Final = "For the person"
_NOTHING: Final = (
    "There is nothing to compare at this visit yet. It takes walks with and without a brace, or "
    "walks of an earlier visit."
)
_PAGE: Final = "for-the-person-page"
_SHOW: Final = [*(str(number + 1) for number in range(MOST_POINTS)), "all"]
_STAGE: Final = """
function (talk, leave, shown) {
  const pressed = window.dash_clientside.callback_context.triggered_id;
  if (pressed !== 'for-the-person-shown') {
    window.talking = pressed === 'for-the-person-talk';
    document.getElementById(`for-the-person-${window.talking ? 'leave' : 'talk'}`)?.focus();
  }
  return window.talking ? `talking show-${shown}` : '';
}
"""
_PRINT: Final = (
    "function (n) { if (n) { window.print(); } return window.dash_clientside.no_update; }"
)


def layout(study: Study) -> Component:
    """Return the screen; its page follows when a person is known."""
    visitor = require("view")
    buttons: list[Component] = [
        html.Button("Talk about it", id="for-the-person-talk", className="no-talk"),
        html.Button("Print", id="for-the-person-print", className="main"),
        html.Button("Leave", id="for-the-person-leave", className="only-talk"),
    ]
    if "export" in visitor.rights:
        save = html.Button("Save as a file", id="for-the-person-save", className="no-talk")
        pictures = save_menu("page", PICTURE, of=f"#{_PAGE} .markup > *", says="Save as a picture")
        buttons[2:2] = [save, html.Div(pictures, className="no-talk")]
    bar = html.Div([*_choices(), *buttons], className="row no-print")
    return html.Div(
        [
            bar,
            file_place("for-the-person"),
            html.Div(html.H1(_TITLE), id=_PAGE),
        ],
        id="for-the-person-stage",
    )


def _choices() -> list[Component]:
    codes = language_codes()
    languages = labelled({code: language(code).name for code in codes})
    wide, narrow = {"flex": "1 1 16rem"}, {"flex": "0 1 9rem"}
    pair = choice("for-the-person-pair", "Compare", [], style=wide)
    code = choice("for-the-person-language", "Language", languages, codes[0], style=narrow)
    return [
        html.Div(pair, className="no-talk", style=wide),
        html.Div(code, className="no-talk", style=narrow),
        _joined("for-the-person-audience", "Words for", []),
        html.Div(
            _joined("for-the-person-shown", "Show", labelled({e: e for e in _SHOW}), "all"),
            className="only-talk",
        ),
    ]


def _joined(
    name: str, label: str, data: list[dict[str, str]], value: str | None = None
) -> Component:
    """Return a few choices side by side."""
    control = dmc.SegmentedControl(id=name, data=data, value=value, **aria(label=label))
    return html.Div([html.Span(label), control], className="joined")


def register(app: Dash, study: Study) -> None:
    """Register the callbacks of the screen."""
    _register_choices(app, study)
    _register_page(app, study)
    _register_file(app, study)
    app.clientside_callback(
        _PRINT,
        Output("for-the-person-print", "title"),
        Input("for-the-person-print", "n_clicks"),
        prevent_initial_call=True,
    )
    app.clientside_callback(
        _STAGE,
        Output("for-the-person-stage", "className"),
        Input("for-the-person-talk", "n_clicks"),
        Input("for-the-person-leave", "n_clicks"),
        Input("for-the-person-shown", "value"),
        prevent_initial_call=True,
    )


def _register_choices(app: Dash, study: Study) -> None:
    @app.callback(
        Output("for-the-person-pair", "data"),
        Output("for-the-person-pair", "value"),
        Input(ids.CHOICE, "data"),
        Input(ids.CHANGED, "data"),
        State("for-the-person-pair", "value"),
    )
    def offer_pairs(
        chosen: dict[str, int] | None, _changed: int, before: str | None
    ) -> tuple[list[dict[str, str]], str | None]:
        require("view")
        found = views(study, chosen)
        keys = [view.key for view in found]
        offered = labelled({view.key: view.title for view in found})
        return offered, before if before in keys else next(iter(keys), None)


def _register_page(app: Dash, study: Study) -> None:
    @app.callback(
        Output(_PAGE, "children"),
        Output("for-the-person-audience", "data"),
        Output("for-the-person-audience", "value"),
        Input("for-the-person-pair", "value"),
        Input("for-the-person-language", "value"),
        Input("for-the-person-audience", "value"),
        Input(ids.CHANGED, "data"),
        State(ids.CHOICE, "data"),
    )
    def show(
        pair: str | None,
        code: str,
        audience: str | None,
        _changed: int,
        chosen: dict[str, int] | None,
    ) -> tuple[list[Component], list[dict[str, str]], str | None]:
        require("view")
        heading = html.H1(_TITLE)
        if not is_there(study, (chosen or {}).get("person")):
            return [heading, choose_first()], [], None
        if pair is None:
            return [heading, *([] if views(study, chosen) else [html.P(_NOTHING)])], [], None
        refuse_unless(code in language_codes())
        written = write(study, chosen, pair, code, audience)
        if written is None:
            return [heading, html.P(_NOTHING)], [], None
        return [Markup(person_article(written.page))], _audiences(written, code), written.audience


def _audiences(written: Written, code: str) -> list[dict[str, str]]:
    words = language(code)
    return labelled({name: words.texts[f"for.{name}"] for name in written.audiences})


def _register_file(app: Dash, study: Study) -> None:
    @app.callback(
        file_output("for-the-person"),
        Input("for-the-person-save", "n_clicks"),
        State("for-the-person-pair", "value"),
        State("for-the-person-language", "value"),
        State("for-the-person-audience", "value"),
        State(ids.CHOICE, "data"),
        prevent_initial_call=True,
    )
    def save(
        _clicks: int,
        pair: str | None,
        code: str,
        audience: str | None,
        chosen: dict[str, int],
    ) -> Any:
        require("export")
        refuse_unless(code in language_codes())
        written = write(study, chosen, pair, code, audience)
        return None if written is None else hand_out_page(person_html(written.page), FILE_NAME)

"""For the person: at most three points of their walk in plain words, to look at and to print.

In come the chosen person and visit, the pair to compare and a language, out comes the page; what it
says is made in ``gaittrack.report``.
"""

from __future__ import annotations

import base64
from collections.abc import Sequence
from typing import Any, Final

from dash import Dash, Input, Output, State, html
from dash.development.base_component import Component

from dashboards.parts import ids
from dashboards.parts.controls import choice, choose_first, labelled
from dashboards.shell.access import require
from dashboards.shell.handing_out import file_output, file_place, hand_out_page
from gaittrack.report.language import language, language_codes
from gaittrack.report.patient import PagePoint, PersonPage, person_page
from gaittrack.report.person_html import person_html
from gaittrack.report.person_points import MEASURES_NEEDED
from gaittrack.report.person_views import PersonView, views_of
from gaittrack.study.results.comparing import compare_stored, conditions_of
from gaittrack.study.results.keeping import stale_trials
from gaittrack.study.store import Study

FILE_NAME: Final = "walking.html"
_TITLE: Final = "For the person"
_NOTHING: Final = (
    "There is nothing to compare at this visit yet. It takes walks with and without a brace, or "
    "walks of an earlier visit."
)


def layout(study: Study) -> Component:
    """Return the screen; its page follows when a person is known."""
    visitor = require("view")
    controls = [*_choices(), html.Button("Print", id="for-the-person-print", className="main")]
    if "export" in visitor.rights:
        controls.append(html.Button("Save as a file", id="for-the-person-save"))
    return html.Div(
        [
            html.Div(controls, className="row no-print"),
            file_place("for-the-person"),
            html.Div(html.H1(_TITLE), id="for-the-person-page"),
        ]
    )


def _choices() -> list[Component]:
    codes = language_codes()
    languages = labelled({code: language(code).name for code in codes})
    wide, narrow = {"flex": "1 1 18rem"}, {"flex": "0 1 10rem"}
    return [
        choice("for-the-person-pair", "Compare", [], style=wide),
        choice("for-the-person-language", "Language", languages, codes[0], style=narrow),
    ]


def register(app: Dash, study: Study) -> None:
    """Register the callbacks of the screen."""
    _register_page(app, study)
    _register_file(app, study)
    app.clientside_callback(
        "function (n) { if (n) { window.print(); } return window.dash_clientside.no_update; }",
        Output("for-the-person-print", "title"),
        Input("for-the-person-print", "n_clicks"),
        prevent_initial_call=True,
    )


def _register_page(app: Dash, study: Study) -> None:
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
        views = _views(study, chosen)
        keys = [view.key for view in views]
        offered = labelled({view.key: view.title for view in views})
        return offered, before if before in keys else next(iter(keys), None)

    @app.callback(
        Output("for-the-person-page", "children"),
        Input("for-the-person-pair", "value"),
        Input("for-the-person-language", "value"),
        Input(ids.CHANGED, "data"),
        State(ids.CHOICE, "data"),
    )
    def show(
        pair: str | None, code: str, _changed: int, chosen: dict[str, int] | None
    ) -> list[Component] | Component:
        require("view")
        if not (chosen or {}).get("person"):
            return [html.H1(_TITLE), choose_first()]
        if pair is None:
            return [html.H1(_TITLE), *([] if _views(study, chosen) else [html.P(_NOTHING)])]
        page = write_page(study, chosen, pair, code)
        return [html.H1(_TITLE), html.P(_NOTHING)] if page is None else draw_page(page)


def _register_file(app: Dash, study: Study) -> None:
    @app.callback(
        file_output("for-the-person"),
        Input("for-the-person-save", "n_clicks"),
        State("for-the-person-pair", "value"),
        State("for-the-person-language", "value"),
        State(ids.CHOICE, "data"),
        prevent_initial_call=True,
    )
    def save(_clicks: int, pair: str | None, code: str, chosen: dict[str, int]) -> Any:
        require("export")
        page = write_page(study, chosen, pair, code)
        if page is None:
            return None
        return hand_out_page(person_html(page), FILE_NAME)


def _views(study: Study, chosen: dict[str, int] | None) -> list[PersonView]:
    person = (chosen or {}).get("person")
    if person is None:
        return []
    return views_of(conditions_of(study, person), (chosen or {}).get("visit"))


def write_page(
    study: Study, chosen: dict[str, int] | None, pair: str | None, code: str
) -> PersonPage | None:
    """Return the page of the chosen person, or None when there is nothing to compare.

    Parameters
    ----------
    chosen : dict or None
        Row numbers of this browser tab.
    pair : str or None
        Key of a :class:`PersonView`; one that is not of this person gives the first of theirs.
    code : str
        Of the language.
    """
    views = _views(study, chosen)
    if not views:
        return None
    view = next((each for each in views if each.key == pair), views[0])
    rows = (view.reference.id, view.own.id)
    found = compare_stored(
        study, rows, reference=rows[0], measures=MEASURES_NEEDED, with_curves=False
    )
    words = language(code if code in language_codes() else "en")
    return person_page(
        found.comparison,
        found.records,
        view.called(words, found.person),
        words,
        n_stale=_n_stale(study, found.person, view),
    )


def _n_stale(study: Study, person: str, view: PersonView) -> int:
    shown = {(one.visit, one.code) for one in (view.reference, view.own)}
    stale = stale_trials(study, person=person)
    return sum((trial.visit, trial.condition) in shown for trial, _ in stale)


def draw_page(page: PersonPage) -> Component:
    """Return the page as it stands on the screen."""
    return html.Article(
        [
            html.H1(page.title),
            html.P(page.where, className="where"),
            *(html.P(text) for text in page.lead),
            *(_point(point) for point in page.points),
            *_list(page.also_heading, page.also),
            *_list(page.missing_heading, page.missing),
            *_list(page.unsure_heading, page.unsure),
            html.P(page.notice, className="where"),
        ],
        className="person-page",
        lang=page.language,
    )


def _point(point: PagePoint) -> Component:
    picture = base64.b64encode(point.picture.encode()).decode()
    return html.Section(
        [
            html.Figure(
                [
                    html.Img(src=f"data:image/svg+xml;base64,{picture}", alt=point.alt),
                    html.Figcaption(point.caption),
                ]
            ),
            html.Div(
                [
                    html.H2(point.heading),
                    *(html.P(line) for line in point.lines),
                    html.P(point.about, className="where"),
                ]
            ),
        ],
        className="point",
    )


def _list(heading: str, texts: Sequence[str]) -> list[Component]:
    return [html.H3(heading), html.Ul([html.Li(text) for text in texts])] if texts else []

"""What stands around every screen: name, ways to the screens, who is chosen, messages, the notice.

In come the screens, out comes the frame they are shown in. The address says which screen, and by
its row number who, so that Back, a new tab and a bookmark work; a code never stands in it. What is
chosen is kept in a store of the browser tab: two tabs can look at two people.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

import dash_mantine_components as dmc
from dash import ALL, Dash, Input, Output, State, ctx, dcc, html, set_props
from dash.development.base_component import Component
from flask import g, has_app_context

from dashboards.parts import ids
from dashboards.parts.controls import aria
from dashboards.parts.dash_private import Markup, nothing_new
from dashboards.parts.markup import BRAND
from dashboards.parts.sent_kinds import NotSentError
from dashboards.parts.states import coming
from dashboards.shell import saved_tables
from dashboards.shell.access import log_event, require, visitor
from dashboards.shell.doors import noted
from dashboards.shell.keeper import keeper_of
from dashboards.shell.sign_in import SIGN_OUT
from gaittrack.errors import GaitTrackError
from gaittrack.notice import NOTICE
from gaittrack.record.visit_facts import PersonFacts
from gaittrack.record.wording import value_words
from gaittrack.study.history import record
from gaittrack.study.people.enrolled import code_of
from gaittrack.study.people.facts import facts_of_person
from gaittrack.study.store import Study

MANTINE_THEME: Final = {
    "autoContrast": True,
    "primaryColor": "dark",
    "primaryShade": 6,
    "fontFamily": "inherit",
    "defaultRadius": "sm",
    "components": {"Combobox": {"defaultProps": {"keepMounted": False}}},
}
"""A list of options is made when it opens: each is in the way of the browser otherwise."""
_SET_THEME: Final = f"""
function(n, stored) {{
  const {{ no_update, set_props }} = window.dash_clientside;
  const system = window.systemTheme ||= window.matchMedia('(prefers-color-scheme: dark)');
  const show = theme => {{
    document.documentElement.dataset.theme = theme;
    return [theme, theme === 'dark' ? 'Light' : 'Dark'];
  }};
  const wished = () => system.matches ? 'dark' : 'light';
  system.onchange = n || stored ? null : () => {{
    const [forceColorScheme, children] = show(wished());
    set_props('{ids.THEME_PROVIDER}', {{ forceColorScheme }});
    set_props('{ids.THEME_BUTTON}', {{ children }});
  }};
  const now = document.documentElement.dataset.theme;
  const theme = n ? (now === 'dark' ? 'light' : 'dark') : stored || wished();
  return [n ? theme : no_update, ...show(theme)];
}}
"""
"""What a person chose stays; until then the page goes with the system, also while it is open."""
_MOST_MONTHS: Final = 24
_TAKE_ADDRESS: Final = """
function(path, search, choice) {
  const title = TITLES[path];
  document.title = title ? title + ' \u00b7 gaittrack' : 'gaittrack';
  const person = Number(new URLSearchParams(search).get('person'));
  if (!person || (choice || {}).person === person) { return window.dash_clientside.no_update; }
  return {person: person};
}
"""


@dataclass(frozen=True, slots=True)
class Screen:
    """One screen, as the frame knows it.

    Attributes
    ----------
    is_of_person : bool
        It shows who is chosen, and stands among that person's tabs.
    """

    address: str
    title: str
    layout: Callable[[Study], Component]
    is_of_person: bool


def address_of(address: str, person: int | None) -> str:
    """Return the address of a screen with the person it shows, by row number."""
    return address if person is None else f"{address}?person={person}"


def frame(screens: Sequence[Screen]) -> Component:
    """Return the frame around the screens."""
    links = [
        dcc.Link(each.title, href=each.address, id={"type": "way", "address": each.address})
        for each in screens
        if not each.is_of_person
    ]
    name = dcc.Link([Markup(BRAND), "gaittrack"], href="/", className="name")
    whole: Component = dmc.MantineProvider(
        id=ids.THEME_PROVIDER,
        theme=MANTINE_THEME,
        children=[
            dcc.Location(id=ids.ADDRESS, refresh="callback-nav"),
            dcc.Store(id=ids.CHOICE, storage_type="session", data={}),
            dcc.Store(id=ids.CHANGED, data=0),
            dcc.Store(id=ids.THEME, storage_type="local"),
            *saved_tables.places(),
            html.A("To the content", href="#main", className="skip"),
            html.Header(
                [
                    name,
                    html.Nav(links, **aria(label="Screens")),
                    html.Button("Dark", id=ids.THEME_BUTTON, className="quiet"),
                    *_way_out(),
                ]
            ),
            html.Div(id=ids.BANNER, className="banner"),
            html.Div(id=ids.MESSAGE, role="status", className="message"),
            html.Main(
                html.Div(coming("Opening"), id=ids.SCREEN),
                id="main",
                tabIndex=-1,
                className=_rights(),
            ),
            html.Footer(html.P(NOTICE), className="notice"),
        ],
    )
    return whole


def _rights() -> str:
    """Return what shows the controls that save, to who may."""
    who = g.get("visitor") if has_app_context() else None
    return "may-export" if who is not None and "export" in who.rights else ""


def _way_out() -> list[Component]:
    """Return the button to sign out, for who signed in."""
    session = g.get("session") if has_app_context() else None
    if session is None or session.user is None:
        return []
    button = html.Button(f"Sign out {session.visitor.name}", type="submit")
    return [html.Form(button, action=SIGN_OUT, method="POST")]


def say(text: str, *, is_error: bool = False) -> None:
    """Show a message above the screen; call it inside a callback.

    Parameters
    ----------
    text : str
        Empty clears it.
    """
    kind = "message error" if is_error else "message"
    set_props(ids.MESSAGE, {"children": text, "className": kind})


def tell(error: Exception) -> Any:
    """Say what went wrong in a callback; what was not foreseen goes to the log without names."""
    if isinstance(error, NotSentError):
        log_event("refused, nothing that a screen sends", visitor().name)
    say(str(error) if isinstance(error, GaitTrackError) else noted(error), is_error=True)
    return nothing_new(ctx.outputs_list)


def register(app: Dash, study: Study, screens: Sequence[Screen]) -> None:
    """Register the callbacks of the frame."""
    known = {each.address: each for each in screens}
    keeper = keeper_of(app.server, study)

    @app.callback(
        Output(ids.SCREEN, "children"),
        Output({"type": "way", "address": ALL}, "className"),
        Input(ids.ADDRESS, "pathname"),
        State({"type": "way", "address": ALL}, "id"),
    )
    def show_screen(pathname: str, ways: list[dict[str, str]]) -> tuple[Component, list[str]]:
        require("view")
        say("")
        marks = ["here" if way["address"] == pathname else "" for way in ways]
        if pathname not in known:
            nothing = [html.H1("No such screen"), html.P("Choose one above.")]
            return html.Div(nothing), marks
        return known[pathname].layout(study), marks

    @app.callback(
        Output(ids.BANNER, "children"),
        Input(ids.CHOICE, "data"),
        Input(ids.CHANGED, "data"),
        Input(ids.ADDRESS, "pathname"),
    )
    def show_chosen(choice: dict[str, int] | None, _changed: int, pathname: str) -> list[Any]:
        require("view")
        keeper.poke()
        screen = known.get(pathname)
        if screen is None or not screen.is_of_person:
            return []
        person = (choice or {}).get("person")
        note_look(study, person)
        return banner(study, person, [each for each in screens if each.is_of_person], pathname)

    saved_tables.register(app)
    _register_in_browser(app, screens)


def _register_in_browser(app: Dash, screens: Sequence[Screen]) -> None:
    titles = json.dumps({each.address: each.title for each in screens})
    app.clientside_callback(
        _TAKE_ADDRESS.replace("TITLES", titles),
        Output(ids.CHOICE, "data"),
        Input(ids.ADDRESS, "pathname"),
        Input(ids.ADDRESS, "search"),
        State(ids.CHOICE, "data"),
    )
    app.clientside_callback(
        _SET_THEME,
        Output(ids.THEME, "data"),
        Output(ids.THEME_PROVIDER, "forceColorScheme"),
        Output(ids.THEME_BUTTON, "children"),
        Input(ids.THEME_BUTTON, "n_clicks"),
        State(ids.THEME, "data"),
    )


def note_look(study: Study, person: int | None) -> None:
    """Note in the history that somebody who signed in looks at a person, once per session.

    Parameters
    ----------
    person : int or None
        Row number.
    """
    session = g.get("session")
    if person is None or session is None or session.user is None or person in session.looked_at:
        return
    with study.write() as connection:
        code = code_of(connection, person)
        if code is not None:
            record(connection, "look at person", who=session.visitor.name, person=code)
            session.looked_at.add(person)


def banner(
    study: Study, person: int | None, screens: Sequence[Screen] = (), here: str = ""
) -> list[Any]:
    """Return who is chosen, so that nobody reads one person's numbers as another's, and the tabs.

    Parameters
    ----------
    screens : sequence of Screen
        Of a person.
    here : str
        Address of the one that is open.
    """
    if person is None:
        return [html.Span(["Nobody is chosen: ", dcc.Link("choose a person", href="/")])]
    found = facts_of_person(study, person)
    if found is None:
        gone = "This person is not in the study: "
        return [html.Span([gone, dcc.Link("choose", href="/")])]
    tabs = [
        dcc.Link(
            each.title,
            href=address_of(each.address, person),
            className="here" if each.address == here else "",
        )
        for each in screens
    ]
    lines = [html.Div(line) for line in _about(found) if line]
    return [
        html.Strong(found.code, className="code"),
        html.Div(lines, className="facts"),
        html.Nav(tabs, **aria(label="Of this person")),
    ]


def _about(person: PersonFacts) -> Iterator[list[Any]]:
    """Yield two lines: what is treated; whom, and since when."""
    side = person.facts["affected_side"]
    sides = [html.B(side), " sides affected" if side == "both" else " side affected"]
    yield _joined([[html.B(person.facts["cause"])], sides if side else [None]])
    newest = person.visits[-1].facts if person.visits else {}
    months = newest.get("months_since_onset")
    since = None if months is None else f"{_long(months)} since onset"
    told = (person.facts["sex"], newest.get("age_band"))
    whom = ", ".join(value_words(each) for each in told if each)
    yield _joined([[whom or None], [since]])


def _long(months: float) -> str:
    """Return a time in months, from two years on in whole years."""
    return f"{months:g} months" if months < _MOST_MONTHS else f"{months // 12:g} years"


def _joined(parts: Sequence[list[Any]]) -> list[Any]:
    known = [part for part in parts if getattr(part[0], "children", part[0])]
    return [piece for part in known for piece in (" · ", *part)][1:]

"""What stands around every screen: name, ways to the screens, who is chosen, messages, the notice.

In come the screens, out comes the frame they are shown in. The address says which screen, never
who; the chosen person, visit and trial are row numbers in a store of the browser tab, so that two
tabs can look at two people and neither acts on the other's.
"""

from __future__ import annotations

import logging
from typing import Any, Final

import dash_mantine_components as dmc
from dash import ALL, Dash, Input, Output, State, dcc, html, set_props
from dash.development.base_component import Component
from flask import g, has_app_context
from sqlalchemy import select

from dashboards.parts import ids
from dashboards.parts.controls import aria
from dashboards.shell.access import require
from dashboards.shell.doors import place_of
from dashboards.shell.plain_pages import REFUSALS
from dashboards.shell.sign_in import SIGN_OUT
from gaittrack.errors import GaitTrackError
from gaittrack.notice import NOTICE
from gaittrack.study.history import record
from gaittrack.study.people.documents import unfolded
from gaittrack.study.people.enrolled import code_of
from gaittrack.study.store import Study
from gaittrack.study.tables import PERSON

LOG: Final = logging.getLogger("gaittrack.dashboard")
MANTINE_THEME: Final = {
    "autoContrast": True,
    "primaryColor": "dark",
    "primaryShade": 6,
    "fontFamily": "inherit",
    "defaultRadius": "sm",
    "components": {"Combobox": {"defaultProps": {"keepMounted": False}}},
}
"""A list of options is made when it opens: each is in the way of the browser otherwise."""
_SET_THEME: Final = """
function(n, stored) {
  const dark = window.matchMedia('(prefers-color-scheme: dark)').matches;
  let theme = stored || (dark ? 'dark' : 'light');
  if (n) { theme = theme === 'dark' ? 'light' : 'dark'; }
  document.documentElement.dataset.theme = theme;
  document.body.dataset.agThemeMode = theme;
  return [n ? theme : window.dash_clientside.no_update, theme,
          theme === 'dark' ? 'Light' : 'Dark'];
}
"""


def frame(ways: list[tuple[str, str]]) -> Component:
    """Return the frame.

    Parameters
    ----------
    ways : list of (address, name)
        One per screen.
    """
    links = [
        dcc.Link(name, href=address, id={"type": "way", "address": address})
        for address, name in ways
    ]
    whole: Component = dmc.MantineProvider(
        id=ids.THEME_PROVIDER,
        theme=MANTINE_THEME,
        children=[
            dcc.Location(id=ids.ADDRESS, refresh="callback-nav"),
            dcc.Store(id=ids.CHOICE, storage_type="session", data={}),
            dcc.Store(id=ids.CHANGED, data=0),
            dcc.Store(id=ids.THEME, storage_type="local"),
            html.A("To the content", href="#main", className="skip"),
            html.Header(
                [
                    html.Span("gaittrack", className="name"),
                    html.Nav(links, **aria(label="Screens")),
                    html.Button("Dark", id=ids.THEME_BUTTON, className="quiet"),
                    *_way_out(),
                ]
            ),
            html.Div(id=ids.BANNER, className="banner"),
            html.Div(id=ids.MESSAGE, role="status", className="message"),
            html.Main(html.Div(id=ids.SCREEN), id="main", tabIndex=-1),
            html.Footer(html.P(NOTICE), className="notice"),
        ],
    )
    return whole


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


def tell(error: Exception) -> None:
    """Say what went wrong in a callback; what was not foreseen goes to the log without names."""
    if isinstance(error, GaitTrackError):
        say(str(error), is_error=True)
        return
    LOG.error("unforeseen %s in %s", type(error).__name__, place_of(error))
    say(REFUSALS[500], is_error=True)


def register(app: Dash, study: Study, layouts: dict[str, Any]) -> None:
    """Register the callbacks of the frame."""

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
        if pathname not in layouts:
            nothing = [html.H1("No such screen"), html.P("Choose one above.")]
            return html.Div(nothing), marks
        return layouts[pathname](study), marks

    @app.callback(
        Output(ids.BANNER, "children"), Input(ids.CHOICE, "data"), Input(ids.CHANGED, "data")
    )
    def show_chosen(choice: dict[str, int] | None, _changed: int) -> list[Any]:
        require("view")
        person = (choice or {}).get("person")
        note_look(study, person)
        return banner(study, person)

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


def banner(study: Study, person: int | None) -> list[Any]:
    """Return who is chosen, so that nobody reads one person's numbers as another's."""
    if person is None:
        return ["Nobody is chosen: ", dcc.Link("choose a person", href="/")]
    with study.read() as connection:
        found = connection.execute(select(PERSON).where(PERSON.c.id == person)).mappings().first()
    if found is None:
        return ["The chosen person is no longer in the study: ", dcc.Link("choose", href="/")]
    row = unfolded("person", found)
    side = row["affected_side"]
    facts = [
        row["sex"],
        row["cause"],
        side and ("both sides" if side == "both" else f"{side} side"),
    ]
    return [html.Strong(row["code"]), *(f" · {fact}" for fact in facts if fact)]

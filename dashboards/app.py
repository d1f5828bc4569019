"""The dashboard as a whole: a study in, a Dash app out.

Screens are functions ``layout(study)`` and ``register(app, study)``; they stand in ``SCREENS`` in
the order of the menu. Nothing is loaded or registered at import, so that any number of apps can
live in one process.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

from dash import Dash

from dashboards.add_walks import screen as add_walks
from dashboards.cohort import screen as cohort
from dashboards.compare import screen as compare
from dashboards.for_the_person import screen as for_the_person
from dashboards.laboratory import screen as laboratory
from dashboards.overview import screen as overview
from dashboards.parts.dash_private import LeanDash
from dashboards.people import screen as people
from dashboards.shell import bars, guide_page, made_up
from dashboards.shell.access import AskingStudy
from dashboards.shell.doors import hang
from dashboards.shell.place import Doors
from dashboards.walks import screen as walks
from gaittrack.report.html_parts import look
from gaittrack.report.person_html import STYLE
from gaittrack.study.store import Study

SCREENS: Final = (
    ("/", "People", people),
    ("/cohort", "Cohort", cohort),
    ("/add-walks", "Add walks", add_walks),
    ("/laboratory", "Laboratory", laboratory),
    ("/overview", "Overview", overview),
    ("/walks", "Walks", walks),
    ("/compare", "Compare", compare),
    ("/for-the-person", "For the person", for_the_person),
)
"""Address, name and module of every screen."""
OF_A_PERSON: Final = frozenset({"/overview", "/walks", "/compare", "/for-the-person"})
"""Addresses of screens that show who is chosen."""


def build_app(study: Study, doors: Doors) -> Dash:
    """Make the app.

    Returns
    -------
    Dash
        ``app.server`` is what a runner serves.
    """
    app = LeanDash(
        __name__,
        title="gaittrack",
        update_title="",
        assets_folder=str(Path(__file__).parent / "assets"),
        include_pages_meta=False,
        suppress_callback_exceptions=True,
        on_error=bars.tell,
    )
    app.index_string = app.index_string.replace("<html>", '<html lang="en">')
    style = look("board.css", "several.css", "panels.css", "cohort_changes.css", STYLE)
    app.index_string = app.index_string.replace("</head>", f"<style>{style}</style></head>")
    screens = [
        bars.Screen(address, name, screen.layout, address in OF_A_PERSON)
        for address, name, screen in SCREENS
    ]
    app.layout = lambda: bars.frame(screens)
    bars.register(app, study, screens)
    for _, _, screen in SCREENS:
        screen.register(app, AskingStudy(study.folder, study.engine))
    hang(app.server, doors, study, app.csp_hashes())
    made_up.register(app.server)
    guide_page.register(app.server, study)
    return app

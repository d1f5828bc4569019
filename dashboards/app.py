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
from dashboards.parts.dash_private import LeanDash
from dashboards.people import screen as people
from dashboards.progress import screen as progress
from dashboards.shell import bars
from dashboards.shell.doors import hang
from dashboards.shell.place import Doors
from dashboards.walks import screen as walks
from gaittrack.report.answer_board import board_style
from gaittrack.report.html_parts import template
from gaittrack.report.person_html import STYLE
from gaittrack.study.store import Study

SCREENS: Final = (
    ("/", "People", people),
    ("/add-walks", "Add walks", add_walks),
    ("/walks", "Walks", walks),
    ("/compare", "Compare", compare),
    ("/progress", "Progress", progress),
    ("/for-the-person", "For the person", for_the_person),
    ("/cohort", "Cohort", cohort),
)
"""Address, name and module of every screen."""


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
    style = f"<style>{board_style()}{template(STYLE)}</style></head>"
    app.index_string = app.index_string.replace("</head>", style)
    app.layout = lambda: bars.frame([(address, name) for address, name, _ in SCREENS])
    bars.register(app, study, {address: screen.layout for address, _, screen in SCREENS})
    for _, _, screen in SCREENS:
        screen.register(app, study)
    hang(app.server, doors, study, app.csp_hashes())
    return app

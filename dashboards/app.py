"""The dashboard as a whole: a study in, a Dash app out.

Screens are functions ``layout(study)`` and ``register(app, study)``; they stand in ``SCREENS`` in
the order of the menu. Nothing is loaded or registered at import, so that any number of apps can
live in one process.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

from dash import Dash

from dashboards import add_walks, cohort, compare, for_the_person, people, progress, shell, walks
from dashboards.doors import hang
from dashboards.place import Doors
from dashboards.scripts import LeanDash
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

    Parameters
    ----------
    study : Study
    doors : Doors

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
        on_error=shell.tell,
    )
    app.index_string = app.index_string.replace("<html>", '<html lang="en">')
    app.layout = lambda: shell.frame([(address, name) for address, name, _ in SCREENS])
    shell.register(app, study, {address: screen.layout for address, _, screen in SCREENS})
    for _, _, screen in SCREENS:
        screen.register(app, study)
    hang(app.server, doors, study, app.csp_hashes())
    return app

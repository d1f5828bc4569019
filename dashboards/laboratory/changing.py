"""What every change on the screen Laboratory takes and says: a reason, and what is stale then."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from dash import Dash, Input, Output, State, no_update

from dashboards.parts import ids
from dashboards.shell.access import require
from dashboards.shell.bars import say
from gaittrack.compare.row_words import count_words
from gaittrack.errors import StudyError
from gaittrack.study.results.keeping import stale_trials
from gaittrack.study.store import Study

WHY: Final = "laboratory-why"
"""The field for the reason."""


def register_change(app: Dash, pressed: Input, act: Callable[..., str], *given: State) -> None:
    """Register what a press changes for the whole laboratory.

    Parameters
    ----------
    act : callable
        Takes what was pressed, ``given``, and by keyword ``who`` and ``why``; returns what to say.
    """

    @app.callback(
        Output(ids.CHANGED, "data", allow_duplicate=True),
        pressed,
        State(WHY, "value"),
        State(ids.CHANGED, "data"),
        *given,
        prevent_initial_call=True,
    )
    def change(press: Any, why: str | None, changed: int, *values: Any) -> object:
        visitor = require("administer" if press else "view")
        if not press:
            return no_update
        say(act(press, *values, who=visitor.name, why=reason_of(why)))
        return changed + 1


def reason_of(typed: str | None) -> str:
    """Return the reason that was typed.

    Raises
    ------
    StudyError
        There is none.
    """
    if not (typed or "").strip():
        raise StudyError.of("reason_missing", where="Why")
    return str(typed).strip()


def stale_words(study: Study) -> str:
    """Return how many results do not hold any more, and what to do; compared are they by itself."""
    n = len(stale_trials(study))
    if not n:
        return "No result is stale; what was compared is compared anew by itself."
    return f"{count_words(n, 'result')} stale: press “Measure stale results again” on People."

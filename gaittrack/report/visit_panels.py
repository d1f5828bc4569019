"""A person over the visits as HTML: the visits as a line in time, and a panel for each question.

In come answers of visits, out comes HTML for screens and pages: ``templates/panels.html``, its
style ``panels.css``.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from markupsafe import Markup

from gaittrack.figures.visit_panels import Panel, visit_places
from gaittrack.report.html_parts import drawn
from gaittrack.study.results.visit_answers import VisitAnswer

_NEAREST: Final = 18.0
"""Per cent between two visits that their words need."""


def visit_line_html(told: Sequence[VisitAnswer]) -> Markup:
    """Return the visits as a line in time, the newest filled."""
    places = visit_places(told, nearest=_NEAREST)
    return drawn("panels.visit_line", list(map(_visit, told, places)))


def _visit(told: VisitAnswer, at: float) -> dict[str, Any]:
    facts = told.visit.facts
    days = facts["days_since_first_visit"]
    when = [facts["kind"], None if days is None else f"day {days:g}", facts["date"]]
    return {
        "at": at,
        "code": told.visit.code,
        "walked": " · ".join(f"{n} {name}" for name, n in told.n_walks.items())
        or "no walk measured",
        "is_examined": told.visit.is_examined,
        "when": " · ".join(filter(None, when)),
    }


def panels_html(panels: Sequence[Panel]) -> Markup:
    """Return the panels, with the key of their lines."""
    return drawn("panels.visits", panels)

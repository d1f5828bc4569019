"""Facts of a person's visits as several screens show them: one table, one column per visit.

In come facts as they are stored, out come components. Nothing is judged; what nobody recorded is
named below the table.
"""

from __future__ import annotations

from collections.abc import Sequence

from dash import dcc, html
from dash.development.base_component import Component

from dashboards.parts.controls import table
from gaittrack.record.visit_facts import VisitFacts, notes_below, visit_table


def visit_facts(visits: Sequence[VisitFacts], names: Sequence[str], what: str) -> list[Component]:
    """Return what is recorded at visits.

    Parameters
    ----------
    visits : sequence of VisitFacts
        In the order of time.
    names : sequence of str
        Columns, such as ``facts.EXAMINATION``.
    what : str
        What it is called: the caption.
    """
    told, untold = visit_table(visits, names)
    if not told:
        where = dcc.Link("the screen Overview", href="/overview")
        words = f"{what}: nothing recorded. It can be filled in on "
        return [html.P([words, where, "."], className="soft")]
    notes = [html.P(note, className="soft") for note in notes_below(told, untold)]
    return [table(["", *(v.code for v in visits)], told, caption=what), *notes]

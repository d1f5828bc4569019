"""What a screen shows in place of its content: what could not be done, and the shape of what comes.

In come words and ways on, out come components in one look for all screens.
"""

from __future__ import annotations

from collections.abc import Sequence

from dash import html
from dash.development.base_component import Component
from markupsafe import Markup as SafeText

from dashboards.parts.dash_private import Markup

_SIGN = SafeText(
    '<svg viewBox="0 0 24 24" aria-hidden="true"><circle cx="12" cy="12" r="9"/>'
    '<path d="M12 7v6"/><path d="M12 16v1"/></svg>'
)


def could_not(
    title: str, words: Sequence[Component | str], ways: Sequence[Component], kept: str
) -> Component:
    """Return what could not be done, with the nearest ways on.

    Parameters
    ----------
    title : str
        What could not be done.
    words : sequence
        Which file, and why.
    ways : sequence of Component
        Links or buttons; the first is the nearest.
    kept : str
        That nothing was lost.
    """
    parts = [
        html.H2([Markup(_SIGN), title]),
        html.P(list(words)),
        html.Div(list(ways), className="row ways no-print"),
        html.P(kept, className="soft"),
    ]
    return html.Section(parts, className="card could-not", role="alert")


def coming(words: str) -> Component:
    """Return the shape of rows that come, under a line that says what is waited for.

    Parameters
    ----------
    words : str
        With a count, where there is one: ``Measuring 8 walks: 5 done``.
    """
    row = html.Div([html.I() for _ in range(4)])
    return html.Div(
        [html.P(words, role="status"), html.Div([row] * 4, className="card")],
        className="coming",
    )

"""Small pieces that several screens use: graphs without outside buttons, tables, empty states."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from dash import dcc, html
from dash.development.base_component import Component

from dashboards.markup import Markup
from gaittrack.figures.condition_styles import Figure
from gaittrack.report.svg_chart import draw_svg

GRAPH_CONFIG: Final[dict[str, Any]] = {
    "displaylogo": False,
    "showSendToCloud": False,
    "modeBarButtonsToRemove": ["select2d", "lasso2d", "autoScale2d"],
    "responsive": True,
}
"""For every graph: no button may offer to send data away."""


def graph(
    name: str | dict[str, str],
    figure: Figure,
    *,
    caption: str,
    height_px: int = 320,
    **config: Any,
) -> Component:
    """Return a graph inside a figure whose caption says in words what it shows.

    Parameters
    ----------
    name : str or dict
        Id of the graph.
    figure : dict
        From :mod:`gaittrack.figures`.
    caption : str
    height_px : int, default 320
    **config
        Added to :data:`GRAPH_CONFIG`.

    Returns
    -------
    Component
    """
    options: Any = GRAPH_CONFIG | config
    drawn = dcc.Graph(id=name, figure=figure, config=options, style={"height": f"{height_px}px"})
    return html.Figure([drawn, html.Figcaption(caption)])


def picture(
    figure: Figure, *, caption: str, width_px: float = 480.0, height_px: float = 280.0
) -> Component:
    """Return a figure that only shows, with its title and a caption: at once, and on paper as here.

    Parameters
    ----------
    figure : dict
        From :mod:`gaittrack.figures`.
    caption : str
    width_px, height_px : float
        Of the drawing before it is fitted to its place.

    Returns
    -------
    Component
    """
    title = figure["layout"]["title"]["text"]
    drawn = draw_svg(figure, label=title, width=width_px, height=height_px, with_key=True)
    head = html.Strong(title)
    return html.Figure([head, Markup(drawn), html.Figcaption(caption)], className="picture")


def table(
    heads: Sequence[str],
    rows: Sequence[Sequence[Any]],
    *,
    caption: str,
    numbers: Sequence[int] = (),
) -> Component:
    """Return a table that becomes one card per row on a phone.

    Parameters
    ----------
    heads : sequence of str
    rows : sequence of sequences
        Texts or components, one per head.
    caption : str
    numbers : sequence of int
        Columns to align as numbers.

    Returns
    -------
    Component
    """
    kinds = ["number" if place in numbers else "" for place in range(len(heads))]
    head = html.Tr(
        [html.Th(text, scope="col", className=k) for text, k in zip(heads, kinds, strict=True)]
    )
    body = [
        html.Tr(
            [
                html.Td(cell, className=kind, **data(head=text))
                for cell, kind, text in zip(row, kinds, heads, strict=True)
            ]
        )
        for row in rows
    ]
    parts = [html.Caption(caption), html.Thead(head), html.Tbody(body)]
    return html.Div(html.Table(parts, className="stack"), className="wide")


def data(**values: str) -> dict[str, Any]:
    """Return ``data-…`` attributes for a component."""
    return {f"data-{name}": value for name, value in values.items()}


def aria(**values: str) -> dict[str, Any]:
    """Return ``aria-…`` attributes for a component."""
    return {f"aria-{name}": value for name, value in values.items()}


def choose_first(what: str = "a person") -> Component:
    """Return what a screen shows until something is chosen."""
    return html.P(["Choose ", what, " on the screen ", dcc.Link("People", href="/"), "."])

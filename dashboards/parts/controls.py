"""Small pieces that several screens use: graphs without outside buttons, tables, empty states."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from typing import Any, Final

import dash_mantine_components as dmc
import numpy as np
from dash import dcc, html
from dash.development.base_component import Component
from markupsafe import Markup as SafeText

from dashboards.parts.dash_private import Markup
from dashboards.parts.markup import drawn, html_of
from dashboards.parts.saving import PICTURE, TABLE, save_menu
from gaittrack.figures.condition_styles import Figure
from gaittrack.figures.plain_numbers import with_minus
from gaittrack.report.svg_chart import draw_svg, frame_of
from gaittrack.report.svg_marks import Frame

GRAPH_CONFIG: Final[dict[str, Any]] = {
    "displaylogo": False,
    "showSendToCloud": False,
    "modeBarButtonsToRemove": ["select2d", "lasso2d", "autoScale2d"],
    "responsive": True,
}
"""For every graph: no button may offer to send data away."""
_PICTURE_PX: Final = 480.0


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
    **config
        Added to :data:`GRAPH_CONFIG`.
    """
    options: Any = GRAPH_CONFIG | config
    drawn = dcc.Graph(
        id=name, figure=_sent(figure), config=options, style={"height": f"{height_px}px"}
    )
    menu = save_menu(caption.partition(",")[0], PICTURE)
    return html.Figure([menu, drawn, html.Figcaption(caption)], className="savable")


def _sent(figure: Figure) -> Figure:
    """Return a figure with arrays of numbers: lists are looked at number by number when sent."""
    return figure | {"data": [trace | dict(_arrays(trace)) for trace in figure["data"]]}


def _arrays(trace: Figure) -> Iterator[tuple[str, Any]]:
    for name in ("x", "y"):
        if name in trace and str not in set(map(type, trace[name])):
            yield name, np.asarray(trace[name], dtype=float)  # a gap is NaN, and null when sent


def picture(
    figure: Figure,
    *,
    caption: str,
    height_px: float = 280.0,
    reads: str = "",
) -> Component:
    """Return a figure that only shows, with its title and a caption: at once, and on paper as here.

    Parameters
    ----------
    figure : dict
        From :mod:`gaittrack.figures`.
    height_px : float
        Of the drawing before it is fitted to its place; it is 480 wide.
    reads : str
        Unit across; given, the pointer reads the lines (``assets/reading.js``).
    """
    title, counts = figure["layout"]["title"], ""
    if "subtitle" in title:
        counts = title["subtitle"]["text"]
    size = {"width": _PICTURE_PX, "height": height_px}
    key = figure["layout"].get("showlegend", False)
    label = f"{title['text']} {counts}".strip()
    svg = draw_svg(figure, label=label, with_key=key, **size)
    frame = frame_of(figure, **size)
    reading = data(frame=json.dumps(places_of(frame)), reads=reads) if reads else {}
    menu = save_menu(title["text"], PICTURE)
    parts = [menu, html.Strong(title["text"]), html.Small(counts), Markup(svg)]
    return html.Figure([*parts, html.Figcaption(caption)], className="picture savable", **reading)


def places_of(frame: Frame) -> tuple[float, ...]:
    """Return where data lie on a drawing, as scripts of ``assets`` take it: across, then up."""
    across = (*frame.x_range, frame.left, frame.width)
    return (*across, *frame.y_range, frame.top, frame.height)


def table(
    heads: Sequence[str],
    rows: Sequence[Sequence[Any]],
    *,
    caption: str,
    numbers: Sequence[int] = (),
    saves_through: str = "",
) -> Component:
    """Return a table that becomes one card per row on a phone.

    Parameters
    ----------
    rows : sequence of sequences
        Texts or components, one per head.
    numbers : sequence of int
        Columns to align as numbers.
    saves_through : str
        As for :func:`save_menu`: not all rows are shown, and a file shall have them all.
    """
    kinds = ["number" if place in numbers else "" for place in range(len(heads))]
    told = [[_told(cell, kind) for cell, kind in zip(row, kinds, strict=True)] for row in rows]
    menu = save_menu(caption, TABLE, through=saves_through)
    if not any(None in row for row in told):
        columns = list(zip(heads, kinds, strict=True))
        starts = [_cell_start(kind, text) for text, kind in columns]
        return Markup(drawn("parts.table", menu.html, caption, columns, _rows(starts, told)))
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
    whole = html.Div(html.Table(parts, className="stack"), className="wide")
    return html.Div([menu, whole], className="savable")


def _told(cell: Any, kind: str) -> SafeText | None:
    """Return a cell as HTML, a number with its own sign; None for one with a component inside."""
    found = html_of(cell)
    return SafeText(with_minus(found)) if found and kind else found


@lru_cache(maxsize=512)
def _cell_start(kind: str, head: str) -> SafeText:
    return drawn("parts.cell_start", kind, head)


def _rows(starts: Sequence[str], told: Sequence[Sequence[str | None]]) -> SafeText:
    """Return rows of ready cells, joined as plain text: a template takes ten times as long."""
    lines = (
        "</td>".join(f"{start}{cell}" for start, cell in zip(starts, row, strict=True))
        for row in told
    )
    body = "".join(f"<tr>{line}</td></tr>" for line in lines)
    return SafeText(body)


def data(**values: str) -> dict[str, Any]:
    """Return ``data-…`` attributes for a component."""
    return {f"data-{name}": value for name, value in values.items()}


def aria(**values: str) -> dict[str, Any]:
    """Return ``aria-…`` attributes for a component."""
    return {f"aria-{name}": value for name, value in values.items()}


def choice(name: Any, label: str, data: Sequence[Any], value: Any = None, **more: Any) -> Component:
    """Return a field to choose one of several with; something is always chosen.

    Parameters
    ----------
    name : str or dict
        Id of the field.
    data : sequence
        Words, or their values and labels.
    """
    made: Component = dmc.Select(
        id=name, label=label or None, data=data, value=value, allowDeselect=False, **more
    )
    return made


def labelled(words: Mapping[Any, str]) -> list[dict[str, str]]:
    """Return what a field offers, from values and what they are called."""
    return [{"value": value, "label": label} for value, label in words.items()]


def folded(title: Any, *parts: Any, **more: Any) -> Component:
    """Return parts that are folded away under a title."""
    return html.Details([html.Summary(title), *parts], **more)


def made_when_opened(name: str, title: str, about: str, *parts: Component) -> Component:
    """Return a folded part that a callback fills once it is opened, see :func:`is_open`.

    Parameters
    ----------
    name : str
        Id of what is filled; that of the title ends in ``-open``.
    parts : Component
        Stand above it, whatever it is filled with.
    """
    head: list[Component | str] = [f"{title} ", html.Small(about)]
    summary = html.Summary(head, id=f"{name}-open")
    return html.Details([summary, *parts, html.Div(id=name)], className="card no-print")


def is_open(n_clicks: int | None) -> bool:
    """Tell from the clicks on the title whether a part is open."""
    return bool((n_clicks or 0) % 2)


def progress(words: str, n_done: int, n_all: int) -> list[Component]:
    """Return a bar with the words that say how far something is."""
    bar = html.Progress(value=str(n_done), max=str(max(n_all, 1)), **aria(label=words))
    return [bar, html.Span(f" {words}")]


def choose_first() -> Component:
    """Return what a screen shows until a person is chosen."""
    return html.P(["Choose a person on the screen ", dcc.Link("People", href="/"), "."])

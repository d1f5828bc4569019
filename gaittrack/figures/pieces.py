"""Pieces that figures are made of: axes, lines, filled outlines, upright lines.

In come numbers and looks, out come plain values in plotly's form. Whatever else a piece is given is
added to it as it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from gaittrack.figures.condition_styles import Figure, Style

INK: Final = "#171B20"
"""What has no colour of its own; screens draw it in the colour of their text, by night too."""
ACCENT: Final = "#43349B"
"""What a person is asked about; screens turn it lighter by night."""
TO_SCALE: Final[Figure] = {"scaleanchor": "x", "scaleratio": 1, "zeroline": True}
"""Of an upward axis with the scale of the one across."""


def axis(title: str, **more: Any) -> Figure:
    """Return an axis with a title."""
    return {"title": {"text": title}, **more}


def line(x: Sequence[Any], y: Sequence[Any], style: Style, width: float, **more: Any) -> Figure:
    """Return a line; it breaks where a number is None.

    Parameters
    ----------
    width : float
        Pixels.
    """
    look = {"color": style.colour, "dash": style.dash, "width": width}
    return {"type": "scatter", "mode": "lines", "x": x, "y": y, "line": look, **more}


def outline(x: Sequence[Any], y: Sequence[Any], fill: str, **more: Any) -> Figure:
    """Return a filled outline that says nothing to the pointer."""
    filled = {"fill": "toself", "fillcolor": fill, "line": {"width": 0}, "hoverinfo": "skip"}
    return {"type": "scatter", "mode": "lines", "x": x, "y": y, **filled, **more}


def upright(x: float, look: Figure, **more: Any) -> Figure:
    """Return a line from the foot to the head of a panel."""
    return {"type": "line", **_over(x, x, (0, 1)), "line": look, **more}


def box(x0: float, x1: float, heights: tuple[float, float], fill: str, name: str) -> Figure:
    """Return a filled box behind the data; heights are shares of the panel."""
    look = {"line": {"width": 0}, "layer": "below", "fillcolor": fill, "name": name}
    return {"type": "rect", **_over(x0, x1, heights), **look}


def _over(x0: float, x1: float, heights: tuple[float, float]) -> Figure:
    low, high = heights
    return {"xref": "x", "yref": "paper", "x0": x0, "x1": x1, "y0": low, "y1": high}

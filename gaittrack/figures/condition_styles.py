"""How each condition is drawn: colour and line, the same on every figure.

In come names of conditions, out come their styles. Colours are an open palette that colour-blind
people can tell apart (Okabe and Ito 2008); the line differs too, and a label always stands beside.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final

from gaittrack.compare.comparison import Comparison

Figure = dict[str, Any]
"""A plotly figure as plain values: ``data``, ``layout`` and perhaps ``frames``."""


@dataclass(frozen=True, slots=True)
class Style:
    """How one condition is drawn.

    Attributes
    ----------
    colour : str
        ``#rrggbb``.
    dash : str
        ``solid``, ``dash``, ``dot``, ``dashdot`` or ``longdash``.
    """

    colour: str
    dash: str

    def clear(self, opacity: float) -> str:
        """Return the colour with an opacity, as ``rgba(…)``."""
        red, green, blue = (int(self.colour[i : i + 2], 16) for i in (1, 3, 5))
        return f"rgba({red},{green},{blue},{opacity:g})"


REFERENCE_STYLE: Final = Style("#D55E00", "dash")
OTHER_STYLES: Final = (
    Style("#0072B2", "solid"),
    Style("#009E73", "dot"),
    Style("#CC79A7", "dashdot"),
    Style("#56B4E9", "longdash"),
)


def condition_styles(names: Iterable[str], reference: str) -> dict[str, Style]:
    """Return the style of every condition.

    Parameters
    ----------
    reference : str
        Drawn in the style of walking without a brace.

    Returns
    -------
    dict of name to Style
        Beyond four other conditions the styles begin again.
    """
    others = [name for name in dict.fromkeys(names) if name != reference]
    styles = {reference: REFERENCE_STYLE}
    for number, name in enumerate(others):
        styles[name] = OTHER_STYLES[number % len(OTHER_STYLES)]
    return styles


def styles_of(comparison: Comparison) -> dict[str, Style]:
    """Return the style of every condition of a comparison, drawn or not, for all its figures."""
    return condition_styles(comparison.settings["conditions"], comparison.settings["reference"])


UNDER_TWO_LINES: Final = {"l": 56, "r": 12, "t": 66, "b": 44}
"""Margin of a drawing with two lines above it."""


def plain_layout(**more: Any) -> Figure:
    """Return the layout that all figures share; colours of text and paper are the screen's."""
    return {
        "paper_bgcolor": "rgba(0,0,0,0)",
        "plot_bgcolor": "rgba(0,0,0,0)",
        "margin": {"l": 56, "r": 12, "t": 44, "b": 44},
        "hovermode": "closest",
        **more,
    }

"""Pieces of a figure as SVG: lines, texts, points with their intervals, the key.

In come plain values and where they lie on the drawing, out come SVG elements. Every text in a
drawing is escaped here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from markupsafe import Markup, escape

Figure = dict[str, Any]

_DASHES: Final = {"dash": "7 4", "dot": "2 3", "dashdot": "7 3 2 3", "longdash": "12 4"}
_KEY_LINE_PX, _KEY_ROW_PX, _KEY_LETTER_PX = 26.0, 18.0, 7.0


@dataclass(frozen=True, slots=True)
class Frame:
    """Where data lie on the drawing.

    Attributes
    ----------
    left, top, width, height : float
        Of the area inside the axes, in pixels of the drawing.
    """

    x_range: tuple[float, float]
    y_range: tuple[float, float]
    left: float
    top: float
    width: float
    height: float

    def x(self, value: float) -> float:
        """Return where a value lies across."""
        low, high = self.x_range
        return round(self.left + (value - low) / (high - low) * self.width, 2)

    def y(self, value: float) -> float:
        """Return where a value lies from the top."""
        low, high = self.y_range
        return round(self.top + (high - value) / (high - low) * self.height, 2)


def picture(box: str, label: str, parts: Sequence[str], more: str = "") -> Markup:
    """Return a drawing with what it shows, for people who cannot see it.

    Parameters
    ----------
    box : str
        Its ``viewBox``.
    parts : sequence of str
        SVG.
    more : str
        Further attributes.
    """
    about = f'viewBox="{box}"{more} role="img" aria-label="{escape(label)}"'
    return Markup(f"<svg {about}>{''.join(parts)}</svg>")


def title(text: str) -> str:
    """Return what an element shows, as its title."""
    return f"<title>{escape(text)}</title>"


def key_of(traces: Sequence[Figure], left: float, width: float, top: float) -> tuple[str, float]:
    """Return a line with its name for each trace that has one, and the height it takes.

    Parameters
    ----------
    left, width, top : float
        Where it begins, and how wide the drawing is, in pixels of it.
    """
    shown = [trace for trace in traces if trace.get("showlegend", True)]
    parts, x, y = [], left, top + 8.0
    for trace in shown:
        room = _KEY_LINE_PX + 20 + _KEY_LETTER_PX * len(trace["name"])
        if x > left and x + room > width:
            x, y = left, y + _KEY_ROW_PX
        end = x + _KEY_LINE_PX
        parts.append(_sample(trace, x, end, y))
        parts.append(text_at(end + 5, y + 4, trace["name"], "start"))
        x += room
    return f'<g class="key">{"".join(parts)}</g>', y + 10 - top


def _sample(trace: Figure, start: float, end: float, y: float) -> str:
    if "line" in trace:
        return f'<path d="M{start:g} {y:g}H{end:g}" fill="none" {stroke(trace["line"])}/>'
    colour = trace["marker"]["color"]
    return f'<circle cx="{(start + end) / 2:g}" cy="{y:g}" r="5" fill="{colour}"/>'


def stroke(line: Figure) -> str:
    """Return colour, width and dashes of a line."""
    dash = dashes(line.get("dash", "solid"))
    broken = f' stroke-dasharray="{dash}"' if dash else ""
    return f'stroke="{line.get("color", "none")}" stroke-width="{line.get("width", 1):g}"{broken}'


def dashes(name: str) -> str:
    """Return the lengths of dashes and gaps of a kind of line; empty for a solid one."""
    return name.replace("px", "") if "px" in name else _DASHES.get(name, "")


def text_at(x: float, y: float, text: str, anchor: str = "start", more: str = "") -> str:
    """Return words at a place; ``anchor`` is their ``start``, ``middle`` or ``end``."""
    return f'<text x="{x:g}" y="{y:g}" text-anchor="{anchor}"{more}>{escape(text)}</text>'

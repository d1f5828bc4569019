"""A figure as inline SVG, for a page that needs no script and prints as it looks.

In comes a figure as plain values (lines, filled bands, points with error bars, boxes and lines
behind them), out comes SVG text. Text and axes take the colour of the page.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from typing import Final

from markupsafe import Markup

from gaittrack.figures.plain_numbers import with_minus
from gaittrack.report.svg_marks import Figure, Frame, key_of, picture, stroke, text_at, title

_LEFT, _RIGHT, _TOP, _BOTTOM = 52.0, 10.0, 8.0, 40.0
_TICKS: Final = 6


def draw_svg(
    figure: Figure,
    *,
    label: str,
    width: float = 430.0,
    height: float = 270.0,
    with_key: bool = False,
) -> Markup:
    """Return a figure as SVG.

    Parameters
    ----------
    label : str
        What it shows, for people who cannot see it.
    width, height : float
        Pixels; the height follows the data where both axes have one scale.
    with_key : bool, default False
        Say below which line is which.
    """
    frame, full_height = _frame(figure, width, height)
    key, key_height = key_of(figure["data"], _LEFT, width, full_height) if with_key else ("", 0.0)
    parts = [
        *(_shape(shape, frame) for shape in figure["layout"].get("shapes", ())),
        *_axes(figure["layout"], frame, full_height),
        *(part for trace in figure["data"] for part in _trace(trace, frame)),
        key,
    ]
    box = f"0 0 {width:g} {full_height + key_height:g}"
    return picture(box, label, parts, ' xmlns="http://www.w3.org/2000/svg"')


def points_text(trace: Figure, frame: Frame) -> str:
    """Return the points of a line without gaps, as SVG writes them."""
    pairs = zip(trace["x"], trace["y"], strict=True)
    known = [(x, y) for x, y in pairs if x is not None and y is not None]
    across, down = frame.across(x for x, _ in known), frame.down(y for _, y in known)
    return " ".join([f"{x:g},{y:g}" for x, y in zip(across, down, strict=True)])


def frame_of(figure: Figure, *, width: float = 430.0, height: float = 270.0) -> Frame:
    """Return where the data of a figure lie when it is drawn.

    Parameters
    ----------
    width, height : float
        As given to :func:`draw_svg`.
    """
    return _frame(figure, width, height)[0]


def _frame(figure: Figure, width: float, height: float) -> tuple[Frame, float]:
    layout = figure["layout"]
    x_range = _range(figure, "x")
    y_range = _range(figure, "y")
    inner_width = width - _LEFT - _RIGHT
    if "scaleanchor" in layout["yaxis"]:
        inner_height = inner_width * (y_range[1] - y_range[0]) / (x_range[1] - x_range[0])
    else:
        inner_height = height - _TOP - _BOTTOM
    frame = Frame(
        x_range=x_range,
        y_range=y_range,
        left=_LEFT,
        top=_TOP,
        width=inner_width,
        height=inner_height,
    )
    return frame, round(_TOP + inner_height + _BOTTOM, 1)


def _range(figure: Figure, axis: str) -> tuple[float, float]:
    given = figure["layout"][f"{axis}axis"].get("range")
    if given:
        return float(given[0]), float(given[1])
    values = [float(v) for trace in figure["data"] for v in _extent(trace, axis)]
    for shape in figure["layout"].get("shapes", ()):
        if shape[f"{axis}ref"] == axis:
            values += [float(shape[f"{axis}0"]), float(shape[f"{axis}1"])]
    if figure["layout"][f"{axis}axis"].get("zeroline"):
        values.append(0.0)
    low, high = (min(values), max(values)) if values else (0.0, 1.0)
    margin = 0.06 * (high - low) or 1.0
    return low - margin, high + margin


def _extent(trace: Figure, axis: str) -> Iterator[float]:
    """Yield the values a trace reaches to."""
    yield from (value for value in trace[axis] if value is not None)


def _shape(shape: Figure, frame: Frame) -> str:
    x0, x1 = frame.x(shape["x0"]), frame.x(shape["x1"])
    if shape["yref"] == "paper":
        y0, y1 = (frame.top + frame.height * (1 - shape[key]) for key in ("y0", "y1"))
    else:
        y0, y1 = frame.y(shape["y0"]), frame.y(shape["y1"])
    name = title(shape.get("name", ""))
    if shape["type"] == "line":
        look = stroke(shape["line"])
        return f'<line x1="{x0}" x2="{x1}" y1="{y0:g}" y2="{y1:g}" {look}>{name}</line>'
    return (
        f'<rect x="{min(x0, x1)}" y="{min(y0, y1):g}" width="{abs(x1 - x0):g}" '
        f'height="{abs(y1 - y0):g}" fill="{shape["fillcolor"]}">{name}</rect>'
    )


def _axes(layout: Figure, frame: Frame, full_height: float) -> Iterator[str]:
    bottom, right = frame.top + frame.height, frame.left + frame.width
    yield f'<g class="axis"><path d="M{frame.left:g} {frame.top:g}V{bottom:g}H{right:g}"/>'
    if layout["xaxis"].get("zeroline"):
        yield f'<path class="zero" d="M{frame.x(0)} {frame.top:g}V{bottom:g}"/>'
    if frame.y_range[0] < 0 < frame.y_range[1]:
        yield f'<path class="zero" d="M{frame.left:g} {frame.y(0)}H{right:g}"/>'
    yield from _x_labels(layout["xaxis"], frame)
    yield from _y_labels(frame)
    middle = frame.left + frame.width / 2
    yield text_at(middle, full_height - 6, layout["xaxis"]["title"]["text"], "middle")
    if words := layout["yaxis"]["title"]["text"]:
        height = frame.top + frame.height / 2
        turned = f' transform="rotate(-90 12 {height:g})"'
        yield text_at(12, height, words, "middle", turned)
    yield "</g>"


def _x_labels(axis: Figure, frame: Frame) -> Iterator[str]:
    for value in axis.get("tickvals") or ticks(*frame.x_range, step=axis.get("dtick")):
        below = frame.top + frame.height + 14
        yield text_at(frame.x(value), below, _tick(value), "middle")


def _y_labels(frame: Frame) -> Iterator[str]:
    most = max(2, int(frame.height / 28))
    for value in ticks(*frame.y_range, most=min(_TICKS, most)):
        yield text_at(frame.left - 5, frame.y(value) + 4, _tick(value), "end")


def ticks(low: float, high: float, *, step: float | None = None, most: int = _TICKS) -> list[float]:
    """Return round numbers within a range.

    Parameters
    ----------
    step : float, optional
        Distance between them; chosen when not given.
    most : int
        About how many there may be.
    """
    if step is None:
        rough = (high - low) / most
        power = 10.0 ** math.floor(math.log10(rough))
        step = next(power * factor for factor in (1, 2, 5, 10) if power * factor >= rough)
    first = math.ceil(low / step - 1e-9)
    last = math.floor(high / step + 1e-9)
    return [number * step for number in range(first, last + 1)]


def _tick(value: float) -> str:
    return with_minus(f"{value:.6g}") if abs(value) > 1e-9 else "0"


def _trace(trace: Figure, frame: Frame) -> Iterator[str]:
    kind = f' class="{trace["meta"]}"' if "meta" in trace else ""
    yield f"<g{kind}>{title(trace['name'])}"
    if trace.get("fill") == "toself":
        yield f'<polygon points="{points_text(trace, frame)}" fill="{trace["fillcolor"]}"/>'
    elif "lines" in trace["mode"]:
        for x, y in _pieces(trace["x"], trace["y"]):
            points = points_text({"x": x, "y": y}, frame)
            yield f'<polyline points="{points}" fill="none" {stroke(trace["line"])}/>'
    yield "</g>"


def _pieces(
    x: Sequence[float | None], y: Sequence[float | None]
) -> Iterable[tuple[list[float], list[float]]]:
    """Yield the parts of a line between its gaps."""
    piece: tuple[list[float], list[float]] = ([], [])
    for one, other in [*zip(x, y, strict=True), (None, None)]:
        if one is not None and other is not None:
            piece[0].append(one)
            piece[1].append(other)
        elif piece[0]:
            yield piece
            piece = ([], [])

"""Read the graphs of the screen Walks as a person does: places against the numbers of the axes."""

import re

LEFT = ".walks-plot[data-side=left]"
INSIDE_PX = 56, 12
"""Of a graph, left of where the time begins and right of where it ends."""
NUMBER = "parseFloat(one.textContent.replace('\u2212', '-'))"
"""Of a tick: its unit stands beside the last one."""


def lines(page, side="left"):
    """Return the instants of a side's event lines that are in sight, by the numbers of the axis."""
    places = page.evaluate(
        """side => [...document.querySelectorAll(
             `.walks-plot[data-side=${side}] .event:not([visibility=hidden])`)
           ].map(one => one.transform.baseVal.consolidate().matrix.e)""",
        side,
    )
    return [_time_at(page, place, side) for place in places]


def _time_at(page, place, side="left"):
    """Return the instant at a place across a graph, from the numbers that stand below it."""
    ticks = page.locator(f".walks-plot[data-side={side}] .tick-time").evaluate_all(
        f"all => all.map(one => [Number(one.getAttribute('x')), {NUMBER}])"
    )
    (first, first_s), (last, last_s) = ticks[0], ticks[-1]
    return first_s + (place - first) / (last - first) * (last_s - first_s)


def shown_s(page, side="left"):
    """Return the first and last second that a graph shows."""
    svg = page.locator(f".walks-plot[data-side={side}] > svg")
    wide = svg.evaluate("one => one.viewBox.baseVal.width")
    return [_time_at(page, place, side) for place in (INSIDE_PX[0], wide - INSIDE_PX[1])]


def pixel(page, time_s):
    """Return where an instant is on the left graph, in the middle of its height."""
    graph = page.locator(f"{LEFT} > svg")
    graph.evaluate("one => one.scrollIntoView({block: 'center'})")
    box = graph.bounding_box()
    first_s, last_s = shown_s(page)
    wide = box["width"] - sum(INSIDE_PX)
    along = INSIDE_PX[0] + (time_s - first_s) / (last_s - first_s) * wide
    return box["x"] + along, box["y"] + box["height"] / 2


def points(page, panel, line, side="left"):
    """Return the points of a line that are drawn: instants, and values by the numbers beside it."""
    found = page.locator(f".walks-plot[data-side={side}] .panel").nth(panel)
    ticks = found.locator(".tick-value").evaluate_all(
        f"all => all.map(one => [Number(one.getAttribute('y')) - 4, {NUMBER}])"
    )
    (low, low_value), (high, high_value) = ticks[0], ticks[-1]
    scale = (high_value - low_value) / (high - low)
    path = found.locator("g path").nth(line).get_attribute("d")
    places = [[float(each) for each in pair.split()] for pair in re.split("[ML]", path)[1:]]
    ends = [_time_at(page, place, side) for place in (0, 1)]
    return [(ends[0] + x * (ends[1] - ends[0]), low_value + (y - low) * scale) for x, y in places]

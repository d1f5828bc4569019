"""A person over the visits as HTML: the visits as a line in time, and a panel for each question.

In come answers of visits, out comes HTML for screens and pages; its style is
``templates/panels.css``. Every text is escaped.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from itertools import pairwise
from typing import Final

from gaittrack.figures.visit_panels import Panel, VisitPoint, visit_places
from gaittrack.study.results.visit_answers import VisitAnswer

_KEY: Final = (
    '<p class="panel-key"><i class="line without"></i> without <i class="line with"></i> with '
    "<span>under each visit: what the brace changed that day, with its whole 95 % interval</span>"
)


_SIDE_BY_SIDE: Final = 3
"""Visits whose intervals have room in one line."""
_NEAREST: Final = 18.0
"""Per cent between two visits that their words need."""


def visit_line_html(told: Sequence[VisitAnswer]) -> str:
    """Return the visits as a line in time, the newest filled."""
    places = visit_places(told, nearest=_NEAREST)
    marks = "".join(
        _visit(each, at, is_newest=each is told[-1]) for each, at in zip(told, places, strict=True)
    )
    return f'<ol class="visit-line" aria-label="Visits">{marks}</ol>'


def _visit(told: VisitAnswer, at: float, *, is_newest: bool) -> str:
    facts = told.visit.facts
    days = facts["days_since_first_visit"]
    when = [facts["kind"], None if days is None else f"day {days:g}", facts["date"]]
    walked = " · ".join(f"{n} {name}" for name, n in told.n_walks.items()) or "no walk measured"
    examined = " · examined" if told.visit.is_examined else ""
    return (
        f'<li style="left:{at:.2f}%" class="{"newest" if is_newest else ""}">'
        f"<small>{escape(walked)}{examined}</small><i></i><b>{escape(told.visit.code)}</b>"
        f"<small>{escape(' · '.join(filter(None, when)))}</small></li>"
    )


def panels_html(panels: Sequence[Panel]) -> str:
    """Return the panels, with the key of their lines."""
    return f'{_KEY}</p><div class="panels">{"".join(map(_panel, panels))}</div>'


def _panel(panel: Panel) -> str:
    side = f", {panel.side}" if panel.side else ""
    flag = ' <span class="flag" title="a sign">⚑ sign</span>' if panel.has_sign else ""
    grid = "".join(
        f'<i class="grid" style="top:{at}%"></i><em style="top:{at}%">{escape(label)}</em>'
        for at, label in panel.ticks
    )
    drawn = (
        f'<div class="plot" aria-hidden="true">{grid}<svg viewBox="0 0 100 100" '
        f'preserveAspectRatio="none">{_lines(panel.points)}</svg>'
        f"{''.join(map(_dots, panel.points))}</div>"
    )
    below = "".join(map(_below, panel.points))
    doubts = "".join(
        f'<small class="doubt"><b>!</b> {escape(each)}</small>' for each in panel.doubts
    )
    many = " many" if len(panel.points) > _SIDE_BY_SIDE else ""
    return (
        f'<section class="card panel"><h3>{escape(panel.title)}{flag}</h3>'
        f"<p>{escape(panel.measure)}{escape(side)}: {escape(panel.said)}</p>"
        f'{drawn}<ol class="changes{many}">{below}</ol>{doubts}</section>'
    )


def _lines(points: Sequence[VisitPoint]) -> str:
    parts = []
    for kind in ("before", "here"):
        for one, next_one in pairwise(points):
            y0, y1 = getattr(one, kind), getattr(next_one, kind)
            if y0 is not None and y1 is not None:
                parts.append(
                    f'<line class="{kind}" x1="{one.at}" y1="{y0}" x2="{next_one.at}" y2="{y1}"/>'
                )
    for one in points:
        if one.before is not None and one.here is not None:
            ends = f'x1="{one.at}" y1="{one.before}" x2="{one.at}" y2="{one.here}"'
            parts.append(f'<line class="stem" {ends}/>')
    return "".join(parts)


def _dots(point: VisitPoint) -> str:
    return "".join(
        f'<i class="dot {kind}" style="left:{point.at}%;top:{height}%"></i>'
        for kind, height in (("before", point.before), ("here", point.here))
        if height is not None
    )


def _below(point: VisitPoint) -> str:
    told = f"{point.before_text or 'not defined'} to {point.here_text or 'not defined'}"
    said = f"{told}; {point.words}" if point.verdict else "nothing to compare"
    shape = f'<i class="mark {escape(point.verdict)}"></i> ' if point.verdict else ""
    return (
        f'<li style="left:{point.at}%"><span class="unseen">{escape(said)}</span>'
        f"<b>{shape}{escape(point.change)}</b><small>{escape(point.interval)}</small>"
        f"<small>{escape(point.visit)}</small></li>"
    )

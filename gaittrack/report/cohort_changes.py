"""A cohort's answer as HTML: the line of numbers, everybody's change, who is left out.

In come an answer and its picture, out comes HTML; its style is ``templates/cohort_changes.css``.
Every text is escaped.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from html import escape
from typing import Final

from gaittrack.cohort.answering import CohortAnswer, Figure, LeftOut
from gaittrack.cohort.question import plain_codes
from gaittrack.compare.row_words import count_words, signed, unit_words
from gaittrack.compare.verdict import LARGER
from gaittrack.compare.walks import MEASURE_BY_NAME
from gaittrack.figures.cohort_changes import ChangePicture, ChangePoint
from gaittrack.figures.plain_numbers import with_minus

MOST_MARKS: Final = 200
"""People beyond whom each change is a short line: shapes would cover each other. Own choice."""
_MOST_LABELS: Final = 60
_UPRIGHT: Final = 26
"""Codes beyond so many stand upright."""
_CAP: Final = (0.35, 0.18)
"""Half of a cap's width: per cent, and at most this share of a person's place."""


def figures_html(figures: Sequence[Figure]) -> str:
    """Return the one line of numbers, each with the shape of its verdict."""
    return f'<dl class="figures card">{"".join(map(_figure, figures))}</dl>'


def _figure(figure: Figure) -> str:
    shape = f'<i class="mark {escape(figure.verdict)}"></i> ' if figure.verdict else ""
    note = f"<small>{escape(figure.note)}</small>" if figure.note else ""
    return (
        f"<div><dt>{escape(with_minus(figure.words))}{note}</dt>"
        f"<dd>{shape}{escape(with_minus(figure.text))}</dd></div>"
    )


def changes_html(answer: CohortAnswer, picture: ChangePicture) -> str:
    """Return everybody's change with its intervals, the band of error, and the mean."""
    unit = unit_words(answer.measure.unit)
    head = (
        f"<h3>Change of each person, smallest to largest <small>· {escape(unit)} · thick: these "
        "walks alone; thin: whole 95 % interval; band: measurement error</small></h3>"
    )
    grid = "".join(
        f'<i class="grid" style="top:{at}%"></i><em style="top:{at}%">{escape(label)}</em>'
        for at, label in picture.ticks
    )
    has_marks = len(picture.points) <= MOST_MARKS
    lines = f"{''.join(_whiskers(picture.points))}{'' if has_marks else _dashes(picture.points)}"
    drawn = (
        f'<svg viewBox="0 0 100 100" preserveAspectRatio="none" aria-hidden="true">{lines}</svg>'
    )
    marks = "".join(map(_mark, picture.points)) if has_marks else ""
    many = "" if has_marks else " many"
    label = f"Change of {count_words(len(picture.points), 'leg')}: {answer.say()}"
    return (
        f'{head}<div class="changes-plot{many}" role="img" aria-label="{escape(label)}">{grid}'
        f"{_bands(picture)}{drawn}{_mean(answer, picture)}{marks}</div>{_labels(picture.points)}"
    )


def _bands(picture: ChangePicture) -> str:
    boxes = "".join(
        f'<i class="band" style="left:{left:.2f}%;width:{right - left:.2f}%;top:{top}%;'
        f'height:{bottom - top:.2f}%"></i>'
        for left, right, top, bottom in picture.bands
    )
    return f'{boxes}<i class="zero" style="top:{picture.zero}%"></i>'


def _whiskers(points: Sequence[ChangePoint]) -> Iterator[str]:
    """Yield the intervals, all that look alike as one shape."""
    half = min(_CAP[0], 100 * _CAP[1] / max(len(points), 1))
    for is_larger in (False, True):
        own = [each for each in points if (each.verdict == LARGER) == is_larger]
        kind = "larger" if is_larger else "other"
        thin = [
            f"M{p.at} {low}V{high}M{p.at - half:.3f} {low}h{2 * half:.3f}"
            f"M{p.at - half:.3f} {high}h{2 * half:.3f}"
            for p in own
            for low, high in filter(None, [p.whole])
        ]
        thick = [f"M{p.at} {low}V{high}" for p in own for low, high in filter(None, [p.walks])]
        yield f'<path class="whole {kind}" d="{"".join(thin)}"/>'
        yield f'<path class="walks {kind}" d="{"".join(thick)}"/>'


def _dashes(points: Sequence[ChangePoint]) -> str:
    half = 40 / len(points)
    path = "".join(f"M{p.at - half:.3f} {p.change}h{2 * half:.3f}" for p in points)
    return f'<path class="dashes" d="{path}"/>'


def _mark(point: ChangePoint) -> str:
    return (
        f'<i class="mark {escape(point.verdict)}" title="{escape(point.says)}" '
        f'style="left:{point.at}%;top:{point.change}%"></i>'
    )


def _mean(answer: CohortAnswer, picture: ChangePicture) -> str:
    if picture.mean is None:
        return ""
    mean = signed(answer.mean[0], answer.measure.decimals)
    words = f"mean of {answer.n_people}: {mean} {unit_words(answer.measure.unit)}"
    band = ""
    if picture.interval is not None:
        low, high = picture.interval
        band = f'<i class="mean-band" style="top:{high}%;height:{low - high:.2f}%"></i>'
    line = f'<i class="mean" style="top:{picture.mean}%"></i>'
    return f'{band}{line}<b style="top:{picture.mean}%">{escape(with_minus(words))}</b>'


def _labels(points: Sequence[ChangePoint]) -> str:
    if not points or len(points) > _MOST_LABELS:
        return f'<p class="soft">{count_words(len(points), "change")} from the lowest on</p>'
    kind = " upright" if len(points) > _UPRIGHT else ""
    codes = "".join(
        f'<span style="left:{point.at}%">{escape(point.label)}</span>' for point in points
    )
    return f'<div class="people-below{kind}" aria-hidden="true">{codes}</div>'


def left_out_html(answer: CohortAnswer, offer: Callable[[str, str], str]) -> str:
    """Return who cannot be compared, why, and what compares them.

    Parameters
    ----------
    offer : callable
        Gives the HTML that leads to another measure, from its name and its title.
    """
    groups = "".join(map(_group, answer.left_out))
    missing = ""
    if answer.n_missing:
        missing = f"<h4>Without walks in both conditions: {answer.n_missing}</h4>"
    other = ""
    if answer.other is not None:
        title = MEASURE_BY_NAME[answer.other.measure].title
        other = f"<p>{offer(answer.other.measure, title)} compares {answer.other.n_people}.</p>"
    head = f"<h3>Cannot be compared: {answer.n_left_out}</h3>"
    return f'<div class="left-out">{head}{groups}{missing}{other}</div>'


def _group(group: LeftOut) -> str:
    codes = "".join(
        f'<li><i class="mark not_comparable"></i> {escape(code)}</li>'
        for code in group.people[:_MOST_LABELS]
    )
    n_more = len(group.people) - _MOST_LABELS
    more = f"<p>and {n_more} more: in the table</p>" if n_more > 0 else ""
    return f"<p>{escape(plain_codes(str(group.reason)))}</p><ul>{codes}</ul>{more}"

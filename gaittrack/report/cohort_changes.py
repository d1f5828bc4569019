"""A cohort's answer as HTML: the line of numbers, everybody's change, who is left out.

In come an answer and its picture, out comes HTML: ``templates/cohort.html``, its style
``cohort_changes.css``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from typing import Final

from markupsafe import Markup

from gaittrack.cohort.asking.answering import CohortAnswer, Figure
from gaittrack.cohort.asking.question import plain_codes
from gaittrack.compare.intervals.verdict import LARGER
from gaittrack.compare.row_words import count_words, signed, unit_words
from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.figures.cohort_changes import MOST_MARKS, ChangePicture, ChangePoint
from gaittrack.figures.plain_numbers import with_minus
from gaittrack.reasons import Reason
from gaittrack.report.html_parts import drawn
from gaittrack.words import unit_behind

_MOST_LABELS: Final = 60
_CAP: Final = (0.35, 0.18)
"""Half of a cap's width: per cent, and at most this share of a person's place."""


def figures_html(figures: Sequence[Figure]) -> Markup:
    """Return the one line of numbers, each with the shape of its verdict."""
    told = [
        replace(each, text=with_minus(each.text), words=with_minus(each.words)) for each in figures
    ]
    return drawn("cohort.figures", told)


def changes_html(answer: CohortAnswer, picture: ChangePicture) -> Markup:
    """Return everybody's change with its intervals, the band of error, and the mean."""
    points, unit = picture.points, unit_words(answer.measure.unit)
    has_marks = len(points) <= MOST_MARKS
    count = count_words(len(points), "change")
    mean = f"mean of {answer.n_people}: {signed(answer.mean[0], answer.measure.decimals)}"
    mean += unit_behind(answer.measure.unit)
    paths = [*_whiskers(points)] if has_marks else [*_whiskers(points), _dashes(points)]
    return drawn(
        "cohort.changes",
        unit,
        with_minus(f"{count}: {answer.say()}"),
        picture,
        paths,
        points if has_marks else (),
        with_minus(mean),
        points if len(points) <= _MOST_LABELS else (),
        count,
    )


def _whiskers(points: Sequence[ChangePoint]) -> Iterator[tuple[str, str]]:
    """Yield the intervals, all that look alike as one shape: its kind and its path."""
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
        yield f"whole {kind}", "".join(thin)
        yield f"walks {kind}", "".join(thick)


def _dashes(points: Sequence[ChangePoint]) -> tuple[str, str]:
    half = 40 / len(points)
    return "dashes", "".join(f"M{p.at - half:.3f} {p.change}h{2 * half:.3f}" for p in points)


def left_out_html(answer: CohortAnswer, offer: Callable[[str, str], Markup]) -> Markup:
    """Return who cannot be compared, why, and what compares them.

    Parameters
    ----------
    offer : callable
        Gives the HTML that leads to another measure, from its name and its title.
    """
    groups = [
        (
            with_minus(plain_codes(str(each.reason))),
            each.people[:_MOST_LABELS],
            len(each.people) - _MOST_LABELS,
        )
        for each in answer.left_out
    ]
    other, n_other = Markup(), 0
    if answer.other is not None:
        name, n_other = answer.other.measure, answer.other.n_people
        other = offer(name, MEASURE_BY_NAME[name].title)
    missing = str(Reason("cohort_without_pair")).capitalize(), answer.n_missing
    return drawn("cohort.left_out", answer.n_left_out, groups, missing, other, n_other)

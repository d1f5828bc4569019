"""The guide: how a brace trial is recorded so that it can answer, and how small a change it shows.

In come the laboratory's scatter from walk to walk and its own errors, out comes one page that loads
nothing, for the screen and for paper.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from markupsafe import Markup

from gaittrack.compare.fair.fairness import LEAST_DAYS_WORN, LEAST_STRIDES, LEAST_WALKS
from gaittrack.compare.intervals.smallest_change import (
    LEFT_ON,
    PUT_ON_AGAIN,
    WALKS,
    FromWalkToWalk,
    ShownChange,
    shown_changes,
)
from gaittrack.compare.measurement_error.marker_errors import OwnErrors
from gaittrack.compare.row_words import number
from gaittrack.compare.walked.questions import (
    QUESTION_CODES,
    QUESTION_MEASURES,
    QUESTIONS,
    QuestionCode,
)
from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.notice import NOTICE
from gaittrack.reasons import Reason
from gaittrack.report import html_parts
from gaittrack.report.guide_pictures import question_picture
from gaittrack.study.laboratory import laboratory_errors_of
from gaittrack.study.results.walk_scatter import walk_scatters
from gaittrack.study.store import Study
from gaittrack.words import unit_behind

TITLE: Final = "How a brace trial is recorded so that it can answer"
_NUMBERS: Final = {
    "least_walks": LEAST_WALKS,
    "least_strides": LEAST_STRIDES,
    "least_days": LEAST_DAYS_WORN,
}


@dataclass(frozen=True, slots=True)
class GuideRow:
    """One measure of a question, as the page shows it.

    Attributes
    ----------
    scatter : str
        From walk to walk, and whose figure it is.
    left_on, put_on_again : tuple of (str, str)
        For each number of walks: as the only aim, and without aims. Empty where nothing is known.
    error : str
        Where the error of re-placed markers is from.
    """

    title: str
    definition: str
    scatter: str
    left_on: tuple[tuple[str, str], ...]
    put_on_again: tuple[tuple[str, str], ...]
    error: str


@dataclass(frozen=True, slots=True)
class GuideQuestion:
    """One of the eight questions, with its drawing and measures."""

    name: str
    picture: Markup
    rows: tuple[GuideRow, ...]


def guide_of(study: Study) -> str:
    """Return the page for a laboratory: with the scatter of its own walks and its own errors."""
    with study.read() as connection:
        scatters = walk_scatters(connection, QUESTION_MEASURES)
        return guide_html(scatters, laboratory_errors_of(connection))


def guide_html(scatters: Mapping[str, FromWalkToWalk], own: OwnErrors | None = None) -> str:
    """Return the page.

    Parameters
    ----------
    scatters : mapping of measure to FromWalkToWalk
        Of the laboratory's walks; empty where there are none yet.
    own : mapping, optional
        The laboratory's own errors.
    """
    questions = list(_questions(scatters, own))
    is_own = any(each.is_own for each in scatters.values())
    body = html_parts.filled(
        "guide.html",
        title=TITLE,
        questions=questions,
        walks=WALKS,
        is_own=is_own,
        notice=NOTICE,
        **_NUMBERS,
    )
    return html_parts.page(
        TITLE, [body], styles=("comparison.css", "patient.css", "guide.css"), has_heading=False
    )


def _questions(
    scatters: Mapping[str, FromWalkToWalk], own: OwnErrors | None
) -> Iterator[GuideQuestion]:
    both = [shown_changes(scatters, each, own=own) for each in (LEFT_ON, PUT_ON_AGAIN)]
    pairs = list(zip(*both, strict=True))
    for code in QUESTION_CODES:
        name = _capital(str(Reason(code)))
        rows = tuple(_row(*pair) for pair in pairs if pair[0].question == code)
        yield GuideQuestion(name, question_picture(code, name), rows + _further(code, rows))


def _further(code: QuestionCode, rows: Sequence[GuideRow]) -> tuple[GuideRow, ...]:
    """Return the other steps of the ladders: they stand in where the first is not defined."""
    question = next(each for each in QUESTIONS if each.code == code)
    told = {each.title for each in rows}
    rest = [MEASURE_BY_NAME[name] for ladder in question.marks for name in ladder]
    return tuple(
        GuideRow(each.title, each.definition, "", (), (), "")
        for each in rest
        if each.title not in told
    )


def _row(left_on: ShownChange, put_on_again: ShownChange) -> GuideRow:
    measure = MEASURE_BY_NAME[left_on.measure]
    error = put_on_again.error
    return GuideRow(
        title=measure.title,
        definition=measure.definition,
        scatter=_scatter(left_on),
        left_on=tuple(_pairs(left_on)),
        put_on_again=tuple(_pairs(put_on_again)),
        error="" if error is None else error.source.say(),
    )


def _pairs(change: ShownChange) -> Iterator[tuple[str, str]]:
    measure = MEASURE_BY_NAME[change.measure]
    for both in zip(change.as_aim, change.without_aims, strict=True):
        aim, none = (number(each, measure.decimals) for each in both)
        yield aim, f"{none}{unit_behind(measure.unit)}"


def _scatter(change: ShownChange) -> str:
    if change.scatter is None:
        return "not known before some walks of this laboratory are in the study"
    measure = MEASURE_BY_NAME[change.measure]
    sd = f"{number(change.scatter.sd, measure.decimals + 1)}{unit_behind(measure.unit)}"
    if change.scatter.is_own:
        return f"{sd}, of this laboratory's walks"
    return f"{sd}, published: upper end of 0.7 to 2.5, 5 young adults, jpmrs 2013"


def _capital(words: str) -> str:
    return f"{words[:1].upper()}{words[1:]}"

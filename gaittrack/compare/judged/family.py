"""Judge the rows of a comparison: the eight questions as one family, all other rows as another.

In come drafts of all rows, out come the rows. A change in a question is called larger only by
weighted Holm over all questions, legs and conditions, so that some change is called where nothing
changed in at most 5 % of comparisons. Of the other rows, at most 5 % of those called larger are by
chance.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import Final, Literal, NamedTuple

from gaittrack.compare.intervals.holm import adjust, adjust_among_many
from gaittrack.compare.judged.rows import ComparisonRow, Draft, judged_row
from gaittrack.compare.walked.questions import QUESTIONS, Question, QuestionCode
from gaittrack.vocabulary import SIDES, Side

Affected = Literal["left", "right", "both"]
_BOTH_LEGS: Final = ""


class _Asked(NamedTuple):
    """A question of one leg in one condition."""

    condition: str
    question: QuestionCode
    side: str


class _Mark(NamedTuple):
    """One mark of a question."""

    asked: _Asked
    place: int


_Drafts = Mapping[tuple[str, str, Side], Draft]


def judge_rows(
    drafts: Sequence[Draft], *, aims: Collection[QuestionCode] = (), affected: Affected | None
) -> list[ComparisonRow]:
    """Judge drafts.

    Parameters
    ----------
    drafts : sequence of Draft
        Of a whole comparison: what is missing makes the family smaller than it is.
    aims : collection of QuestionCode
        Recorded before the first comparison; they share most of the error.
    affected : {"left", "right", "both"} or None
        Whose leg the aims are about; None: both.
    """
    by_name = {(each.pair.own.name, each.measure.name, each.side): each for each in drafts}
    found = dict(_marks(by_name))
    p_values = {mark: _p_of(of_mark) for mark, of_mark in found.items()}
    legs = {affected} if affected in SIDES else set(SIDES)
    wanted = {
        mark.asked
        for mark in found
        if mark.asked.question in aims and mark.asked.side in legs | {_BOTH_LEGS}
    }
    adjusted = adjust(p_values, wanted, question_of=lambda mark: mark.asked)
    marks = {id(each): mark for mark, of_mark in found.items() for each in of_mark}
    others = {
        place: each.p if math.isfinite(each.error.error) else math.nan
        for place, each in enumerate(drafts)
        if id(each) not in marks
    }
    among_others = adjust_among_many(others)
    return [
        judged_row(each, adjusted_p=adjusted[mark], question=mark.asked.question)
        if (mark := marks.get(id(each)))
        else judged_row(each, adjusted_p=among_others[place])
        for place, each in enumerate(drafts)
    ]


def _marks(drafts: _Drafts) -> Iterator[tuple[_Mark, list[Draft]]]:
    """Yield every mark that stands for a question, with its drafts."""
    for condition in dict.fromkeys(condition for condition, _, _ in drafts):
        for question in QUESTIONS:
            for legs in _legs(question):
                side = _BOTH_LEGS if len(legs) > 1 else legs[0]
                asked = _Asked(condition, question.code, side)
                for place, ladder in enumerate(question.marks):
                    if chosen := _first_comparable(drafts, condition, ladder, legs):
                        yield _Mark(asked, place), chosen


def _legs(question: Question) -> list[tuple[Side, ...]]:
    return [SIDES] if question.is_of_both_legs else [(side,) for side in SIDES]


def _first_comparable(
    drafts: _Drafts, condition: str, ladder: Sequence[str], legs: Sequence[Side]
) -> list[Draft]:
    for measure in ladder:
        found = [drafts.get((condition, measure, side)) for side in legs]
        usable = [each for each in found if each is not None and each.obstacle is None]
        if usable:
            return usable
    return []


def _p_of(drafts: Sequence[Draft]) -> float:
    """Return the p-value of a mark: of two legs with the same values, the larger."""
    known = [each.p for each in drafts if not math.isnan(each.p)]
    return max(known, default=math.nan)

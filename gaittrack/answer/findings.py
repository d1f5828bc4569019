"""What one question finds on one leg: the measures that answer it, and which way they changed.

In come the rows of a comparison, out come :class:`Finding` objects, each by the fixed ladder of its
question.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from gaittrack.compare.fair.heel_first import HeelFirst
from gaittrack.compare.intervals.verdict import LARGER, NOT_COMPARABLE, NOT_DEFINED, NOT_TRUSTED
from gaittrack.compare.judged.rows import ComparisonRow
from gaittrack.compare.judged.watch import STANCE_KNEE_LIMIT_DEG
from gaittrack.compare.walked.questions import Question, QuestionCode
from gaittrack.vocabulary import Side

Kind = Literal["gain", "loss", "change", "none"]
UNTOLD: Final = (NOT_COMPARABLE, NOT_TRUSTED, NOT_DEFINED)
"""Verdicts of what could not be told."""
HOPED: Final[Mapping[QuestionCode, int]] = {
    "how_the_foot_meets_the_floor": 1,
    "how_it_is_lifted_in_swing": 1,
    "how_the_toe_clears_the_floor": 1,
    "how_far_the_leg_must_lift": -1,
    "whether_the_ankle_keeps_its_freedom": 1,
    "how_the_person_walks": 1,
}
"""Which way a brace for drop foot is meant to change the answer; of the others either way may be
meant. Common practice, no source."""
_MEET: Final = "how_the_foot_meets_the_floor"
_HOLDS: Final = "whether_the_knee_holds"
_KNEE_IN_STANCE: Final = "stance_knee_flexion_minimum_deg"

Rows = Mapping[tuple[str, Side], ComparisonRow]
"""Of one condition, by measure and side."""


@dataclass(frozen=True, slots=True)
class Finding:
    """What one question finds on one leg.

    Attributes
    ----------
    rows : tuple of ComparisonRow
        One per mark of the question: the first of its ladder that can be compared, else the first
        that was measured. The first row decides. Where the knee is the aim and goes back without
        the brace, its smallest angle in stance comes first.
    heel : HeelFirst or None
        Counts of heel-first steps; of the first question alone.
    companions : tuple of ComparisonRow
        What stands beside it and is judged by itself, and the rest of its ladders.
    """

    question: QuestionCode
    side: Side
    is_of_both_legs: bool
    is_aim: bool
    rows: tuple[ComparisonRow, ...]
    heel: HeelFirst | None
    companions: tuple[ComparisonRow, ...]

    @property
    def verdict(self) -> str:
        """Verdict of the row that decides; not defined where nothing was measured."""
        return self.rows[0].verdict if self.rows else NOT_DEFINED

    @property
    def changed(self) -> tuple[ComparisonRow, ...]:
        """Its rows that are larger than measurement error."""
        return tuple(row for row in self.rows if row.verdict == LARGER)

    @property
    def heel_share_change(self) -> float:
        """By how much the share of heel-first steps differs; 0 where it is not known."""
        if self.heel is None:
            return 0.0
        own, reference = self.heel.counts.own, self.heel.counts.reference
        return own.n_kind / own.n_steps - reference.n_kind / reference.n_steps

    @property
    def has_heel_changed(self) -> bool:
        """Whether counts differ, and by counts or by the foot's pitch that is no chance."""
        difference = self.heel_share_change
        by_counts = self.heel is not None and self.heel.finding == "counts_changed"
        by_pitch = any(row.difference * difference > 0 for row in self.changed)
        return difference != 0 and (by_counts or by_pitch)

    @property
    def kind(self) -> Kind:
        """Whether it changed, and the way a brace is meant to change it or the other."""
        way = self.heel_share_change if self.has_heel_changed else 0.0
        if not way and self.changed:
            way = self.changed[0].difference
        hoped = HOPED.get(self.question, 0)
        if not way:
            return "none"
        return "change" if not hoped else "gain" if way * hoped > 0 else "loss"


def find(
    question: Question,
    side: Side,
    rows: Rows,
    heels: Sequence[HeelFirst],
    *,
    is_aim: bool,
) -> Finding:
    """Return what a question finds on a leg."""
    chosen = [row for ladder in question.marks if (row := _first(ladder, side, rows)) is not None]
    others = [*(name for ladder in question.marks for name in ladder), *question.beside]
    measures = {row.measure for row in chosen}
    if is_aim and question.code == _HOLDS:
        chosen.sort(key=lambda row: not _goes_back(row))
    heel = [each for each in heels if each.side == side and question.code == _MEET]
    return Finding(
        question.code,
        side,
        question.is_of_both_legs,
        is_aim,
        tuple(_answered_first(chosen)),
        heel[0] if heel else None,
        tuple(
            rows[name, side]
            for name in dict.fromkeys(others)
            if (name, side) in rows and name not in measures
        ),
    )


def _first(ladder: Sequence[str], side: Side, rows: Rows) -> ComparisonRow | None:
    found = [rows[name, side] for name in ladder if (name, side) in rows]
    told = [row for row in found if row.verdict not in UNTOLD]
    return next(iter([*told, *found]), None)


def _goes_back(row: ComparisonRow) -> bool:
    return row.measure == _KNEE_IN_STANCE and row.reference_value < STANCE_KNEE_LIMIT_DEG


def _answered_first(rows: Sequence[ComparisonRow]) -> list[ComparisonRow]:
    """Keep the order of the marks, but let one that tells nothing not decide."""
    return sorted(rows, key=lambda row: row.verdict in UNTOLD)

"""The answer to what is asked of a cohort: the mean, who changed which way, who is left out.

In come a :class:`CohortView` and a :class:`CohortQuestion`, out comes a :class:`CohortAnswer` in
numbers and sentences; screen and command show this one. The mean is that of people, each at the
first of the chosen visits that has both conditions; those left out stand beside it, by reason, with
the measure of the same question that compares more.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import pandas as pd

from gaittrack.cohort.asking.question import CohortQuestion
from gaittrack.cohort.asking.view import CohortView, selected_changes
from gaittrack.cohort.inference.statistics import (
    NEITHER,
    differences_of_people,
    first_visits,
    mean_difference,
    words_of_people,
)
from gaittrack.cohort.tables.reason_cells import unpacked
from gaittrack.compare.intervals.verdict import (
    AWAY,
    CHANGE_IN_THESE_WALKS,
    LARGER,
    NO_CHANGE,
    NO_ERROR_FIGURE,
    NOT_COMPARABLE,
    NOT_SHOWN,
    TOWARD,
)
from gaittrack.compare.row_words import interval_words, number, signed
from gaittrack.compare.walked.questions import QUESTIONS
from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.measures.measure import Measure
from gaittrack.reasons import Parameter, Reason
from gaittrack.words import ENGLISH, sentences, unit_behind

HIGHER, LOWER = "higher", "lower"
MANY_LEFT_OUT: Final = 0.2
"""Share of people from which those left out are told above the picture; own choice."""
_CELLS: Final = (
    (LARGER, HIGHER, "beyond error, higher"),
    (LARGER, LOWER, "beyond error, lower"),
    (CHANGE_IN_THESE_WALKS, CHANGE_IN_THESE_WALKS, "changed, within error"),
    (NO_CHANGE, NO_CHANGE, "no change"),
    (NOT_SHOWN, NOT_SHOWN, "not shown"),
)


@dataclass(frozen=True, slots=True)
class NotCompared:
    """People who cannot be compared for one reason."""

    reason: Reason
    people: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class OtherMeasure:
    """A measure of the same question that compares more people.

    Attributes
    ----------
    among_compared, among_left_out : float
        Mean of the reference condition, of those the asked measure compares and of the others; NaN
        without any.
    """

    measure: str
    n_people: int
    among_compared: float
    among_left_out: float


@dataclass(frozen=True, slots=True)
class Figure:
    """One number of the line: the verdict whose shape it has, the number, its words, and more."""

    verdict: str
    text: str
    words: str
    note: str = ""


@dataclass(frozen=True, eq=False, slots=True)
class CohortAnswer:
    """What is said of a cohort.

    Attributes
    ----------
    changes : DataFrame
        All rows that were asked for, columns of the view.
    first : DataFrame
        Those of each person at the first visit.
    differences : Series
        One per person who can be compared.
    counts : Counter
        Compared people by what is said of them; larger changes as ``higher`` and ``lower``.
    ways : Counter
        Larger changes toward and away from typical.
    n_missing : int
        People who are meant and have no such pair of conditions, no walks in it, or no such side.
    """

    question: CohortQuestion
    changes: pd.DataFrame
    first: pd.DataFrame
    differences: pd.Series
    counts: Counter[str]
    ways: Counter[str]
    left_out: tuple[NotCompared, ...]
    n_missing: int
    other: OtherMeasure | None

    @property
    def measure(self) -> Measure:
        """What was asked for."""
        return MEASURE_BY_NAME[self.question.measure]

    @property
    def n_people(self) -> int:
        """How many can be compared."""
        return len(self.differences)

    @property
    def n_left_out(self) -> int:
        """How many have both conditions and cannot be compared."""
        return sum(len(each.people) for each in self.left_out)

    @property
    def mean(self) -> tuple[float, float, float]:
        """Mean over people and its 95 % t interval."""
        return mean_difference(self.differences.to_numpy(dtype=float))

    def say(self) -> Reason:
        """Return the answer in one sentence."""
        mean, low, high = self.mean
        parts: dict[str, Parameter] = {
            "measure": self.measure.title,
            "unit": self.measure.unit,
            "n": self.n_people,
            "interval": self._interval,
        }
        if not self.n_people:
            return Reason("cohort_nobody_compared", measure=self.measure.title)
        if low != low:
            return Reason("cohort_no_interval", mean=self._signed(mean), **parts)
        if low <= 0 <= high:
            return Reason("cohort_mean_not_shown", mean=self._signed(mean), **parts)
        way = Reason(HIGHER if mean > 0 else LOWER)
        return Reason("cohort_mean_differs", mean=self._number(abs(mean)), way=way, **parts)

    def warnings(self) -> list[Reason]:
        """Return what a reader of the mean must know first."""
        n_all = self.n_people + self.n_left_out
        if not n_all or self.n_left_out < MANY_LEFT_OUT * n_all:
            return []
        told = [Reason("cohort_many_left_out", n=self.n_left_out, n_all=n_all)]
        other = self.other
        if other is not None and other.among_left_out == other.among_left_out:
            measure = MEASURE_BY_NAME[other.measure]
            told.append(
                Reason(
                    "cohort_left_out_differ",
                    measure=measure.title,
                    unit=measure.unit,
                    reference=self.question.names[1],
                    left_out=number(other.among_left_out, measure.decimals),
                    compared=number(other.among_compared, measure.decimals),
                )
            )
        return told

    def figures(self) -> list[Figure]:
        """Return the one line of numbers."""
        unit = unit_behind(self.measure.unit)
        found = [
            Figure("", str(self.n_people), "person" if self.n_people == 1 else "people"),
            Figure("", f"{self._signed(self.mean[0])}{unit}", f"mean, 95 % {self._interval}"),
        ]
        for verdict, word, words in _CELLS:
            of = f"{self.counts[word]} of {self.n_people}"
            found.append(Figure(verdict, of, words, self._typical(word)))
        for verdict, n, words in (
            (NO_ERROR_FIGURE, self.counts[NO_ERROR_FIGURE], "no error known"),
            (NOT_COMPARABLE, self.n_left_out, "not compared"),
        ):
            if n or verdict == NOT_COMPARABLE:
                found.append(Figure(verdict, str(n), words))
        both_ways = self.counts[NEITHER]
        return (
            [*found, Figure(LARGER, str(both_ways), "each leg another way")] if both_ways else found
        )

    def _typical(self, word: str) -> str:
        """Return how many larger changes go toward typical and away, where there is a range."""
        if word != HIGHER or not self.ways:
            return ""
        return f"either way {self.ways[TOWARD]} toward typical, {self.ways[AWAY]} away"

    @property
    def _interval(self) -> str:
        _, low, high = self.mean
        return interval_words(low, high, self.measure.decimals)

    def _number(self, value: float) -> str:
        return number(value, self.measure.decimals)

    def _signed(self, value: float) -> str:
        return signed(value, self.measure.decimals)


def answer_cohort(view: CohortView, question: CohortQuestion) -> CohortAnswer:
    """Answer a question.

    Parameters
    ----------
    view : CohortView
        Who is not compared yet is missing.
    """
    changes = selected_changes(view, question.selection, **question.shown)
    named = changes.rename(columns={"person": "export_id"})
    first = first_visits(named) if len(named) else named
    differences = differences_of_people(first) if len(first) else pd.Series(dtype=float)
    judged = first[first["export_id"].isin(differences.index)] if len(first) else first
    meant = view.source.visits.loc[view.meant(question.selection), "person"].nunique()
    left_out = tuple(_left_out(first, set(differences.index)))
    found = CohortAnswer(
        question=question,
        changes=changes,
        first=first.rename(columns={"export_id": "person"}),
        differences=differences,
        counts=_counted(judged),
        ways=_ways(judged),
        left_out=left_out,
        n_missing=meant - (first["export_id"].nunique() if len(first) else 0),
        other=_other_measure(view, question, differences) if left_out else None,
    )
    return found


def _counted(judged: pd.DataFrame) -> Counter[str]:
    if judged.empty:
        return Counter()
    ways = judged["difference"].map(lambda each: HIGHER if each > 0 else LOWER)
    return Counter(words_of_people(judged, ways).values())


def _ways(judged: pd.DataFrame) -> Counter[str]:
    if judged.empty:
        return Counter()
    said = words_of_people(judged, judged["typical"].where(judged["typical"] != "", NEITHER))
    return Counter(word for word in said.values() if word in (TOWARD, AWAY))


def _left_out(first: pd.DataFrame, compared: set[str]) -> Iterator[NotCompared]:
    """Yield who is left out by the kind of the reason, most people first."""
    groups: dict[str, dict[str, Reason]] = {}
    if first.empty:
        return
    others = first[~first["export_id"].isin(compared)]
    for person, cell in zip(others["export_id"], others["verdict_reason"], strict=True):
        reason = next(iter(unpacked(cell)), Reason(NOT_COMPARABLE))
        groups.setdefault(_kind(reason), {}).setdefault(person, reason)
    seen: set[str] = set()
    for own in sorted(groups.values(), key=len, reverse=True):
        people = tuple(sorted(set(own) - seen))
        seen |= set(own)
        if people:
            yield NotCompared(_shared(list(own.values())), people)


def _kind(reason: Reason) -> str:
    """Return what people have in common: the sentence, or the code where a sentence is shorter."""
    sentence = sentences(ENGLISH)[reason.code]
    return reason.code if isinstance(sentence, Mapping) and "short" in sentence else str(reason)


def _shared(reasons: Sequence[Reason]) -> Reason:
    """Return the reason that several of one kind have: without its figures where these differ."""
    return reasons[0] if len(set(map(str, reasons))) == 1 else Reason(reasons[0].code)


def _answering_the_same(measure: str) -> Iterator[str]:
    """Yield the measures of the ladder that one stands in, or stands beside."""
    for question in QUESTIONS:
        for ladder in question.marks:
            if measure in ladder or measure in question.beside:
                yield from ladder


def _other_measure(
    view: CohortView, question: CohortQuestion, differences: pd.Series
) -> OtherMeasure | None:
    """Return what compares more people of the measures that answer the same."""
    there = set(view.measures) - {question.measure}
    wanted = [name for name in _answering_the_same(question.measure) if name in there]
    if not wanted:
        return None
    asked = {**question.shown, "measures": wanted}
    changes = selected_changes(view, question.selection, **asked)
    found = []
    for name, own in changes.rename(columns={"person": "export_id"}).groupby("measure_id"):
        first = first_visits(own)
        n_people = len(differences_of_people(first))
        before = first.groupby("export_id")["reference_value"].mean().astype(float)
        is_compared = before.index.isin(differences.index)
        means = (float(before[is_compared].mean()), float(before[~is_compared].mean()))
        found.append(OtherMeasure(str(name), n_people, *means))
    best = max(found, key=lambda each: each.n_people, default=None)
    return best if best is not None and best.n_people > len(differences) else None

"""The words and numbers of a comparison's rows, the same wherever they are printed.

In come rows, out come phrases: numbers with the decimals worth printing, intervals, verdicts,
labels, and the order in which rows stand.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from typing import Final

from gaittrack.compare.comparison import Comparison
from gaittrack.compare.intervals.verdict import NOT_COMPARABLE, NOT_DEFINED, NOT_TRUSTED
from gaittrack.compare.judged.rows import OF_CONDITION, ComparisonRow, verdict_of
from gaittrack.compare.judged.watch import WatchItem
from gaittrack.compare.walked.questions import QUESTIONS
from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.measures.recording import FROM_FILE
from gaittrack.measures.told_labels import DOUBTED
from gaittrack.reasons import Reason
from gaittrack.words import unit_behind

NO_NUMBER: Final = "-"
ALL_FAIR: Final = "Nothing that was checked differs between the conditions."
_LEVELS: Final = {"warning": "The conditions differ in:", "info": "Could not be checked:"}
_STANDS_IN: Final = {
    "mid_swing_dorsiflexion_deg": "peak_swing_dorsiflexion_deg",
    "toe_height_under_hip_mm": "minimum_toe_clearance_mm",
}
"""What is compared in place of a headline measure that cannot be."""
_IN_SOME_STRIDES: Final = "in_some_strides"
_ROUTINE: Final = frozenset(
    {"low_passed", FROM_FILE, "zero_before_swing", "zero_after_swing", "contact_unknown"}
    | {"heel_contacts"}
)
"""Codes of labels that say how a value was made, or what its verdict says too. Labels without
parameters are those of the comparison, which stand once above all rows."""


def number(value: float, decimals: int) -> str:
    """Return a number, or the sign for none; never minus zero."""
    if math.isnan(value):
        return NO_NUMBER
    text = f"{value:.{decimals}f}"
    return text.removeprefix("-") if float(text) == 0 else text


def missing_words(reason: Reason | None) -> str:
    """Return why there is no number: not trusted, or not defined."""
    if reason is not None and reason.code == NOT_TRUSTED:
        return str(reason)
    return f"{Reason(NOT_DEFINED)}: {reason}"


def unit_words(unit: str) -> str:
    """Return a unit as people write it."""
    return unit_behind(unit).strip()


def measure_words(name: str) -> str:
    """Return a measure with its unit: ``Stride time (s)``."""
    measure = MEASURE_BY_NAME[name]
    return f"{measure.title} ({unit_words(measure.unit)})"


def range_words(measure: str, low: float, high: float) -> str:
    """Return both ends of a range as its measure is printed: ``-7.0 to 7.0``."""
    decimals = MEASURE_BY_NAME[measure].decimals
    return f"{number(low, decimals)} to {number(high, decimals)}"


def count_words(count: int, noun: str) -> str:
    """Return a count with its noun: ``1 walk``, ``2 walks``."""
    return f"{count} {noun}{'s' * (count != 1)}"


def said_once(told: Iterable[tuple[str, str]], n_all: int = 0) -> list[str]:
    """Return texts, each once, behind the names that it is of where these are not all.

    Parameters
    ----------
    told : iterable of (str, str)
        Name and text.
    n_all : int
        How many names there are; without it they stand before each text.
    """
    found: dict[str, dict[str, None]] = {}
    for name, text in told:
        found.setdefault(text, {})[name] = None
    return [
        text if len(names) == n_all else f"{', '.join(names)}: {text}"
        for text, names in found.items()
    ]


def sign_words(item: WatchItem) -> str:
    """Return a sign of the watch list with its quantity."""
    return f"{Reason(item.sign)}, {item.side}, {item.condition}: {item.reason}"


def family_words(comparison: Comparison) -> str:
    """Return what was asked at once, and so how strictly a change is called larger."""
    of_both = {each.code for each in QUESTIONS if each.is_of_both_legs}
    count = len(
        {
            (row.condition, row.question, "" if row.question in of_both else row.side)
            for row in comparison.rows
            if row.question and not math.isnan(row.p)
        }
    )
    if count < 2:
        return ""
    aims = comparison.settings["aims"]
    share = f" The aims share 80 % of the 5 %: {', '.join(str(Reason(a)) for a in aims)}."
    return (
        f"{count} questions were asked at once (by leg and condition): a change in one of them is "
        "called larger only if chance alone would call any of them in at most 5 % of comparisons "
        f"(Holm).{share if aims else ''} Rows outside the questions are another family: of those "
        "called larger, at most 5 % are by chance (Benjamini-Hochberg)."
    )


def heel_words(comparison: Comparison, condition: str) -> list[str]:
    """Return the counts of heel-first steps of a condition, side by side, affected side first."""
    affected = comparison.settings["affected"]
    own = [each for each in comparison.heel_first if each.condition == condition]
    return [
        f"{each.side}: {each.say()}" for each in sorted(own, key=lambda one: one.side != affected)
    ]


def told_apart(comparison: Comparison) -> list[str]:
    """Return signs that the reference shows too, and levels seen in some steps only."""
    heads = {"in_both": "in the reference too", "some_steps": "no sign"}
    return [
        f"{heads[item.status]}: {sign_words(item)}"
        for item in comparison.watch
        if item.status in heads
    ]


def fairness_points(comparison: Comparison) -> dict[str, list[str]]:
    """Return what a reader must know of fairness, by what kind of point it is.

    Returns
    -------
    dict of str to list of str
        Heading and its points; without any when nothing differs.
    """
    found = {
        head: [
            f"{note.condition}: {note.reason}"
            for note in comparison.fairness
            if note.level == level
        ]
        for level, head in _LEVELS.items()
    }
    return {head: texts for head, texts in found.items() if texts}


def first_rows(comparison: Comparison) -> list[ComparisonRow]:
    """Return the headline rows, and what is compared in place of those that cannot be.

    Returns
    -------
    list of ComparisonRow
        In the order of the comparison.
    """
    replaced = {
        (row.measure, row.side, row.condition)
        for row in comparison.rows
        if row.verdict in (NOT_COMPARABLE, NOT_TRUSTED, NOT_DEFINED)
    }
    return [
        row
        for row in comparison.rows
        if MEASURE_BY_NAME[row.measure].group == "headline"
        or (
            row.verdict != NOT_DEFINED
            and (_STANDS_IN.get(row.measure), row.side, row.condition) in replaced
        )
    ]


def affected_first(rows: Iterable[ComparisonRow], comparison: Comparison) -> list[ComparisonRow]:
    """Return rows with the affected side of each measure first.

    Parameters
    ----------
    comparison : Comparison
        Its settings say which side is affected.
    """
    affected = comparison.settings["affected"]
    order = list(MEASURE_BY_NAME)
    return sorted(rows, key=lambda row: (order.index(row.measure), row.side != affected))


def verdict_words(row: ComparisonRow) -> str:
    """Return the verdict of a row as one phrase."""
    return verdict_of(row).say()


def shared_labels(rows: Sequence[ComparisonRow]) -> tuple[Reason, ...]:
    """Return the labels that stand on every one of several rows."""
    return tuple(label for label in rows[0].labels if all(label in row.labels for row in rows))


def short_labels(row: ComparisonRow, *, leave_out: Collection[Reason] = ()) -> list[str]:
    """Return the labels of a row in words, one that holds in both conditions said once.

    Parameters
    ----------
    leave_out : collection of Reason
        Labels that are said elsewhere.
    """
    return label_words([label for label in row.labels if label not in leave_out])


def doubts(labels: Iterable[Reason]) -> list[str]:
    """Return those labels of a row that make its own values doubtful, for beside them.

    Not how every recording of a laboratory is measured, and not what the whole comparison says.
    """
    return label_words([label for label in labels if _is_doubt(label)])


def is_doubted(labels: Iterable[Reason]) -> bool:
    """Tell whether a problem may have moved a row's values."""
    return any(_inside(label).code == DOUBTED for label in labels)


def label_words(labels: Sequence[Reason]) -> list[str]:
    """Return labels in words, one that holds in both conditions said once."""
    told = Counter(label["label"] for label in labels if label.code == OF_CONDITION)
    short = (
        label["label"] if label.code == OF_CONDITION and told[label["label"]] > 1 else label
        for label in labels
    )
    return list(dict.fromkeys(str(label) for label in short))


def _is_doubt(label: Reason) -> bool:
    if label.code == OF_CONDITION:
        return _inside(label).code not in _ROUTINE
    return bool(label.parameters) and label.code not in _ROUTINE


def _inside(label: Reason) -> Reason:
    """Return what is said of the strides of a condition."""
    for code in (OF_CONDITION, _IN_SOME_STRIDES):
        label = label["label"] if label.code == code else label
    return label


def signed(value: float, decimals: int) -> str:
    """Return a difference with its sign; never minus zero."""
    text = number(value, decimals)
    return f"+{text}" if not math.isnan(value) and float(text) > 0 else text


def walks_interval_words(row: ComparisonRow) -> str:
    """Return the interval of the walks alone, where markers widen the whole one; else empty."""
    if not row.placement_sd and not row.placement_sd_reference:
        return ""
    words = interval_words(row.walks_low, row.walks_high, MEASURE_BY_NAME[row.measure].decimals)
    return "" if words == NO_NUMBER else f"walks alone {words}"


def interval_words(low: float, high: float, decimals: int) -> str:
    """Return an interval as ``low to high``, or the sign for none."""
    if math.isnan(low):
        return NO_NUMBER
    return f"{signed(low, decimals)} to {signed(high, decimals)}"

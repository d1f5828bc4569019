"""Many questions at once: which changes may be called, so that false ones stay rare.

In come the p-values of the questions of a comparison, on both legs, and which of them were aims
recorded before; out come adjusted p-values. With them, some change is called where nothing changed
in at most 5 % of comparisons, however many questions there are.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Hashable, Mapping
from typing import Any, Final, TypeVar

Key = TypeVar("Key", bound=Hashable)

AIMS_SHARE: Final = 0.8
"""Of the error that the aims share when there are any; own choice."""


def _itself(key: Any) -> Any:
    return key


def adjust(
    p_values: Mapping[Key, float],
    aims: Collection[Hashable] = (),
    *,
    question_of: Callable[[Key], Hashable] = _itself,
) -> dict[Key, float]:
    """Return the p-values of a family, adjusted by weighted Holm.

    Parameters
    ----------
    p_values : mapping
        Of each mark that was judged; NaN for one that was not, which takes no share.
    aims : collection
        Questions recorded as aims before the first comparison.
    question_of : callable, optional
        The question that a key is a mark of: the marks of one share its part of the error. By
        default each key is a question.

    Returns
    -------
    dict
        Compare with 0.05. NaN where none was given.

    Source
    ------
    Holm 1979, Scand J Stat 6:65, section 4 (weights).
    """
    found = dict(p_values)
    judged = {key: p for key, p in found.items() if p == p}
    weights = share_out(judged, aims, question_of=question_of)
    order = sorted(judged, key=lambda each: judged[each] / weights[each])
    largest = 0.0
    for place, key in enumerate(order):
        left = math.fsum(weights[each] for each in order[place:])
        largest = max(largest, min(1.0, judged[key] / weights[key] * left))
        found[key] = largest
    return found


def adjust_among_many(p_values: Mapping[Key, float]) -> dict[Key, float]:
    """Return p-values adjusted for how many of those that are called are called by chance.

    Where nothing changed, some change is called in at most 5 % of comparisons; where much changed,
    at most 5 % of what is called did not.

    Parameters
    ----------
    p_values : mapping
        NaN for one that was not judged, which takes no share.

    Returns
    -------
    dict
        Compare with 0.05. NaN where none was given.

    Source
    ------
    Benjamini & Hochberg 1995, J R Stat Soc B 57:289.
    """
    found = dict(p_values)
    order = sorted((key for key, p in found.items() if p == p), key=lambda each: -p_values[each])
    smallest = 1.0
    for place, key in enumerate(order):
        smallest = min(smallest, p_values[key] * len(order) / (len(order) - place))
        found[key] = smallest
    return found


def share_out(
    keys: Collection[Key],
    aims: Collection[Hashable] = (),
    *,
    question_of: Callable[[Key], Hashable] = _itself,
) -> dict[Key, float]:
    """Return the share of the error that each key has; they sum to 1.

    Aims share ``AIMS_SHARE``, or their share by number where that is more.
    """
    n_marks: dict[Hashable, int] = {}
    for key in keys:
        question = question_of(key)
        n_marks[question] = n_marks.get(question, 0) + 1
    n_aims = sum(question in aims for question in n_marks)
    n_others = len(n_marks) - n_aims
    of_aims = max(AIMS_SHARE, n_aims / len(n_marks)) if n_aims and n_others else 0.0
    share = {
        question: (of_aims / n_aims if question in aims else (1 - of_aims) / n_others)
        if of_aims
        else 1 / len(n_marks)
        for question in n_marks
    }
    return {key: share[question_of(key)] / n_marks[question_of(key)] for key in keys}

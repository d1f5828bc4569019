"""Labels of strides, gathered into those of a number.

In come labels, out comes each once, with how often it was given. A doubt that strides or walks tell
with different figures is one doubt: its largest figure stands for all.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Final

from gaittrack.reasons import Parameter, Reason

DOUBTED: Final = "doubted"
"""Code of the label of a number that a problem may have moved."""
_BEGINS: Final = "from_s"
"""The figure of which the smallest holds for all."""


def gathered(labels: Iterable[Reason]) -> dict[Reason, int]:
    """Return labels in their order, each with how often it was given; doubts by what they say.

    Sentences of doubts say "up to" before their figures, so that the largest is true of all.
    """
    counts = Counter(labels)
    if not any(label.code == DOUBTED for label in counts):
        return dict(counts)
    alike: dict[object, list[Reason]] = {}
    for label in counts:
        alike.setdefault(_what_is_said(label), []).append(label)
    return {_of_all(own): sum(counts[each] for each in own) for own in alike.values()}


def _what_is_said(label: Reason) -> object:
    """Return what tells a label from others: of a doubt all but how large its figures are."""
    if label.code != DOUBTED:
        return label
    why: Reason = label["why"]
    return why.code, tuple((name, _without_size(value)) for name, value in why.parameters)


def _without_size(value: Parameter) -> Parameter:
    return value > 0 if isinstance(value, int | float) else value


def _of_all(labels: Sequence[Reason]) -> Reason:
    if len(labels) == 1:
        return labels[0]
    first, *others = (dict(label["why"].parameters) for label in labels)
    told = {
        name: _largest(name, [value, *(each[name] for each in others)])
        for name, value in first.items()
    }
    return Reason(DOUBTED, why=Reason(labels[0]["why"].code, **told))


def _largest(name: str, values: Sequence[Parameter]) -> Parameter:
    if not isinstance(values[0], int | float):
        return values[0]
    figures = [value for value in values if isinstance(value, int | float)]
    return min(figures) if name == _BEGINS else max(figures, key=abs)

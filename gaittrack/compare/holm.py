"""Many questions at once: which changes may be called, so that false ones stay rare.

In come the p-values of the questions of a comparison, on both legs, and which of them were aims
recorded before; out come adjusted p-values. With them, some change is called where nothing changed
in at most 5 % of comparisons, however many questions there are.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from typing import Final, TypeVar

Key = TypeVar("Key")

AIMS_SHARE: Final = 0.8
"""Of the error that the aims share when there are any; own choice."""


def adjust(p_values: Mapping[Key, float], aims: Collection[Key] = ()) -> dict[Key, float]:
    """Return the p-values of a family, adjusted by weighted Holm.

    Parameters
    ----------
    p_values : mapping
        Of each question that was judged; NaN for one that was not, which takes no share.
    aims : collection
        Those recorded as aims before the first comparison.

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
    weights = share_out(judged, aims)
    order = sorted(judged, key=lambda each: judged[each] / weights[each])
    largest = 0.0
    for place, key in enumerate(order):
        left = math.fsum(weights[each] for each in order[place:])
        largest = max(largest, min(1.0, judged[key] / weights[key] * left))
        found[key] = largest
    return found


def share_out(keys: Collection[Key], aims: Collection[Key] = ()) -> dict[Key, float]:
    """Return the share of the error that each question has; they sum to 1.

    Aims share ``AIMS_SHARE``, or their share by number where that is more.
    """
    n_aims = sum(key in aims for key in keys)
    n_others = len(keys) - n_aims
    if not n_aims or not n_others:
        return dict.fromkeys(keys, 1 / len(keys)) if keys else {}
    of_aims = max(AIMS_SHARE, n_aims / len(keys))
    aim, other = of_aims / n_aims, (1 - of_aims) / n_others
    return {key: aim if key in aims else other for key in keys}

"""Which condition others are fairly compared with: the same shoes without the brace.

In come conditions, out come the reference by rule and those that it is a fair reference for. A rule
for a first choice only: people may choose otherwise, and what differs is then named.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from gaittrack.compare.fair.condition import Condition

_SAME, _NOT_KNOWN, _OTHER = 0, 1, 2
_BARENESS: Final = {False: 0, None: 1, True: 2}
"""By whether an orthosis is worn: without one first, then not recorded."""


def choose_reference(conditions: Sequence[Condition]) -> int:
    """Return the place of the condition that the others are compared with.

    Parameters
    ----------
    conditions : sequence of Condition
        At least one.

    Returns
    -------
    int
        Of those without an orthosis the one in the same shoes as one with it; in doubt the first.
    """
    braced = [each for each in conditions if each.is_braced]

    def unfairness(place: int) -> tuple[int, int]:
        own = conditions[place]
        return _BARENESS[own.is_braced], min((_shoes(own, b) for b in braced), default=_SAME)

    return min(range(len(conditions)), key=unfairness)


def is_fair_pair(one: Condition, other: Condition) -> bool:
    """Tell whether nothing recorded says that two conditions were walked in different shoes."""
    return _shoes(one, other) != _OTHER


def _shoes(one: Condition, other: Condition) -> int:
    if one.footwear is None or other.footwear is None:
        return _NOT_KNOWN
    told = [each.footwear.strip().casefold() for each in (one, other)]
    return _SAME if told[0] == told[1] else _OTHER

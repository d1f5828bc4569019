"""Steps that meet the floor with the heel, counted walk by walk.

In come the contacts of the strides of a walk, out come how many were heel contacts and of how many
this is known; ``counts`` compares them with the walk as unit.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final, NamedTuple

from gaittrack.compare.walks import WalkRecord
from gaittrack.vocabulary import Side

_KNOWN: Final = ("heel", "flat", "forefoot")


class HeelFirst(NamedTuple):
    """Steps of one foot in one walk; where nothing shows how it met the floor, it counts nowhere.

    Attributes
    ----------
    n_known : int
        Heel, flat and forefoot contacts.
    n_uncertain : int
        Pitch and the marker that stopped first disagree; not among the known ones.
    """

    n_heel: int
    n_known: int
    n_uncertain: int


def count_heel_first(contacts: Iterable[str]) -> HeelFirst:
    """Count the heel contacts of one foot in one walk."""
    seen = list(contacts)
    n_known = sum(contact in _KNOWN for contact in seen)
    return HeelFirst(seen.count("heel"), n_known, seen.count("uncertain"))


def heel_first_counts(walks: Iterable[WalkRecord], side: Side) -> list[tuple[int, int]]:
    """Return heel contacts and known contacts of each walk, as ``compare_counts`` takes them."""
    counted = (count_heel_first(walk.contacts.get(side, ())) for walk in walks)
    return [(each.n_heel, each.n_known) for each in counted]

"""What to compare when a person is chosen and nothing else: the last visit's fair pair.

In come the conditions of a person, out come those to compare and the reference, by row number.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from gaittrack.compare.fair_pair import choose_reference, is_fair_pair
from gaittrack.study.results.comparing import StoredCondition


@dataclass(frozen=True, slots=True)
class ComparisonChoice:
    """What is compared with what.

    Attributes
    ----------
    conditions : tuple of int
        Row numbers of conditions, the reference among them.
    """

    conditions: tuple[int, ...]
    reference: int


def first_choice(
    conditions: Sequence[StoredCondition], *, visits: Collection[int] = ()
) -> ComparisonChoice | None:
    """Choose what to compare.

    Parameters
    ----------
    conditions : sequence of StoredCondition
        Of one person, visits in the order of time.
    visits : collection of int
        Row numbers of the visits to compare; without any the last one that has two conditions, and
        where none has, all visits in the first visit's condition.

    Returns
    -------
    ComparisonChoice or None
        Those in the reference's shoes, or all where there is none. None when fewer than two
        conditions have walks.
    """
    walked = [each for each in conditions if each.n_walks]
    if visits:
        return _fair_choice([each for each in walked if each.visit_id in visits])
    for visit in reversed(list(dict.fromkeys(each.visit_id for each in walked))):
        own = [each for each in walked if each.visit_id == visit]
        if len(own) > 1:
            return _fair_choice(own)
    return _fair_choice([each for each in walked if each.code == walked[0].code])


def _fair_choice(walked: Sequence[StoredCondition]) -> ComparisonChoice | None:
    if len(walked) < 2:
        return None
    reference = walked[choose_reference([each.worn for each in walked])]
    others = [each for each in walked if each is not reference]
    fair = [each for each in others if is_fair_pair(reference.worn, each.worn)]
    chosen = [reference, *(fair or others)]
    return ComparisonChoice(tuple(each.id for each in walked if each in chosen), reference.id)

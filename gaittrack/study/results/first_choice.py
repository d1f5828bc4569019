"""What to compare: what is asked for by name, else the last visit's fair pair.

In come the conditions of a person, out come those to compare and the reference, by row number.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from gaittrack.compare.fair.fair_pair import choose_reference, is_fair_pair
from gaittrack.errors import StudyError
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


def choose_by_name(
    conditions: Sequence[StoredCondition],
    *,
    visits: Sequence[str] = (),
    names: Sequence[str] = (),
    reference: str | None = None,
) -> ComparisonChoice:
    """Choose what to compare by names.

    Parameters
    ----------
    conditions : sequence of StoredCondition
        Of one person, visits in the order of time.
    visits : sequence of str
        Codes; all visits without any.
    names : sequence of str
        Conditions to compare; of several visits named with them, ``with-brace, visit-2``. Without
        any as :func:`first_choice`.
    reference : str, optional
        Named likewise; by default by rule.

    Raises
    ------
    StudyError
        A name is not known, or fewer than two conditions have walks.
    """
    found = _of_visits(conditions, visits)
    for name in [*names, *filter(None, [reference])]:
        if name not in found:
            raise _unknown("condition", name, found)
    wanted = [found[name] for name in dict.fromkeys([*names, *filter(None, [reference])])]
    own = wanted if names else list(found.values())
    choice = first_choice(own, visits={each.visit_id for each in own} if visits or names else ())
    if choice is None:
        raise StudyError.of("fewer_than_two_with_walks", where=", ".join(visits))
    leader = found[reference].id if reference else choice.reference
    ids = [each.id for each in wanted] if names else choice.conditions
    return ComparisonChoice(tuple(dict.fromkeys([*ids, leader])), leader)


def _of_visits(
    conditions: Sequence[StoredCondition], visits: Sequence[str]
) -> dict[str, StoredCondition]:
    """Return the conditions of the visits by the names they are asked for."""
    known = dict.fromkeys(each.visit for each in conditions)
    for visit in visits:
        if visit not in known:
            raise _unknown("visit", visit, known)
    own = [each for each in conditions if not visits or each.visit in visits]
    if len({each.visit for each in own}) == 1:
        return {each.code: each for each in own}
    return {f"{each.code}, {each.visit}": each for each in own}


def _unknown(kind: str, name: str, known: Mapping[str, object]) -> StudyError:
    return StudyError.of(
        "no_such_name", where=f"--{kind}", kind=kind, name=name, known="; ".join(known) or "none"
    )


def _fair_choice(walked: Sequence[StoredCondition]) -> ComparisonChoice | None:
    if len(walked) < 2:
        return None
    reference = walked[choose_reference([each.worn for each in walked])]
    others = [each for each in walked if each is not reference]
    fair = [each for each in others if is_fair_pair(reference.worn, each.worn)]
    chosen = [reference, *(fair or others)]
    return ComparisonChoice(tuple(each.id for each in walked if each in chosen), reference.id)

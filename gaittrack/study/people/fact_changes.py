"""Fill in and correct what is recorded of a person, a visit or what was worn.

In come new values and those that were seen when they were entered, out comes the changed row and an
entry of the history. Nothing that somebody else changed meanwhile is overwritten, and what was
recorded is changed only with a reason.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal

from sqlalchemy import Connection, Table, select, update

from gaittrack.compare.condition import Condition, whole_condition
from gaittrack.errors import StudyError
from gaittrack.record.checking import check_all, refuse_contradictions
from gaittrack.record.registry import FACTS
from gaittrack.study.history import record
from gaittrack.study.people.description import check_brace
from gaittrack.study.people.documents import facts_in, folded, unfolded
from gaittrack.study.people.enrolled import condition_of, described
from gaittrack.study.store import Study
from gaittrack.study.tables import CONDITION, PERSON, VISIT

Part = Literal["person", "visit", "condition"]
_TABLES: Final[dict[str, Table]] = {"person": PERSON, "visit": VISIT, "condition": CONDITION}
_HEIGHTS: Final = ("heel_height_mm", "fore_sole_height_mm")
_DIFFERENTIAL: Final = "heel_sole_differential_mm"


@dataclass(frozen=True, slots=True)
class Recorded:
    """What is recorded of one person, one visit or one condition.

    Attributes
    ----------
    id : int
        Row number.
    person : str
        Code.
    place : str
        ``P01``, ``P01/visit-1`` or ``P01/visit-1/with-brace``.
    facts : mapping of str to value
        Only what is recorded.
    """

    part: Part
    id: int
    person: str
    place: str
    facts: Mapping[str, Any]


def recorded(study: Study, part: Part, row_id: int) -> Recorded:
    """Return what is recorded.

    Raises
    ------
    StudyError
        There is no such row.
    """
    with study.read() as connection:
        return _recorded(connection, part, row_id)


def _recorded(connection: Connection, part: Part, row_id: int) -> Recorded:
    joined = {
        "person": PERSON,
        "visit": PERSON.join(VISIT),
        "condition": PERSON.join(VISIT).join(CONDITION),
    }[part]
    table = _TABLES[part]
    names = [each.c.code.label(name) for name, each in _TABLES.items()]
    names = names[: list(_TABLES).index(part) + 1]
    query = select(*names).add_columns(table).select_from(joined).where(table.c.id == row_id)
    row = connection.execute(query).mappings().first()
    if row is None:
        raise StudyError.of("part_no_longer_in_study", where=part, part=part)
    own = json.loads(row["description"]) if part == "condition" else facts_in(part, row)
    place = "/".join(row[each.name] for each in names)
    return Recorded(part, row_id, row["person"], place, own)


def change_facts(
    study: Study,
    seen: Recorded,
    given: Mapping[str, Any],
    *,
    who: str,
    why: str = "",
) -> dict[str, Any]:
    """Change what is recorded.

    Parameters
    ----------
    seen : Recorded
        What was recorded when the new values were entered.
    given : mapping of str to value or None
        What shall be recorded; None for nothing. Facts that are not named stay.
    why : str, optional
        Needed where something that is recorded changes; not where a gap is filled.

    Returns
    -------
    dict
        The new value of each fact that changed.

    Raises
    ------
    StudyError
        Somebody else changed it meanwhile, there is no reason, or a brace's side contradicts.
    LayoutError
        A value of the wrong kind, or beyond what can be.
    """
    with study.write() as connection:
        now = _as_seen(connection, seen)
        after = _checked(now, given)
        names = [name for name in {**now.facts, **after} if now.facts.get(name) != after.get(name)]
        before = {name: now.facts[name] for name in names if name in now.facts}
        if before and not why.strip():
            raise StudyError.of(
                "reason_needed_for_change", where=now.place, before=", ".join(before)
            )
        changes = {name: after.get(name) for name in names}
        if changes:
            _store(connection, now, after)
            _check_braces(connection, now.person)
            about = {"place": now.place}
            what = f"correct {now.part}" if before else f"complete {now.part}"
            record(
                connection,
                what,
                who=who,
                person=now.person,
                before=about | before,
                after=about | changes,
                why=why.strip(),
            )
    return changes


def _as_seen(connection: Connection, seen: Recorded) -> Recorded:
    """Return what is recorded; refuse what is no longer what was seen."""
    now = _recorded(connection, seen.part, seen.id)
    if dict(now.facts) != dict(seen.facts):
        raise StudyError.of("facts_changed_meanwhile", where=now.place)
    return now


def _checked(now: Recorded, given: Mapping[str, Any]) -> dict[str, Any]:
    """Return all facts as they shall be, in the types of the study."""
    merged = {**now.facts, **given}
    wanted = {name: value for name, value in merged.items() if value is not None}
    new = {name: value for name, value in wanted.items() if now.facts.get(name) != value}
    if unknown := sorted(new.keys() - FACTS[now.part].keys()):
        raise ValueError(f"a {now.part} has no {', '.join(unknown)}")
    after = wanted | check_all(FACTS[now.part], new, now.place)
    if now.part != "condition":
        refuse_contradictions(after, now.place)
        return after
    if any(now.facts.get(name) != after.get(name) for name in _HEIGHTS) and after.get(
        _DIFFERENTIAL
    ) == now.facts.get(_DIFFERENTIAL):
        after.pop(_DIFFERENTIAL, None)  # of the old heights; it is computed from the new ones
    return described(whole_condition(now.place.rpartition("/")[2], after, now.place))


def _store(connection: Connection, now: Recorded, after: Mapping[str, Any]) -> None:
    table = _TABLES[now.part]
    if now.part == "condition":
        values = {"description": json.dumps(dict(after), sort_keys=True)}
    else:
        values = folded(now.part, after)
    connection.execute(update(table).where(table.c.id == now.id).values(**values))


def _check_braces(connection: Connection, person: str) -> None:
    """Refuse sides of braces and of the drop foot that contradict, at whichever visit."""
    query = (
        select(CONDITION, VISIT.c.code.label("visit"), PERSON.c.facts)
        .select_from(PERSON.join(VISIT).join(CONDITION))
        .where(PERSON.c.code == person)
    )
    for row in connection.execute(query).mappings():
        worn: Condition = condition_of(dict(row))
        affected = unfolded("person", row)["affected_side"]
        check_brace(worn, affected, f"{person}/{row['visit']}/{row['code']}")

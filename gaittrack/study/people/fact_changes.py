"""Fill in and correct what is recorded of a person, a visit or what was worn.

In come new values and those that were seen when they were entered, out comes the changed row and an
entry of the history. Nothing that somebody else changed meanwhile is overwritten, and what was
recorded is changed only with a reason.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import Connection, select, update

from gaittrack.compare.fair.condition import Condition, whole_condition
from gaittrack.errors import FactError, StudyError
from gaittrack.record.braces import Brace, named_setting, of_part, whole_facts
from gaittrack.record.checking import check_all, refuse_contradictions
from gaittrack.record.registry import FACTS
from gaittrack.study.history import record
from gaittrack.study.people.description import check_brace, check_code
from gaittrack.study.people.documents import (
    WAYS,
    Part,
    Thing,
    facts_in,
    folded,
    place_of,
    unfolded,
    with_codes,
)
from gaittrack.study.people.enrolled import condition_of, described, id_of
from gaittrack.study.people.rows import ensure_row, find_row
from gaittrack.study.people.things import braces_of, refuse_impossible_now, restate_worn
from gaittrack.study.store import Study
from gaittrack.study.tables import CONDITION, PERSON, VISIT

_HEIGHTS: Final = ("heel_height_mm", "fore_sole_height_mm")
_DIFFERENTIAL: Final = "heel_sole_differential_mm"


@dataclass(frozen=True, slots=True)
class Recorded:
    """What is recorded of one person, visit, condition, brace, setting or aim.

    Attributes
    ----------
    id : int
        Row number.
    person : str
        Code.
    place : str
        ``P01``, ``P01/visit-1``, ``P01/visit-1/with-brace``, ``P01/B1``, ``P01/B1/a``.
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
    query = with_codes(part).where(WAYS[part][-1].c.id == row_id)
    row = connection.execute(query).mappings().first()
    if row is None:
        raise StudyError.of("part_no_longer_in_study", where=part, part=part)
    own = json.loads(row["description"]) if part == "condition" else facts_in(part, row)
    return Recorded(part, row_id, row["code_0"], place_of(part, row), own)


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
        after = _checked(connection, now, given)
        names = [name for name in {**now.facts, **after} if now.facts.get(name) != after.get(name)]
        before = {name: now.facts[name] for name in names if name in now.facts}
        if before and not why.strip():
            raise StudyError.of(
                "reason_needed_for_change", where=now.place, before=", ".join(before)
            )
        changes = {name: after.get(name) for name in names}
        if changes:
            _store(connection, now, after)
            _check_things(connection, now.person)
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


def add_thing(
    study: Study, part: Thing, above: Recorded, code: str, given: Mapping[str, Any], *, who: str
) -> int:
    """Add a brace or an aim of a person, or a setting of a brace.

    Parameters
    ----------
    above : Recorded
        The person, or the brace.
    given : mapping of str to value or None
        None for what is not recorded.

    Returns
    -------
    int
        Row number.

    Raises
    ------
    StudyError
        There is one of that code.
    LayoutError
        No code, a value that cannot be, or one that contradicts others.
    """
    code = code.strip()
    check_code(code, above.place)
    place = f"{above.place}/{code}"
    told = {name: value for name, value in given.items() if value is not None}
    facts = check_all(FACTS[part], told, place)
    table = WAYS[part][-1]
    key = {f"{'brace' if part == 'setting' else 'person'}_id": above.id, "code": code}
    with study.write() as connection:
        _as_seen(connection, above)
        if find_row(connection, table, **key) is not None:
            raise StudyError.of("thing_is_there", where=place)
        added = ensure_row(connection, part, key, facts, (above.person, place), who)
        _check_things(connection, above.person)
    return added


def _as_seen(connection: Connection, seen: Recorded) -> Recorded:
    """Return what is recorded; refuse what is no longer what was seen."""
    now = _recorded(connection, seen.part, seen.id)
    if dict(now.facts) != dict(seen.facts):
        raise StudyError.of("facts_changed_meanwhile", where=now.place)
    return now


def _checked(connection: Connection, now: Recorded, given: Mapping[str, Any]) -> dict[str, Any]:
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
    after = _of_its_brace(connection, now, after)
    if any(now.facts.get(name) != after.get(name) for name in _HEIGHTS) and after.get(
        _DIFFERENTIAL
    ) == now.facts.get(_DIFFERENTIAL):
        after.pop(_DIFFERENTIAL, None)  # of the old heights; it is computed from the new ones
    return described(whole_condition(now.place.rpartition("/")[2], after, now.place))


def _of_its_brace(connection: Connection, now: Recorded, after: dict[str, Any]) -> dict[str, Any]:
    """Return the facts of a condition with what is recorded of the brace that it names.

    Raises
    ------
    FactError
        There is no such brace or setting, or the condition says otherwise.
    """
    named = named_setting(after)
    if named is None:
        return whole_facts(after, {}, now.place)
    person_id = id_of(connection, now.person)
    braces = braces_of(connection, person_id or 0)
    for name, code, known in (
        ("brace", named[0], braces),
        ("setting", named[1], braces.get(named[0], Brace()).settings),
    ):
        if code not in known:
            codes = ", ".join(known) or "none"
            raise FactError.about(name, "no_such_thing", where=now.place, value=code, codes=codes)
    is_of_brace = of_part(now.facts, "brace", "setting") if named_setting(now.facts) else {}
    own = {n: v for n, v in after.items() if n not in is_of_brace or v != is_of_brace[n]}
    there = {**braces[named[0]].facts, **braces[named[0]].settings[named[1]]}
    for name in of_part(own, "brace", "setting"):
        if name not in there:
            raise FactError.about(
                name,
                "brace_says_otherwise",
                where=now.place,
                said=own[name],
                there="not recorded",
                brace=named[0],
                setting=named[1],
            )
    return whole_facts(own, braces, now.place)


def _store(connection: Connection, now: Recorded, after: Mapping[str, Any]) -> None:
    table = WAYS[now.part][-1]
    if now.part == "condition":
        values = {"description": json.dumps(dict(after), sort_keys=True)}
    else:
        values = folded(now.part, after)
    connection.execute(update(table).where(table.c.id == now.id).values(**values))


def _check_things(connection: Connection, person: str) -> None:
    """Bring what was worn to its brace; refuse days, aims and sides that cannot be."""
    person_id = id_of(connection, person) or 0
    restate_worn(connection, person_id)
    refuse_impossible_now(connection, person_id, person)
    query = (
        select(CONDITION, VISIT.c.code.label("visit"), PERSON.c.facts)
        .select_from(PERSON.join(VISIT).join(CONDITION))
        .where(PERSON.c.code == person)
    )
    for row in connection.execute(query).mappings():
        worn: Condition = condition_of(dict(row))
        affected = unfolded("person", row)["affected_side"]
        check_brace(worn, affected, f"{person}/{row['visit']}/{row['code']}")

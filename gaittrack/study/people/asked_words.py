"""Words that are in no closed list: which there are, and what they mean when somebody has said it.

In comes a study, out come the words with what an export makes of them; in come meanings, out come
the stored facts with the word of the list, the history of each person, and a setting of the
laboratory, so that nobody is asked twice.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, update

from gaittrack.reasons import Reason
from gaittrack.record.checking import is_asked_about
from gaittrack.record.closed_lists import OTHER
from gaittrack.record.legs import weaker_on_other_leg
from gaittrack.record.meant_words import (
    MeantWords,
    check_meaning,
    folded_word,
    with_meaning,
)
from gaittrack.record.registry import FACTS, Fact
from gaittrack.record.wording import fact_label, full_label
from gaittrack.study.history import record
from gaittrack.study.laboratory import keep_words, laboratory_words
from gaittrack.study.people.description import Visit
from gaittrack.study.people.documents import (
    WAYS,
    StoredDocument,
    column_of,
    stored_documents,
)
from gaittrack.study.store import Study


@dataclass(frozen=True, slots=True)
class AskedWord:
    """Words as somebody wrote them.

    Attributes
    ----------
    list : str
        The closed list of the facts that hold them.
    becomes : str
        What leaves the laboratory in their place: ``other`` until somebody says more.
    is_settled : bool
        Somebody has said so.
    facts : tuple of str
        Names of the facts that hold them now.
    people : tuple of str
        Codes.
    """

    list: str
    typed: str
    becomes: str
    is_settled: bool
    facts: tuple[str, ...] = ()
    people: tuple[str, ...] = ()


def asked_words(study: Study) -> list[AskedWord]:
    """Return words that are in no closed list: first those that wait for a meaning.

    Returns
    -------
    list of AskedWord
        Also those whose meaning was said, which are facts no longer.
    """
    with study.read() as connection:
        meant = laboratory_words(connection)
        held = _held(connection)
    found = [
        AskedWord(
            name,
            typed,
            meant.get(name, {}).get(folded_word(typed), OTHER),
            folded_word(typed) in meant.get(name, {}),
            tuple(sorted({fact for fact, _ in places})),
            tuple(sorted({person for _, person in places})),
        )
        for (name, typed), places in held.items()
    ]
    seen = {(each.list, folded_word(each.typed)) for each in found}
    settled = [(name, typed, word) for name, own in meant.items() for typed, word in own.items()]
    found += [AskedWord(*each, True) for each in settled if each[:2] not in seen]
    return sorted(found, key=lambda each: (each.is_settled, each.list, each.typed))


def _held(connection: Connection) -> dict[tuple[str, str], list[tuple[str, str]]]:
    held: dict[tuple[str, str], list[tuple[str, str]]] = {}
    for document in stored_documents(connection):
        for fact, value in _asked_of(document.part, document.facts):
            held.setdefault((fact.list, value), []).append((fact.plain, document.person))
    return held


def _asked_of(part: str, facts: Mapping[str, Any]) -> Iterator[tuple[Fact, str]]:
    lines = FACTS[part]
    for name, value in facts.items():
        if is_asked_about(lines[name], value):
            yield lines[name], value


def told_words(visit: Visit, condition: str) -> str:
    """Return which words about a visit and one of its conditions are in no list; or nothing."""
    worn = visit.conditions.get(condition)
    documents = [
        ("person", visit.person_facts),
        ("visit", visit.facts),
        ("condition", worn.facts if worn else {}),
    ]
    said = [
        f"{full_label(fact)}: {value}"
        for part, facts in documents
        for fact, value in _asked_of(part, facts)
    ]
    told = f"In no list, so kept as written, and exported as other: {'; '.join(said)}."
    return told if said else ""


def told_weakness(facts: Mapping[str, Any], affected_side: object) -> str:
    """Return which strengths of an examination contradict the affected side; or nothing."""
    weaker = weaker_on_other_leg(facts, affected_side)
    if not weaker:
        return ""
    said = Reason(
        "weaker_on_other_leg", side=str(affected_side), strengths=tuple(map(fact_label, weaker))
    )
    return f"{said.say()} {said.say(part='action')}"


def settle_words(study: Study, meanings: MeantWords, *, who: str, why: str = "") -> int:
    """Say what words mean, for good: also of those that come later.

    Parameters
    ----------
    meanings : mapping of list to words to word of the list
        ``other`` for words that are none of the list.

    Returns
    -------
    int
        Facts that are stored otherwise now.

    Raises
    ------
    LayoutError
        A meaning is not of its list.
    """
    new: dict[str, dict[str, str]] = {}
    for name, own in meanings.items():
        for typed, word in own.items():
            check_meaning(name, typed, word, name)
            new.setdefault(name, {})[folded_word(typed)] = word
    with study.write() as connection:
        before = laboratory_words(connection)
        meant = {name: {**before.get(name, {}), **new.get(name, {})} for name in {**before, **new}}
        keep_words(connection, meant, who=who, why=why)
        changed = [_settle(connection, each, meant, who) for each in stored_documents(connection)]
    return sum(changed)


def _settle(connection: Connection, document: StoredDocument, meant: MeantWords, who: str) -> int:
    after = with_meaning(FACTS[document.part], document.facts, meant)
    names = [name for name in after if after[name] != document.facts[name]]
    if names:
        table, text = WAYS[document.part][-1], json.dumps(after, sort_keys=True)
        change = update(table).where(table.c.id == document.id)
        connection.execute(change.values({column_of(document.part): text}))
        record(
            connection,
            "settle words",
            who=who,
            person=document.person,
            before={name: document.facts[name] for name in names},
            after={name: after[name] for name in names},
        )
    return len(names)

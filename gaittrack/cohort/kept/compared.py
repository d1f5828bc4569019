"""Compare what is stored of a person, once, for every screen that shows it of many.

In comes a person of a study, out come the parts that are kept: the answers of the visits, the
person over them, the changes of each measure as a cohort shows them, and what one line says.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import pandas as pd
from sqlalchemy import Connection

from gaittrack.answer import Answer, from_stored, to_stored
from gaittrack.answer.sentences import chip_of_finding
from gaittrack.cohort.kept.kept_changes import ABOUT, Parts, keep_parts, kept_parts
from gaittrack.cohort.kept.person_stamps import person_stamps
from gaittrack.cohort.kept.visit_answer import ANSWERS, FAIR, fair_part
from gaittrack.cohort.people.deidentify import closed
from gaittrack.cohort.people.from_study import cohort_source
from gaittrack.cohort.people.source import CohortSource
from gaittrack.cohort.tables.changes import change_table
from gaittrack.compare.row_words import count_words
from gaittrack.errors import ComparisonError
from gaittrack.reasons import Reason
from gaittrack.record.visit_facts import PersonFacts, examined_names
from gaittrack.study.checksums import DAMAGED
from gaittrack.study.people.enrolled import id_of
from gaittrack.study.people.facts import facts_of_person
from gaittrack.study.results.follow import follow_person, stale_words
from gaittrack.study.results.keeping import KnownTrial
from gaittrack.study.results.over_visits import Following
from gaittrack.study.results.visit_answers import (
    Given,
    VisitAnswer,
    compared_answers,
    compared_visits,
    given_by,
    visit_answers,
)
from gaittrack.study.store import Study

FOLLOWED: Final = "followed"


def compared_parts(study: Study, code: str) -> dict[str, Any] | None:
    """Compare a person; return the parts, None of somebody who is not there.

    Returns
    -------
    dict of str to plain values or None
        ``answers``; ``fair``, what is beside them; ``followed``, the person over the visits; the
        changes of each measure by its name, column by column; and ``about``: why there are no
        changes (``problem``), which walks are left out as damaged (``damaged``), ``measures``,
        ``pairs`` and ``roles`` of the changes, and the person's newest answer.
    """
    with study.read() as connection:
        number = id_of(connection, code)
    person = None if number is None else facts_of_person(study, number)
    if person is None:
        return None
    changes, about = _changes(study, person.code)
    visits = compared_visits(study, person.id)
    given = {visit: given_by(found) for visit, found in visits.items()}
    about["newest"] = newest_line(visit_answers(study, person, given))
    stored = {visit: _stored(each) for visit, each in given.items()}
    fair = {v: fair_part(found) for v, found in visits.items() if not isinstance(found, str)}
    return {ANSWERS: stored, FAIR: fair, **_followed(study, code), ABOUT: about, **changes}


def _followed(study: Study, code: str) -> dict[str, Any]:
    """Return the person over the visits; nothing where that cannot be compared."""
    try:
        found = follow_person(study, code)
    except ComparisonError:
        return {}
    return {FOLLOWED: to_stored(replace(found, stale=()))}


def _changes(study: Study, code: str) -> tuple[dict[str, Any], dict[str, Any]]:
    source = closed(cohort_source(study, people=[code]), {code: code})
    about: dict[str, Any] = {"problem": "", "damaged": _damage_words(source)}
    table = pd.DataFrame()
    try:
        table = change_table(source).drop(columns="export_id", errors="ignore")
    except ComparisonError as error:
        about["problem"] = str(error)
    if table.empty:
        return {}, about | {"measures": [], "pairs": [], "roles": []}
    names = ["condition_code", "reference_code"]
    about["pairs"] = table[names].drop_duplicates().to_numpy().tolist()
    about["roles"] = sorted(set(table["side_role"]))
    parts = {str(name): _columns(own) for name, own in table.groupby("measure_id")}
    return parts, about | {"measures": list(parts)}


def kept_changes_of(study: Study, connection: Connection, code: str) -> pd.DataFrame | None:
    """Return the changes of a person, compared and kept now where they were not.

    Parameters
    ----------
    connection : Connection
        Sees the state of the study that is meant.

    Returns
    -------
    DataFrame or None
        As ``changes.change_table``, without ``export_id``; None where nothing is kept that holds:
        with damaged results, walks that cannot be compared, or a study that changed since.
    """
    number = id_of(connection, code)
    stamps = {} if number is None else person_stamps(connection, [number])
    if number is None or code not in stamps:
        return None
    kept, _ = kept_parts(connection, None, stamps, [number])
    parts: Parts | None = kept.get(code)
    if parts is None:
        made = compare_and_keep(study, code, stamps[code])
        parts = made[0] if made is not None and made[1] else None
    if parts is None or parts[ABOUT]["problem"]:
        return None
    return _table_of([parts[name] for name in parts[ABOUT]["measures"]])


def _table_of(parts: Sequence[Mapping[str, Any]]) -> pd.DataFrame:
    """Return what :func:`_columns` made parts of, one below the other."""
    columns: dict[str, list[Any]] = {}
    for part in parts:
        n = part["rows"]
        for name, own in part["columns"].items():
            columns.setdefault(name, []).extend(own * n if len(own) == 1 else own)
    return pd.DataFrame(columns)


def _columns(table: pd.DataFrame) -> dict[str, Any]:
    """Return cells column by column; of those that are all alike the first, to be read sooner."""
    cells = table.to_dict("list")
    told = {name: own[:1] if len(set(map(repr, own))) == 1 else own for name, own in cells.items()}
    return {"rows": len(table), "columns": told}


def _damage_words(source: CohortSource) -> str:
    if not source.damaged:
        return ""
    places = [
        f"visit {visit}, {condition}: {count_words(count, 'walk')}"
        for (_, visit, condition), count in source.damaged.items()
    ]
    return (
        f"{'; '.join(places)} left out, the stored result is damaged; measure it again on the "
        "screen People, or with gaittrack recompute."
    )


def _stored(given: Given) -> Any:
    return given if isinstance(given, str) else list(map(to_stored, given))


def newest_line(told: Sequence[VisitAnswer]) -> dict[str, Any]:
    """Return the newest answer of a person as one line shows it; why there is none without one.

    Returns
    -------
    dict
        ``visit``; ``others``: how many further conditions have an answer; ``verdicts``: legs of
        each question with their verdict and the code of its chip; ``signs``: codes of new ones;
        ``examined``: what was found that no recording shows. Or ``why``: of the newest visit that
        could not be compared, empty where no visit has two conditions.
    """
    answered = [(each, each.answer) for each in told if each.answer is not None]
    if not answered:
        return {"why": next((each.why for each in reversed(told) if each.why), "")}
    at, newest = answered[-1]
    verdicts: dict[str, list[list[str]]] = {}
    for each in newest.findings:
        leg = "" if each.is_of_both_legs else each.side
        told_leg = [leg, each.verdict, chip_of_finding(each).code]
        verdicts.setdefault(each.question, []).append(told_leg)
    return {
        "visit": at.visit.code,
        "others": len(at.others),
        "verdicts": verdicts,
        "signs": list(dict.fromkeys(item.sign for item in newest.new_signs)),
        "examined": examined_names(at.visit),
    }


def told_of_person(
    study: Study, person: PersonFacts, stale: Sequence[tuple[KnownTrial, Reason]]
) -> tuple[dict[str, Given], Following]:
    """Return the answers of a person's visits, and the person over them.

    As kept where that holds, else compared now; where stored results are damaged, without these.

    Parameters
    ----------
    stale : sequence of (KnownTrial, Reason)
        Of the person, as of :func:`gaittrack.study.results.keeping.stale_trials`.
    """
    is_damaged = any(why == DAMAGED for _, why in stale)
    kept = {} if is_damaged else _kept_of(study, person)
    given, followed = kept.get(ANSWERS), kept.get(FOLLOWED)
    answers = compared_answers(study, person.id) if given is None else _answers_of(given)
    if followed is None:
        return answers, follow_person(study, person.code)
    found = from_stored(Following, followed)
    return answers, replace(found, person=person.code, stale=stale_words(stale))


def _answers_of(given: Mapping[str, Any]) -> dict[str, Given]:
    return {
        visit: each if isinstance(each, str) else tuple(from_stored(Answer, one) for one in each)
        for visit, each in given.items()
    }


def _kept_of(study: Study, person: PersonFacts) -> Mapping[str, Any]:
    """Return the parts kept of a person that hold."""
    with study.read() as connection:
        stamps = person_stamps(connection, [person.id])
        kept, broken = kept_parts(connection, [ANSWERS, FOLLOWED], stamps, [person.id])
    for code in broken:
        compare_and_keep(study, code, stamps[code])
    return kept.get(person.code, {})


@dataclass(frozen=True, eq=False, slots=True)
class Compared:
    """What there is of people, compared and not changed since.

    Attributes
    ----------
    stamps : mapping of person to str
        Of everybody.
    about : mapping of person to dict
        As of :func:`compared_parts`.
    """

    stamps: Mapping[str, str]
    about: Mapping[str, Mapping[str, Any]]

    @property
    def missing(self) -> list[str]:
        """Who still has to be compared."""
        return [code for code in self.stamps if code not in self.about]


def kept_of(study: Study, people: Collection[int] | None = None) -> Compared:
    """Return what is kept of people and holds.

    Parameters
    ----------
    people : collection of int, optional
        Row numbers; everybody by default.
    """
    with study.read() as connection:
        stamps = person_stamps(connection, people)
        kept, _ = kept_parts(connection, [ABOUT], stamps, people)
    return Compared(stamps, {code: parts[ABOUT] for code, parts in kept.items()})


def compare_and_keep(study: Study, code: str, stamp: str) -> tuple[Parts, bool] | None:
    """Compare a person and keep that.

    Parameters
    ----------
    stamp : str
        As read before.

    Returns
    -------
    (Parts, bool) or None
        Whether it is kept: not with damaged results, nor while the study cannot be written. None of
        somebody who is not there any more.
    """
    parts = compared_parts(study, code)
    if parts is None:
        return None
    return parts, not parts[ABOUT]["damaged"] and keep_parts(study, code, parts, stamp)

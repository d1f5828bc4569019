"""A study in Python: people, walks and changes as tables.

In comes the folder of a study, or the address of its database, out comes an :class:`OpenStudy` to
read from. Nothing is measured and nothing is changed.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from types import TracebackType
from typing import Any, Final

import pandas as pd
from sqlalchemy import Select, select

from gaittrack.cohort.people.from_study import cohort_source
from gaittrack.compare.judged.walk_tables import (
    STRIDE_COLUMNS,
    VALUE_COLUMNS,
    strides_table,
    values_table,
)
from gaittrack.compare.walked.walks import WalkRecord
from gaittrack.notebook_view import Shown, SmallTable
from gaittrack.notice import NOTICE
from gaittrack.record.registry import CONDITION as WORN
from gaittrack.study import store
from gaittrack.study.people.enrolled import find_person
from gaittrack.study.recordings.overview import ListedPerson, list_people
from gaittrack.study.results.comparing import StoredComparison, compare_stored, conditions_of
from gaittrack.study.results.first_choice import choose_by_name
from gaittrack.study.results.keeping import stale_trials
from gaittrack.study.store import Study
from gaittrack.study.tables import CONDITION, DOWN_TO_TRIAL, PERSON, RESULT, TRIAL, VISIT
from gaittrack.table_cells import stacked
from gaittrack.walk_folders import Place

RECORDING_COLUMNS: Final = (
    *("person", "visit", "condition", "trial", "file", "sha256", "state", "reason", "stale"),
)
"""Columns of :meth:`OpenStudy.files`: ``state`` is measured, refused, not measured or standing;
``reason`` says why it was refused, ``stale`` why a result is not of today's settings."""
_ADDRESS: Final = "://"
_NO_FOLDER: Final = "database"
_MOST_SHOWN: Final = 20


@dataclass(frozen=True, eq=False, slots=True, repr=False)
class OpenStudy(Shown):
    """A study to read from; ``with`` closes it.

    Attributes
    ----------
    study : Study
        For functions of ``gaittrack.study``.
    """

    study: Study

    def __enter__(self) -> OpenStudy:
        """Give the study."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Close it."""
        self.close()

    def close(self) -> None:
        """Let go of the database."""
        self.study.close()

    def people(self) -> pd.DataFrame:
        """Return one row per person: ``person``, facts, last visit, numbers of visits and walks."""
        with self.study.read() as connection:
            found = [asdict(each) for each in list_people(connection)]
        table = pd.DataFrame(found, columns=[each.name for each in fields(ListedPerson)])
        return table.drop(columns="id").rename(columns={"code": "person"})

    def visits(self, person: str | None = None) -> pd.DataFrame:
        """Return one row per visit, with what was found at it, in the order of time."""
        return cohort_source(self.study, people=self._who(person), with_walks=False).visits

    def conditions(self, person: str | None = None) -> pd.DataFrame:
        """Return one row per condition of a visit: what was worn, how it was walked."""
        who = self._who(person)
        found = cohort_source(self.study, people=who, with_walks=False).conditions
        rows = [(*place, *(worn.facts.get(name) for name in WORN)) for place, worn in found.items()]
        return pd.DataFrame(rows, columns=["person", "visit", "condition", *WORN])

    def files(self, person: str | None = None) -> pd.DataFrame:
        """Return every recording and what became of it; see ``RECORDING_COLUMNS``."""
        query = _recordings(self._who(person))
        told = stale_trials(self.study, person=person)
        stale = {trial.id: str(why) for trial, why in told}
        with self.study.read() as connection:
            rows = [_with_state(dict(row), stale) for row in connection.execute(query).mappings()]
        return pd.DataFrame(rows, columns=list(RECORDING_COLUMNS))

    def values(self, person: str | None = None) -> pd.DataFrame:
        """Return the value of each walk, by measure and side.

        Returns
        -------
        DataFrame
            ``person``, then as :func:`gaittrack.compare.judged.walk_tables.values_table`.
        """
        return self._by_person(values_table, VALUE_COLUMNS, person)

    def strides(self, person: str | None = None) -> pd.DataFrame:
        """Return every stride of each walk, by measure and side: of one person, better than of all.

        Returns
        -------
        DataFrame
            ``person``, then as :func:`gaittrack.compare.judged.walk_tables.strides_table`.
        """
        return self._by_person(strides_table, STRIDE_COLUMNS, person)

    def compare(
        self,
        person: str,
        visits: str | Sequence[str] = (),
        *,
        conditions: Sequence[str] = (),
        reference: str | None = None,
    ) -> StoredComparison:
        """Compare conditions of a person from stored results.

        Parameters
        ----------
        person : str
            Code.
        visits : str or sequence of str
            By default the last one that has two conditions.
        conditions : sequence of str
            What to compare; over several visits named with them, ``with-brace, visit-2``. By
            default the fair pair: the same shoes without and with the brace.
        reference : str, optional
            The one of them that the others are compared with; by default without a brace.

        Returns
        -------
        StoredComparison
            With its tables ``changes()``, ``values()`` and ``strides()``.

        Raises
        ------
        StudyError
            A name is not known, or there is nothing to compare.
        ComparisonError
            A condition has no walk.

        Examples
        --------
        >>> import gaittrack
        >>> with gaittrack.open_study("my-study") as study:  # doctest: +SKIP
        ...     changes = study.compare("P01", "visit-1").changes()
        """
        with self.study.read() as connection:
            person_id = find_person(connection, person)["id"]
        chosen = choose_by_name(
            conditions_of(self.study, person_id),
            visits=[visits] if isinstance(visits, str) else visits,
            names=conditions,
            reference=reference,
        )
        return compare_stored(self.study, chosen.conditions, reference=chosen.reference)

    def _who(self, person: str | None) -> list[str] | None:
        """Return whose rows are wanted; refuse somebody who is not there."""
        if person is None:
            return None
        with self.study.read() as connection:
            find_person(connection, person)
        return [person]

    def _by_person(
        self,
        table: Callable[[Iterable[WalkRecord]], pd.DataFrame],
        columns: Sequence[str],
        person: str | None,
    ) -> pd.DataFrame:
        records: dict[str, list[WalkRecord]] = {}
        for walk in cohort_source(self.study, people=self._who(person)).walks:
            records.setdefault(walk.person, []).append(walk.record)
        tables = [table(own).assign(person=code) for code, own in records.items()]
        columns = ["person", *columns]
        return stacked(tables, columns)[columns]

    def _facts(self) -> Mapping[str, object]:
        return {"folder": self.study.folder, "database": self.study.engine.dialect.name}

    def _small_table(self) -> SmallTable:
        people = self.people()
        shown = people.head(_MOST_SHOWN)
        more = len(people) - len(shown)
        notes = (f"and {more} more: see people()", NOTICE) if more else (NOTICE,)
        return SmallTable(list(shown.columns), tuple(shown.to_numpy().tolist()), notes)


def open_study(folder: Place, *, url: str | None = None) -> OpenStudy:
    """Open a study to read from.

    Parameters
    ----------
    folder : path or str
        Folder of the study, or the address of its database (``postgresql://USER@HOST/NAME``).
    url : str, optional
        The database, where the folder is given too.

    Returns
    -------
    OpenStudy
        With its tables ``people()``, ``visits()``, ``conditions()``, ``files()``, ``values()``,
        ``strides()``, and ``compare()``. Leave it with ``close()``, or open it in a ``with``.

    Raises
    ------
    StudyError
        There is no study, it cannot be opened, or it is of an older version: what would change it
        is left to ``gaittrack study verify``.

    Examples
    --------
    >>> import gaittrack
    >>> with gaittrack.open_study("my-study") as study:  # doctest: +SKIP
    ...     walks = study.values("P01")
    """
    place = os.fspath(folder)
    if url is None and _ADDRESS in place:
        return OpenStudy(store.open_study(Path(_NO_FOLDER), url=place, take_steps=False))
    return OpenStudy(store.open_study(Path(place), url=url, take_steps=False))


def _recordings(people: Sequence[str] | None) -> Select[Any]:
    query = (
        select(
            *(PERSON.c.code.label("person"), VISIT.c.code.label("visit"), TRIAL.c.id),
            *(CONDITION.c.code.label("condition"), TRIAL.c.code.label("trial"), TRIAL.c.kind),
            *(TRIAL.c.file_name.label("file"), TRIAL.c.sha256, RESULT.c.refusal),
        )
        .select_from(DOWN_TO_TRIAL.outerjoin(RESULT))
        .order_by(PERSON.c.code, VISIT.c.number, VISIT.c.code, CONDITION.c.code, TRIAL.c.code)
    )
    return query if people is None else query.where(PERSON.c.code.in_(people))


def _with_state(row: dict[str, Any], stale: Mapping[int, str]) -> dict[str, Any]:
    if row["kind"] != "walk":
        state = row["kind"]
    elif row["refusal"] is None:
        state = "not measured"
    else:
        state = "refused" if row["refusal"] else "measured"
    return row | {"state": state, "reason": row["refusal"] or "", "stale": stale.get(row["id"], "")}

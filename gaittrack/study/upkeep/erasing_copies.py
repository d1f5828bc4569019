"""Erase a person from the copies of a study that lie in its own folder or database.

In come a study and a person, out comes which copies held the person, and whether they still do.
Copies are what migrating leaves behind, and whatever somebody put into the folder. Those elsewhere
cannot be known.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from sqlalchemy import Connection, delete, inspect, text

from gaittrack.errors import StudyError
from gaittrack.study.history import forget
from gaittrack.study.originals import FOLDER
from gaittrack.study.store import DATABASE, Study, sqlite_engine
from gaittrack.study.tables import KEPT_CHANGES, PERSON
from gaittrack.study.upkeep.manifest import UNFINISHED

_SQLITE: Final = b"SQLite format 3\x00"
_OF_A_TRIAL: Final = ("trial_mean", "result", "event", "correction")


@dataclass(frozen=True, slots=True)
class Erasure:
    """What an erasure did.

    Attributes
    ----------
    n_originals : int
        Original files deleted.
    cleaned : tuple of str
        Copies inside of the study, by name, that held the person and do not any more.
    uncleaned : tuple of str
        Those that still hold the person, each with the reason; sheets with walks of others too.
    """

    n_originals: int
    cleaned: tuple[str, ...] = ()
    uncleaned: tuple[str, ...] = ()


def clean_copies(
    study: Study, person: str, *, who: str, why: str
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Erase a person from every copy in the study's folder and on its server.

    Parameters
    ----------
    who, why : str
        As for the erasure itself; kept in the history of each copy.

    Returns
    -------
    cleaned, uncleaned : tuple of str
        As in :class:`Erasure`.
    """
    cleaned, uncleaned = [], []
    for path in _copies(study.folder, person):
        name = path.relative_to(study.folder).as_posix()
        try:
            if any(part.endswith(UNFINISHED) for part in path.relative_to(study.folder).parts):
                raise StudyError.of("copy_broken_off", where=name)
            if (path.parent / FOLDER).is_dir() and path.parent != study.folder:
                raise StudyError.of("whole_study_originals_own", where=name)
            _clean(path, person, who=who, why=why)
            cleaned.append(name)
        except StudyError as error:
            uncleaned.append(f"{name}: {error}")
    if study.engine.dialect.name != "sqlite":
        cleaned += _clean_tables(study, person)
    return tuple(cleaned), tuple(uncleaned)


def _copies(folder: Path, person: str) -> Iterator[Path]:
    """Give the databases in a folder, its own left out, that know a person."""
    for path in sorted(folder.rglob("*")):
        is_own = path.parent == folder and path.name == DATABASE
        in_originals = path.is_relative_to(folder / FOLDER)
        if path.is_file() and not is_own and not in_originals and _holds(path, person):
            yield path


def _holds(path: Path, person: str) -> bool:
    try:
        with path.open("rb") as file:
            if file.read(len(_SQLITE)) != _SQLITE:
                return False
        with closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)) as plain:
            found = [
                plain.execute(f"SELECT 1 FROM {table} WHERE {column} = ?", (person,)).fetchone()
                for table, column in (("person", "code"), ("history", "person"))
            ]
    except (OSError, sqlite3.Error):
        return False
    return any(found)


def _clean(path: Path, person: str, *, who: str, why: str) -> None:
    copy = Study(path.parent, sqlite_engine(path))
    try:
        with copy.write() as connection:
            connection.execute(delete(PERSON).where(PERSON.c.code == person))
            forget(connection, person, who=who, why=why)
        with copy.read() as connection:
            raw = connection.connection.cursor()
            raw.execute("PRAGMA journal_mode = DELETE")
    finally:
        copy.close()


def _clean_tables(study: Study, person: str) -> list[str]:
    """Erase a person from the copies of tables that migrating left on a server."""
    cleaned = []
    with study.write() as connection:
        tables = set(inspect(connection).get_table_names())
        for people in sorted(name for name in tables if name.startswith("version_")):
            start = people.removesuffix("person")
            if start != people and f"{start}history" in tables:
                if _clean_one_copy(connection, start, person, tables):
                    cleaned.append(f"{start}*")
    return cleaned


def _clean_one_copy(connection: Connection, start: str, person: str, tables: set[str]) -> bool:
    quote = connection.dialect.identifier_preparer.quote
    own = {"person": f"SELECT id FROM {quote(start + 'person')} WHERE code = :person"}
    for table, parent in (("visit", "person"), ("condition", "visit"), ("trial", "condition")):
        own[table] = f"SELECT id FROM {quote(start + table)} WHERE {parent}_id IN ({own[parent]})"
    given = {"person": person}
    held = bool(connection.execute(text(own["person"]), given).first())
    for table in _OF_A_TRIAL:
        where = f"trial_id IN ({own['trial']})"
        connection.execute(text(f"DELETE FROM {quote(start + table)} WHERE {where}"), given)
    if f"{start}{KEPT_CHANGES.name}" in tables:
        where = f"person_id IN ({own['person']})"
        connection.execute(
            text(f"DELETE FROM {quote(start + KEPT_CHANGES.name)} WHERE {where}"), given
        )
    for table in ("trial", "condition", "visit", "person"):
        where = f"id IN ({own[table]})"
        connection.execute(text(f"DELETE FROM {quote(start + table)} WHERE {where}"), given)
    change = "SET person = NULL, content = NULL, salt = NULL WHERE person = :person"
    done = connection.execute(text(f"UPDATE {quote(start + 'history')} {change}"), given)
    return held or done.rowcount > 0

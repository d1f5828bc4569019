"""A study: one folder with its database, its originals and backups of older versions.

In comes a folder (and, for PostgreSQL, a URL), out comes a :class:`Study` to read from and write
to. One process writes at a time; others wait a little, then get a clear message. Whatever a
database or a disk can refuse becomes a :class:`StudyError` that says what to do.
"""

from __future__ import annotations

import errno
import logging
import os
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from sqlalchemy import (
    Connection,
    Engine,
    create_engine,
    event,
    insert,
    inspect,
    select,
    text,
)
from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError

from gaittrack import __version__
from gaittrack.errors import StudyBusyError, StudyError
from gaittrack.study.history import last_sequence, utc_now
from gaittrack.study.history_end import history_end, keep_end
from gaittrack.study.migrating import migrate
from gaittrack.study.originals import FOLDER, PRIVATE_FILE, PRIVATE_FOLDER, kept_files
from gaittrack.study.states import seal_states
from gaittrack.study.tables import METADATA, SCHEMA_VERSION, STUDY

DATABASE: Final = "study.db"
LONGEST_WAIT_S: Final = 10
"""How long a writer waits for another before it gives up; own choice."""
_WRITES: Final = "gaittrack_writes"
_ITS_ROW: Final = select(STUDY.c.id).with_for_update()
_LOG: Final = logging.getLogger(__name__)
_NO_SPACE: Final = (errno.ENOSPC, errno.EDQUOT)
_LEAST_FREE_BYTES: Final = 65_536
"""SQLite's index of its log takes 32 KiB, the log some more; own choice."""
_NOT_WRITABLE: Final = (errno.EROFS, errno.EACCES, errno.EPERM)


@dataclass(frozen=True, slots=True)
class Study:
    """An open study."""

    folder: Path
    engine: Engine

    @contextmanager
    def read(self) -> Iterator[Connection]:
        """Give a connection that sees one state of the study throughout."""
        with explained(self.folder), self.engine.connect() as connection:
            yield connection

    @contextmanager
    def write(self) -> Iterator[Connection]:
        """Give a connection whose changes are kept together at the end, or not at all.

        Raises
        ------
        StudyError
            Another process keeps writing, or the disk refuses.
        """
        with explained(self.folder), self.engine.connect() as plain:
            connection = plain.execution_options(**{_WRITES: True})
            with connection.begin():
                connection.execute(_ITS_ROW).all()
                before = last_sequence(connection)
                yield connection
                seal_states(connection, after=before)
                end = history_end(connection)
            if end.n_entries > before and self._is_own_database():
                keep_end(self.folder, end)

    def _is_own_database(self) -> bool:
        """Tell whether the database is the study's, and no copy of it in the same folder."""
        name = self.engine.url.database
        return self.engine.dialect.name != "sqlite" or Path(str(name)) == self.folder / DATABASE

    def close(self) -> None:
        """Let go of the database."""
        self.engine.dispose()


def create_study(
    folder: Path, *, url: str | None = None, fill: Callable[[Connection], None] | None = None
) -> Study:
    """Make a new study.

    Parameters
    ----------
    folder : Path
        New, or empty; only its owner may read it.
    url : str, optional
        A PostgreSQL database in place of the SQLite file in the folder; it must be empty.
    fill : callable, optional
        Puts what the study begins with into its tables: it is there with that, or not at all.

    Raises
    ------
    StudyError
        The folder holds something else, a study is there already, or it cannot be written.
    """
    with explained(folder):
        folder.mkdir(mode=PRIVATE_FOLDER, parents=True, exist_ok=True)
        strange = [path.name for path in folder.iterdir() if path.name != FOLDER]
        if any(name.startswith(DATABASE) for name in strange) or (url is None and strange):
            raise StudyError.of(
                "study_folder_not_empty", where=folder, strange=", ".join(sorted(strange)[:5])
            )
        if kept_files(folder):
            raise StudyError.of("folder_holds_originals_another_study", where=folder)
        folder.chmod(PRIVATE_FOLDER)
        (folder / FOLDER).mkdir(mode=PRIVATE_FOLDER, exist_ok=True)
        if url is None:
            _make_private_file(folder / DATABASE)
    study = Study(folder, _engine(folder, url))
    try:
        _make_tables(study, fill)
    except BaseException:
        study.close()
        raise
    return study


def _make_tables(study: Study, fill: Callable[[Connection], None] | None) -> None:
    with explained(study.folder), study.engine.connect() as plain:
        connection = plain.execution_options(**{_WRITES: True})
        with connection.begin():
            _refuse_filled(connection, study.folder)
            _fill(connection, fill)


def _fill(connection: Connection, fill: Callable[[Connection], None] | None) -> None:
    METADATA.create_all(connection)
    connection.execute(insert(STUDY).values(_first_row()))
    if fill is not None:
        fill(connection)


def _first_row() -> dict[str, Any]:
    return {
        "id": 1,
        "schema_version": SCHEMA_VERSION,
        "created_utc": utc_now(),
        "software_version": __version__,
    }


def _refuse_filled(connection: Connection, folder: Path) -> None:
    if inspect(connection).get_table_names():
        raise StudyError.of("database_not_empty", where=folder)


def _make_private_file(path: Path) -> None:
    os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR, PRIVATE_FILE))


def open_study(folder: Path, *, url: str | None = None, take_steps: bool = True) -> Study:
    """Open a study that exists; one of an older version is brought to today's, with a backup.

    That this was done is logged as a warning, which stands on stderr unless a program says where.

    Parameters
    ----------
    url : str, optional
        The PostgreSQL database it was made with.
    take_steps : bool
        False: refuse an older version, and change nothing.

    Raises
    ------
    StudyError
        There is no study, it is of a newer version, or it cannot be opened or migrated.
    """
    if url is None and not (folder / DATABASE).is_file():
        raise _no_study(folder)
    study = Study(folder, _engine(folder, url))
    try:
        with study.read() as connection:
            is_old = _is_older(connection, folder)
        if is_old and not take_steps:
            raise StudyError.of("study_of_older_version", where=folder)
        if is_old:
            with study.write() as connection:
                found, kept = migrate(connection, folder, folder / DATABASE)
            if kept:
                _LOG.warning(
                    "%s: the study was brought from version %d to %d; as it was before, it is kept "
                    "as %s.",
                    *(folder, found, SCHEMA_VERSION, kept),
                )
    except StudyError:
        study.close()
        raise
    return study


def open_or_create_study(folder: Path, *, url: str | None = None) -> Study:
    """Open the study in a folder, or make it when the folder is new or empty.

    Parameters
    ----------
    url : str, optional
        As in :func:`open_study`.

    Raises
    ------
    StudyError
        As in :func:`open_study` and :func:`create_study`.
    """
    if not has_study(folder, url=url):
        return create_study(folder, url=url)
    if url is None:
        _finish_making(folder)
    return open_study(folder, url=url)


def has_study(folder: Path, *, url: str | None = None) -> bool:
    """Tell whether a study, or one whose making was broken off, is there.

    Parameters
    ----------
    url : str, optional
        As in :func:`open_study`.

    Raises
    ------
    StudyError
        The database cannot be asked.
    """
    if url is None:
        return (folder / DATABASE).is_file()
    with explained(folder), _engine(folder, url).connect() as connection:
        return inspect(connection).has_table(STUDY.name)


def _finish_making(folder: Path) -> None:
    """Make the tables of a database whose making was broken off; wait for one that goes on.

    They come in one transaction, yet the file and its header stand before it.
    """
    study = Study(folder, _engine(folder, None))
    with explained(folder), study.engine.connect() as plain:
        if not inspect(plain).get_table_names():
            plain.rollback()
            connection = plain.execution_options(**{_WRITES: True})
            with connection.begin():
                if not inspect(connection).get_table_names():
                    _fill(connection, None)
    study.close()


def _is_older(connection: Connection, folder: Path) -> bool:
    """Tell whether a study has to be migrated; refuse what is none, or is newer."""
    if not inspect(connection).has_table(STUDY.name):
        raise _no_study(folder)
    found = connection.execute(select(STUDY.c.schema_version)).scalar()
    if found is None:
        raise _no_study(folder)
    if found > SCHEMA_VERSION:
        raise StudyError.of(
            "study_of_newer_version",
            where=folder,
            found=found,
            schema_version=SCHEMA_VERSION,
        )
    return bool(found < SCHEMA_VERSION)


def _no_study(folder: Path) -> StudyError:
    return StudyError.of("not_study", where=folder)


def sqlite_engine(path: Path) -> Engine:
    """Return the engine for a database file, set as every study's: safe, and for one writer."""
    return _engine(path.parent, f"sqlite:///{path}")


def _engine(folder: Path, url: str | None) -> Engine:
    place = url or f"sqlite:///{folder / DATABASE}"
    try:
        engine = create_engine(place)
    except (ArgumentError, NoSuchModuleError, ImportError) as error:
        raise StudyError.of(
            "database_cannot_used", where="database URL", error=str(error)
        ) from error
    if engine.dialect.name == "sqlite":
        event.listen(engine, "connect", _set_up_sqlite)
        event.listen(engine, "begin", _begin_sqlite)
    else:
        event.listen(engine, "begin", _begin_postgresql)
    return engine


def _set_up_sqlite(connection: sqlite3.Connection, _record: object) -> None:
    connection.isolation_level = None  # transactions are begun below, not guessed by the driver
    for pragma in (
        f"busy_timeout = {1000 * LONGEST_WAIT_S}",
        "journal_mode = WAL",
        "synchronous = FULL",
        "foreign_keys = ON",
        "secure_delete = ON",
    ):
        connection.execute(f"PRAGMA {pragma}")


def _begin_sqlite(connection: Connection) -> None:
    writes = connection.get_execution_options().get(_WRITES)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def _begin_postgresql(connection: Connection) -> None:
    if not connection.get_execution_options().get(_WRITES):
        connection.execute(text("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ"))
    connection.execute(text(f"SET LOCAL lock_timeout = '{LONGEST_WAIT_S}s'"))


@contextmanager
def explained(folder: Path) -> Iterator[None]:
    """Turn what a disk or a database refuses into a :class:`StudyError`."""
    try:
        yield
    except DBAPIError as error:
        raise _explanation(_cause(str(error.orig), folder), folder) from error
    except sqlite3.Error as error:
        raise _explanation(_cause(str(error), folder), folder) from error
    except UnicodeDecodeError as error:  # of what a damaged database says of itself
        raise StudyError.of("database_damaged", where=folder) from error
    except OSError as error:
        raise _explanation(_words_of(error), folder) from error


def _cause(words: str, folder: Path) -> str:
    """Name a full or read-only disk where SQLite, which writes even to read, does not."""
    if ("unable to open" in words or "disk I/O" in words) and folder.is_dir():
        if not os.access(folder, os.W_OK):
            return "readonly"
        if shutil.disk_usage(folder).free < _LEAST_FREE_BYTES:
            return "disk is full"
    return words


def _words_of(error: OSError) -> str:
    if error.errno in _NO_SPACE:
        return "disk is full"
    if error.errno in _NOT_WRITABLE:
        return f"readonly: {error.strerror}"
    return str(error)


_BUSY: Final = "study_is_written_to"
_REFUSALS: Final = {
    _BUSY: ("locked", "lock timeout", "busy"),
    "disk_full": ("is full", "no space left"),
    "study_not_writable": ("readonly", "read-only", "permission denied"),
    "database_damaged": ("not a database", "malformed", "disk image"),
    "database_not_opened": ("unable to open", "connection", "could not translate"),
}
"""Code of the error, and what the words of a database or a disk then hold."""


def _explanation(words: str, folder: Path) -> StudyError:
    for code, signs in _REFUSALS.items():
        if any(sign in words.lower() for sign in signs):
            kind = StudyBusyError if code == _BUSY else StudyError
            return kind.of(code, where=folder)
    first_line = words.strip().splitlines()[0] if words.strip() else "no reason given"
    return StudyError.of("study_refused", where=folder, first_line=first_line)

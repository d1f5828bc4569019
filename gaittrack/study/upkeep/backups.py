"""Copy a whole study: into a backup, and back out of one.

In come a study and a folder, out comes a second study with the same content, whole or not at all. A
backup is itself a study on SQLite; it is restored into a new folder, and into PostgreSQL if wanted.
"""

from __future__ import annotations

import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Final

from sqlalchemy import Connection, delete, func, insert, select, text

from gaittrack.errors import StudyError
from gaittrack.study.history import record
from gaittrack.study.originals import keep_original, original_path
from gaittrack.study.store import DATABASE, Study, create_study, explained, open_study
from gaittrack.study.tables import METADATA, STUDY, TRIAL
from gaittrack.study.upkeep.needed_originals import originals_of

_ROWS_AT_ONCE: Final = 500


def back_up(study: Study, target: Path) -> int:
    """Copy a study, as it is at this instant, into a new folder.

    Parameters
    ----------
    target : Path
        New or empty. It holds an SQLite database whatever the study uses.

    Returns
    -------
    int
        Number of originals copied.

    Raises
    ------
    StudyError
        The folder is not empty, the disk refuses, or an original is missing or damaged.
    """
    _refuse_inside(target, study.folder)
    with _new_study(target, None) as copy:
        return _copy(study, study.folder, copy)


def restore(backup: Path, target: Path, *, who: str, url: str | None = None) -> int:
    """Make a study out of a backup, which stays as it is, also one of an older version.

    Parameters
    ----------
    backup : Path
        Folder of the backup.
    target : Path
        New or empty folder.
    who : str
        Stands in the history of the new study.
    url : str, optional
        An empty PostgreSQL database in place of a file in the folder.

    Returns
    -------
    int
        Number of originals copied.

    Raises
    ------
    StudyError
        There is no backup, the target is not empty, the disk or the server refuses, or an original
        is missing or damaged. Then nothing is left at the target.
    """
    _refuse_inside(target, backup)
    with tempfile.TemporaryDirectory(prefix="gaittrack-") as scratch:
        _copy_database(backup, Path(scratch))
        source = open_study(Path(scratch))
        try:
            with _new_study(target, url) as study:
                n_files = _copy(source, backup, study)
                with study.write() as connection:
                    record(connection, "restore", who=who, after={"originals": n_files})
        finally:
            source.close()
    return n_files


def _refuse_inside(target: Path, folder: Path) -> None:
    if target.resolve().is_relative_to(folder.resolve()):
        raise StudyError(
            "A copy inside of a study would be lost with it.",
            where=str(target),
            action="Name a folder elsewhere, best on another disk.",
        )


def _copy_database(backup: Path, scratch: Path) -> None:
    """Copy a backup's database to where it may be brought to today's version."""
    path = backup / DATABASE
    if not path.is_file():
        raise StudyError(
            "This is not a backup of a study.",
            where=str(backup),
            action=f"Name the folder that holds {DATABASE} and originals.",
        )
    is_open = path.with_name(f"{DATABASE}-wal").exists()
    way = "mode=ro" if is_open else "immutable=1"  # the second also where nothing may be written
    with explained(backup):
        with closing(sqlite3.connect(f"{path.resolve().as_uri()}?{way}", uri=True)) as plain:
            plain.execute("VACUUM INTO ?", (str(scratch / DATABASE),))


@contextmanager
def _new_study(folder: Path, url: str | None) -> Iterator[Study]:
    """Give a new study in an empty folder; take it away again when it cannot be filled."""
    if folder.is_dir() and any(folder.iterdir()):
        raise StudyError(
            "The folder is not empty.", where=str(folder), action="Name a new folder for the copy."
        )
    try:
        study = create_study(folder, url=url)
        try:
            yield study
        except BaseException:
            if url is not None:
                METADATA.drop_all(study.engine)
            raise
        finally:
            study.close()
    except BaseException:
        shutil.rmtree(folder, ignore_errors=True)
        raise


def _copy(study: Study, folder: Path, copy: Study) -> int:
    """Copy originals, then all rows at once; return the number of originals."""
    with study.read() as source:
        files = originals_of(source)
        with explained(copy.folder):
            for sha256, suffix in files:
                keep_original(copy.folder, original_path(folder, sha256, suffix), sha256)
        with copy.write() as sink:
            _copy_tables(source, sink)
    return len(files)


def _copy_tables(source: Connection, sink: Connection) -> None:
    sink.execute(delete(STUDY))
    for table in METADATA.sorted_tables:
        query = select(table)
        if table is TRIAL:
            query = query.order_by(TRIAL.c.standing_id.is_not(None))  # standing trials come first
        rows = source.execute(query).mappings()
        while some := rows.fetchmany(_ROWS_AT_ONCE):
            sink.execute(insert(table), [dict(row) for row in some])
        if sink.dialect.name != "sqlite" and "id" in table.c:
            last = sink.execute(select(func.max(table.c.id))).scalar()
            count_on = text("SELECT setval(pg_get_serial_sequence(:name, 'id'), :last)")
            if last is not None:
                sink.execute(count_on, {"name": table.name, "last": last})

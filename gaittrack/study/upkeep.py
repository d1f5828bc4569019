"""Look after a study: settings, back up, verify, erase a person.

In comes a study, out come a changed setting, a second study with the same content, a list of
faults, or a study without a person. A backup is itself a study: it is restored by opening it, or by
copying its folder back.
"""

from __future__ import annotations

import shutil
from pathlib import Path

from sqlalchemy import ColumnElement, Connection, delete, insert, select, text

from gaittrack.errors import StudyError
from gaittrack.study.copies import Erasure, clean_copies
from gaittrack.study.history import faults, forget, record
from gaittrack.study.laboratory import READERS
from gaittrack.study.originals import (
    hash_of,
    keep_original,
    kept_files,
    original_path,
    plain_suffix,
)
from gaittrack.study.people import find_person
from gaittrack.study.store import Study, create_study, explained
from gaittrack.study.tables import (
    CONDITION,
    METADATA,
    PERSON,
    REMOVAL,
    SETTING,
    STUDY,
    TRIAL,
    VISIT,
)

_ROWS_AT_ONCE = 500


def set_setting(study: Study, name: str, path: Path, *, who: str, why: str) -> None:
    """Put a laboratory's file into the study; results that depend on it become stale.

    Parameters
    ----------
    study : Study
    name : {"map", "floors", "typical"}
    path : Path
        Map file, floors from repeat visits, or reference values (TOML).
    who, why : str

    Raises
    ------
    LayoutError
        The file does not hold what it should.
    """
    if name not in READERS:
        raise ValueError(f"name must be one of {sorted(READERS)}, got {name!r}")
    READERS[name](path)
    with study.write() as connection:
        mine = SETTING.c.name == name
        before = connection.execute(select(SETTING).where(mine)).mappings().first()
        connection.execute(delete(SETTING).where(mine))
        row = {"file_name": path.name, "content": path.read_text(encoding="utf-8")}
        connection.execute(insert(SETTING).values(name=name, **row))
        record(connection, f"set {name}", who=who, before=dict(before or {}), after=row, why=why)


def originals_of(
    connection: Connection, wanted: ColumnElement[bool] | None = None
) -> dict[tuple[str, str], str]:
    """Return the originals of trials, events tables too: (hash, suffix) → file name.

    Parameters
    ----------
    connection : Connection
    wanted : SQL expression, optional
        On trials, conditions and visits; all of them without it.

    Returns
    -------
    dict
    """
    columns = (TRIAL.c.sha256, TRIAL.c.suffix, TRIAL.c.file_name)
    query = select(*columns, TRIAL.c.events_sha256, TRIAL.c.events_file_name)
    query = query.select_from(VISIT.join(CONDITION).join(TRIAL))
    found = {}
    for sha256, suffix, name, events_sha256, events_name in connection.execute(
        query if wanted is None else query.where(wanted)
    ):
        found[sha256, suffix] = name
        if events_sha256 is not None:
            found[events_sha256, plain_suffix(Path(events_name))] = events_name
    return found


def back_up(study: Study, target: Path) -> int:
    """Copy a study, as it is at this instant, into a new folder.

    Parameters
    ----------
    study : Study
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
    if target.resolve().is_relative_to(study.folder.resolve()):
        raise StudyError(
            "A backup inside of the study would be lost with it.",
            where=str(target),
            action="Name a folder elsewhere, best on another disk.",
        )
    copy = create_study(target)
    try:
        with study.read() as source:
            with copy.write() as sink:
                _copy_tables(source, sink)
            files = originals_of(source)
        with explained(target):
            for sha256, suffix in files:
                keep_original(target, original_path(study.folder, sha256, suffix), sha256)
    except (StudyError, OSError):
        copy.close()
        shutil.rmtree(target, ignore_errors=True)
        raise
    copy.close()
    return len(files)


def _copy_tables(source: Connection, sink: Connection) -> None:
    sink.execute(text("PRAGMA defer_foreign_keys = ON"))  # walks may stand before their standing
    sink.execute(delete(STUDY))
    for table in METADATA.sorted_tables:
        rows = source.execute(select(table)).mappings()
        while some := rows.fetchmany(_ROWS_AT_ONCE):
            sink.execute(insert(table), [dict(row) for row in some])


def verify(study: Study) -> list[str]:
    """Look for damage.

    Parameters
    ----------
    study : Study

    Returns
    -------
    list of str
        What is wrong: the database's own checks, the chain of the history, originals that are
        missing or changed, files that nothing refers to. Empty for a sound study.
    """
    with study.read() as connection:
        found = _database_faults(connection) + faults(connection)
        originals = originals_of(connection)
    expected = set()
    for (sha256, suffix), file_name in originals.items():
        path = original_path(study.folder, sha256, suffix)
        expected.add(path)
        if not path.is_file():
            found.append(f"the original of {file_name} is missing: {path.name}")
        elif hash_of(path) != sha256:
            found.append(f"the original of {file_name} was changed: {path.name}")
    strays = [path for path in kept_files(study.folder) if path not in expected]
    left = "an import was broken off; run it again, or delete the file"
    return [*found, *(f"no trial refers to the file {path}: {left}" for path in strays)]


def _database_faults(connection: Connection) -> list[str]:
    if connection.dialect.name != "sqlite":
        return []
    words = connection.exec_driver_sql("PRAGMA integrity_check").scalars().all()
    loose = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
    found = [f"database: {word}" for word in words if word != "ok"]
    return found + [f"database: a row of {row[0]} refers to nothing" for row in loose]


def erase_person(study: Study, code: str, *, who: str, why: str) -> Erasure:
    """Erase a person: rows, results, originals, and the content of the history about them.

    The history keeps that an erasure took place, by whom, when and why; not whose. Copies inside of
    the study's folder, as migrating leaves them, are cleaned too; backups elsewhere still hold the
    person.

    Parameters
    ----------
    study : Study
    code : str
    who, why : str
        ``why`` stays in the history: it must not name the person.

    Returns
    -------
    Erasure

    Raises
    ------
    StudyError
        Unknown person, the reason names the person, or the study cannot be written.
    """
    if code.lower() in why.lower():
        raise StudyError(
            "The reason names the person, and would stay.",
            where="reason",
            action="Say why without the code.",
        )
    with study.read() as connection:
        find_person(connection, code)
    # Copies first: broken off here, the person is still known, and can be erased again.
    cleaned, uncleaned = clean_copies(study, code, who=who, why=why)
    with study.write() as connection:
        person = find_person(connection, code)
        mine = originals_of(connection, VISIT.c.person_id == person["id"])
        pending = set(connection.execute(select(REMOVAL.c.sha256)).scalars())
        hashes = {sha256: suffix for sha256, suffix in mine if sha256 not in pending}
        rows = [{"sha256": sha256, "suffix": suffix} for sha256, suffix in hashes.items()]
        if rows:
            connection.execute(insert(REMOVAL), rows)
        connection.execute(delete(PERSON).where(PERSON.c.id == person["id"]))
        forget(connection, code, who=who, why=why)
    n_deleted = finish_removals(study)
    _empty_write_ahead_log(study)
    return Erasure(n_deleted, cleaned, uncleaned)


def finish_removals(study: Study) -> int:
    """Delete the originals of erased people; also what a broken-off erasure left.

    Returns the number of files deleted. A file that another trial still needs stays.
    """
    n_deleted = 0
    with study.write() as connection:
        needed = {sha256 for sha256, _ in originals_of(connection)}
        for sha256, suffix in connection.execute(select(REMOVAL.c.sha256, REMOVAL.c.suffix)).all():
            path = original_path(study.folder, sha256, suffix)
            if sha256 not in needed and path.is_file():
                path.unlink()
                n_deleted += 1
            connection.execute(delete(REMOVAL).where(REMOVAL.c.sha256 == sha256))
    return n_deleted


def _empty_write_ahead_log(study: Study) -> None:
    """Move SQLite's log into its database, where deleted content is overwritten with zeros.

    Raises
    ------
    StudyError
        Another program still reads, and so holds the log.
    """
    if study.engine.dialect.name != "sqlite":
        return
    with explained(study.folder), study.engine.connect() as connection:
        cursor = connection.connection.cursor()
        cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        is_busy = any(row[0] for row in cursor.fetchall())
    if is_busy:
        raise StudyError(
            "The person is erased, but another program has the study open: what was erased stays "
            "in the database's log until it closes.",
            where=str(study.folder),
            action="Close every program that uses the study.",
        )

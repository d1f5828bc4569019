"""Copy a whole study: into a backup, and back out of one.

In come a study and a folder, out comes a second study with the same content, whole or not at all:
it is made in ``FOLDER.unfinished`` and takes its own name when every byte is on the disk. A backup
is itself a study on SQLite with a list of what it holds (``manifest.py``), against which it is
checked before it is restored: into a new folder, and into PostgreSQL if wanted.
"""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Iterable, Iterator, Set
from contextlib import closing, contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from sqlalchemy import Connection, delete, func, insert, select, text

from gaittrack.errors import StudyError
from gaittrack.scratch import scratch_folder, sweep_scratch
from gaittrack.study.history import record
from gaittrack.study.history_end import HistoryEnd, history_end, keep_end
from gaittrack.study.originals import (
    PRIVATE_FOLDER,
    is_stored_as,
    keep_original,
    original_path,
    sync_folder,
)
from gaittrack.study.states import seal_states
from gaittrack.study.store import DATABASE, Study, create_study, explained, open_study
from gaittrack.study.tables import METADATA, STUDY, TRIAL
from gaittrack.study.upkeep.manifest import (
    FIRST_WITH_MANIFEST,
    MANIFEST,
    UNFINISHED,
    Manifest,
    manifest_faults,
    read_manifest,
    write_manifest,
)
from gaittrack.study.upkeep.needed_originals import originals_of
from gaittrack.study.upkeep.verifying import verify

_ROWS_AT_ONCE: Final = 500
_MOST_FAULTS: Final = 5
_ANOTHER: Final = "Restore another backup."
_BROKEN_OFF: Final = (
    f"{_ANOTHER} This one was broken off, or is a study and no backup: a study is opened as it is, "
    "and backed up with gaittrack study backup."
)


@dataclass(frozen=True, slots=True)
class BackedUp:
    """What was backed up.

    Attributes
    ----------
    n_originals : int
        Original files copied.
    lost : tuple of str
        Names of those that the study itself had lost, or that were changed: the backup holds the
        numbers measured from them, and says that they are not in it.
    """

    n_originals: int
    lost: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Restored:
    """What was restored.

    Attributes
    ----------
    n_originals : int
        Original files copied.
    lost : tuple of str
        Names of originals that were lost already when the backup was made.
    has_manifest : bool
        Whether the backup said what it holds; those of older versions do not.
    """

    n_originals: int
    has_manifest: bool
    lost: tuple[str, ...] = ()


def back_up(study: Study, target: Path) -> BackedUp:
    """Copy a study, as it is at this instant, into a new folder.

    Parameters
    ----------
    target : Path
        New or empty. It holds an SQLite database whatever the study uses.

    Raises
    ------
    StudyError
        The folder is not empty, or the disk refuses.
    """
    _refuse_inside(target, study.folder)
    with _aside(target) as part, study.read() as source:
        files = originals_of(source)
        lost = {key: name for key, name in files.items() if not _is_there(study.folder, key)}

        def fill(copy: Connection) -> None:
            _copy_originals(study.folder, part, files.keys() - lost.keys())
            _copy_tables(source, copy)

        create_study(part, fill=fill).close()
        keep_end(part, history_end(source))
        write_manifest(part, history_end(source), [_file_of(key) for key in lost])
        _take_name(part, target)
    return BackedUp(len(files) - len(lost), tuple(lost.values()))


def _is_there(folder: Path, key: tuple[str, str]) -> bool:
    return is_stored_as(original_path(folder, *key), key[0])


def _file_of(key: tuple[str, str]) -> str:
    return "".join(key)


def restore(backup: Path, target: Path, *, who: str, url: str | None = None) -> Restored:
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

    Raises
    ------
    StudyError
        There is no backup, it is not whole or was changed, the target is not empty, or the disk or
        the server refuses. Then nothing is left at the target.
    """
    _refuse_inside(target, backup)
    sweep_scratch()
    with explained(target), scratch_folder() as scratch:
        manifest = _checked(backup)
        version, end = _copy_database(backup, scratch)
        if manifest is None and version >= FIRST_WITH_MANIFEST:
            raise _not_as_made(backup, [f"{MANIFEST} is missing"], _BROKEN_OFF)
        if manifest is not None and manifest.history != end:
            raise _not_as_made(backup, ["its history ends elsewhere"], _ANOTHER)
        source = open_study(scratch)
        try:
            if manifest is None:
                _refuse_unsound(Study(backup, source.engine), end)
            gone = frozenset() if manifest is None else manifest.lost
            done = _restored(source, backup, target, gone, who=who, url=url)
        finally:
            source.close()
    return replace(done, has_manifest=manifest is not None)


def _restored(
    study: Study, backup: Path, target: Path, gone: Set[str], *, who: str, url: str | None
) -> Restored:
    """Make the new study; on a server its rows are there from the instant the folder is."""
    with _aside(target) as part, study.read() as source:
        every = originals_of(source)
        files = {key for key in every if _file_of(key) not in gone}

        def fill(copy: Connection) -> None:
            _copy_originals(backup, part, files)
            _copy_tables(source, copy)
            entry = record(copy, "restore", who=who, after={"originals": len(files)})
            seal_states(copy, after=entry - 1)
            keep_end(part, history_end(copy))
            if url is not None:
                _take_name(part, target)

        create_study(part, url=url, fill=fill).close()
        if url is None:
            _take_name(part, target)
    lost = tuple(name for key, name in every.items() if key not in files)
    return Restored(len(files), has_manifest=True, lost=lost)


def _refuse_inside(target: Path, folder: Path) -> None:
    if target.resolve().is_relative_to(folder.resolve()):
        raise StudyError.of("copy_inside_study", where=target)


def _checked(backup: Path) -> Manifest | None:
    """Return the manifest of a backup that agrees with it; None where there is none."""
    if backup.name.endswith(UNFINISHED):
        raise StudyError.of("backup_unfinished", where=backup)
    if not (backup / DATABASE).is_file():
        raise StudyError.of("not_backup_study", where=backup, database=DATABASE)
    with explained(backup):
        manifest = read_manifest(backup)
        found = [] if manifest is None else manifest_faults(backup, manifest)
    if found:
        raise _not_as_made(
            backup,
            found,
            f"{_ANOTHER} If somebody went on working in this one, it is a study: check it with "
            "gaittrack study verify --study BACKUP, then back it up anew.",
        )
    return manifest


def _not_as_made(backup: Path, found: list[str], action: str) -> StudyError:
    more = f" and {len(found) - _MOST_FAULTS} more" if len(found) > _MOST_FAULTS else ""
    listed = "; ".join(found[:_MOST_FAULTS])
    return StudyError(
        f"The backup is not as it was made: {listed}{more}.", where=str(backup), action=action
    )


def _refuse_unsound(backup: Study, end: HistoryEnd) -> None:
    """Refuse a backup without a manifest of which not all can be seen to be there."""
    found = verify(backup)
    if not end.n_entries:
        found.append("it is empty, as one that was broken off")
    if found:
        raise _not_as_made(
            backup.folder,
            found,
            "It has no list of what it holds, as backups of earlier versions have none, and is "
            f"restored only when nothing is wrong with it. {_ANOTHER}",
        )


def _copy_database(backup: Path, scratch: Path) -> tuple[int, HistoryEnd]:
    """Copy a backup's database to where it may be brought to today's version.

    Returns its version, 0 when it was never filled, and where its history ends.
    """
    path = backup / DATABASE
    is_open = path.with_name(f"{DATABASE}-wal").exists()
    way = "mode=ro" if is_open else "immutable=1"  # the second also where nothing may be written
    with explained(backup):
        with closing(sqlite3.connect(f"{path.resolve().as_uri()}?{way}", uri=True)) as plain:
            plain.execute("VACUUM INTO ?", (str(scratch / DATABASE),))
            version = plain.execute("SELECT schema_version FROM study").fetchone() or (0,)
            last = "SELECT sequence, hash FROM history ORDER BY sequence DESC LIMIT 1"
            return version[0], HistoryEnd(*(plain.execute(last).fetchone() or (0, "")))


@contextmanager
def _aside(target: Path) -> Iterator[Path]:
    """Give a new folder beside the target to be filled; it is gone again if it cannot be."""
    if target.is_file() or (target.is_dir() and any(target.iterdir())):
        raise StudyError.of("copy_folder_not_empty", where=target)
    target = target.resolve()
    part = target.with_name(target.name + UNFINISHED)
    with explained(target):
        try:
            part.mkdir(mode=PRIVATE_FOLDER, parents=True)
        except FileExistsError as error:
            raise StudyError.of("earlier_copy_unfinished", where=part) from error
    had_folder = target.is_dir()
    try:
        with explained(target):
            yield part
    except BaseException:
        # While the unfinished folder is there, what bears the target's name is somebody else's.
        shutil.rmtree(part if part.exists() else target, ignore_errors=True)
        if had_folder:
            target.mkdir(mode=PRIVATE_FOLDER, exist_ok=True)
        raise


def _take_name(part: Path, target: Path) -> None:
    """Give a finished folder its own name, when all that is in it is on the disk."""
    target = target.resolve()
    for path in (*part.iterdir(), part):
        if path.is_dir():
            sync_folder(path)
    if target.is_dir():
        target.rmdir()
    part.replace(target)
    sync_folder(target.parent)


def _copy_originals(folder: Path, copy: Path, files: Iterable[tuple[str, str]]) -> None:
    for sha256, suffix in files:
        keep_original(copy, original_path(folder, sha256, suffix), sha256)


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

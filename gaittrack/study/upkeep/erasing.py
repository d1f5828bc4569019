"""Erase a person from a study.

In come a study and a person, out comes the study without them: rows, results, originals, and what
the history said of them.
"""

from __future__ import annotations

import re
from pathlib import Path

from sqlalchemy import Connection, delete, insert, select

from gaittrack.errors import StudyError
from gaittrack.part_names import plain_name
from gaittrack.reasons import Reason
from gaittrack.study.history import forget
from gaittrack.study.originals import delete_parts, kept_files, original_path
from gaittrack.study.people.enrolled import find_person
from gaittrack.study.store import Study, explained
from gaittrack.study.tables import PERSON, REMOVAL, VISIT
from gaittrack.study.upkeep.erasing_copies import Erasure, clean_copies
from gaittrack.study.upkeep.needed_originals import originals_of


def erase_person(study: Study, code: str, *, who: str, why: str) -> Erasure:
    """Erase a person: rows, results, originals, and the content of the history about them.

    The history keeps that an erasure took place, by whom, when and why; not whose. Originals that
    no trial refers to, as a broken-off import leaves them, go too: they may be the person's. Copies
    inside of the study's folder, as migrating leaves them, are cleaned; backups elsewhere still
    hold the person.

    Parameters
    ----------
    who, why : str
        ``why`` stays in the history: it must not name the person.

    Raises
    ------
    StudyError
        Unknown person, the reason names the person, or the study cannot be written.
    """
    if code.lower() in why.lower():
        raise StudyError.of("reason_names_person_would_stay", where="reason")
    with study.read() as connection:
        find_person(connection, code)
    # Copies first: broken off here, the person is still known, and can be erased again.
    cleaned, uncleaned = clean_copies(study, code, who=who, why=why)
    with study.write() as connection:
        person = find_person(connection, code)
        mine = originals_of(connection, VISIT.c.person_id == person["id"])
        strays = _strays(connection, study.folder)
        pending = set(connection.execute(select(REMOVAL.c.sha256)).scalars())
        hashes = {sha: suffix for sha, suffix in [*mine, *strays] if sha not in pending}
        rows = [{"sha256": sha256, "suffix": suffix} for sha256, suffix in hashes.items()]
        if rows:
            connection.execute(insert(REMOVAL), rows)
        connection.execute(delete(PERSON).where(PERSON.c.id == person["id"]))
        others = originals_of(connection)
        forget(connection, code, who=who, why=why)
        delete_parts(study.folder)
    n_deleted = finish_removals(study)
    _empty_write_ahead_log(study)
    shared = tuple(
        str(Reason("original_of_others_too", file=plain_name(name)))
        for key, name in mine.items()
        if key in others
    )
    return Erasure(n_deleted, cleaned, (*uncleaned, *dict.fromkeys(shared)))


def _strays(connection: Connection, folder: Path) -> list[tuple[str, str]]:
    """Return the originals that no trial refers to; files of other names are left alone."""
    names = [re.fullmatch(r"([0-9a-f]{64})(\.\w+)?", path.name) for path in kept_files(folder)]
    needed = originals_of(connection)
    found = [(name[1], name[2] or "") for name in names if name]
    return [key for key in found if key not in needed]


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
        raise StudyError.of("erased_but_still_open", where=study.folder)

"""Look for damage in a study.

In comes a study, out comes a list of what is wrong, each with what to do about it.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

from sqlalchemy import Connection, true

from gaittrack.errors import StudyError
from gaittrack.study.checksums import DAMAGED, damaged_kept_changes, damaged_results
from gaittrack.study.history import faults
from gaittrack.study.history_end import end_faults
from gaittrack.study.originals import is_stored_as, kept_files, original_path
from gaittrack.study.results.keeping import known_trials
from gaittrack.study.states import changed_states
from gaittrack.study.store import Study, explained
from gaittrack.study.upkeep.damaged_pages import damaged_pages
from gaittrack.study.upkeep.manifest import manifest_faults, read_manifest
from gaittrack.study.upkeep.needed_originals import originals_of

_MEND: Final = "import the recording again or copy that file out of a backup; its numbers are kept"
_MADE_ANEW: Final = (
    "is damaged and not used; it is made anew, and kept, when they or the cohort are looked at"
)
_BACK_UP_ANEW: Final = (
    "it cannot be restored like this; when it is sound as a study, back it up anew"
)
_LEFT: Final = (
    "an import was broken off, perhaps; run it again, or delete the file; erasing a person deletes "
    "it too, for nobody knows whose it is"
)


def verify(study: Study) -> list[str]:
    """Look for damage.

    Returns
    -------
    list of str
        What is wrong: the database's own checks, the chain of the history and its end, facts,
        corrections and settings that it does not tell of, stored results that are not what was
        measured, originals that are missing or changed, files that nothing refers
        to; for a backup also what is not as it was made; and what to do. Empty for a sound study.
    """
    with study.read() as connection:
        is_file = connection.dialect.name == "sqlite"
        if is_file and (broken := damaged_pages(connection)):  # what else is read would fail there
            return broken + _backup_faults(study.folder)
        found = _loose_rows(connection) + faults(connection)
        found += end_faults(connection, study.folder) + changed_states(connection)
        found += _result_faults(connection)
        originals = originals_of(connection)
    paths = {original_path(study.folder, *key): (key[0], name) for key, name in originals.items()}
    for path, (sha256, name) in paths.items():
        if not path.is_file():
            found.append(f"the original of {name} is missing: {_place(path)}: {_MEND}")
        elif not is_stored_as(path, sha256):
            found.append(f"the original of {name} was changed: {_place(path)}: delete it, {_MEND}")
    strays = [path for path in kept_files(study.folder) if path not in paths]
    found += [f"no trial refers to the file {_place(path)}: {_LEFT}" for path in strays]
    return found + _backup_faults(study.folder)


def _result_faults(connection: Connection) -> list[str]:
    """Return the results that are not what was measured, and the changes not as compared."""
    damaged = damaged_results(connection, true(), is_thorough=True)
    kinds = ("walk", "standing")
    trials = [trial for kind in kinds for trial in known_trials(connection, kind=kind)]
    found = [f"{trial.place}: {DAMAGED}" for trial in trials if trial.id in damaged]
    people = damaged_kept_changes(connection)
    return [
        *found,
        *(f"{code}: what was kept of their answers and changes {_MADE_ANEW}" for code in people),
    ]


def _backup_faults(folder: Path) -> list[str]:
    """Return what of a backup is not as it was made; nothing of a study that is none."""
    with explained(folder):
        try:
            manifest = read_manifest(folder)
            found = [] if manifest is None else manifest_faults(folder, manifest)
        except StudyError as error:
            return [str(error)]
    return [f"as a backup: {fault}: {_BACK_UP_ANEW}" for fault in found]


def _place(path: Path) -> str:
    return "/".join(path.parts[-3:])


def _loose_rows(connection: Connection) -> list[str]:
    if connection.dialect.name != "sqlite":
        return []
    loose = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
    return [f"database: a row of {row[0]} refers to nothing" for row in loose]

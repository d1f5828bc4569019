"""Export a study: as a folder or as one zip file, with an entry in the study's history.

In come an open study and what is wanted, out comes an export that is whole and recorded, or
nothing. The map of the ids never lies in the export.
"""

from __future__ import annotations

import shutil
import tempfile
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import BinaryIO, Final

import pandas as pd
from sqlalchemy import Connection, select

from gaittrack.cohort.asking.view import state_at, study_state
from gaittrack.cohort.disclosure.counted_facts import Everybody, counted
from gaittrack.cohort.export import NAME, PLAIN, ExportOptions, ExportResult, export_people
from gaittrack.cohort.kept.compared import kept_changes_of
from gaittrack.cohort.people.from_study import record_export, source_at
from gaittrack.cohort.people.id_maps import default_id_map
from gaittrack.cohort.people.source import CohortSource
from gaittrack.cohort.people.tracking import Track, untracked
from gaittrack.cohort.release.finishing import package_hash
from gaittrack.cohort.release.releases import next_release
from gaittrack.study.store import Study
from gaittrack.study.tables import PERSON

_AT_ONCE: Final = 250
"""People whose facts are read at once; own choice."""
_OLDEST: Final = (1980, 1, 1, 0, 0, 0)
"""Time stamp of every file in a zip: when it was made is in the study's history only."""


def export_study(
    study: Study,
    out: Path,
    *,
    who: str,
    id_map: Path | None = None,
    options: ExportOptions = PLAIN,
    track: Track = untracked,
) -> ExportResult:
    """Export a study into a folder.

    Parameters
    ----------
    out : Path
        New or empty folder.
    who : str
        Stands in the history.
    id_map : Path, optional
        New file for who is who; by default :func:`default_id_map`.
    track : Track
        Is passed all that takes a while.

    Raises
    ------
    StudyError
        Refused, not written, or somebody was erased meanwhile; then nothing is there.
    ComparisonError
        As :func:`export_people`.
    """
    id_map = id_map or default_id_map(study.folder)
    with study.read() as connection:
        result = export_people(
            _everybody(study, connection),
            partial(_read, study, connection),
            out,
            id_map=id_map,
            options=options,
            release=next_release(connection),
            track=track,
        )
        state = state_at(connection)
    result = replace(result, is_overtaken=state != study_state(study))
    facts = {
        "state": state,
        "release": options.release,
        "selection": options.selection.words,
        "n_people": len(result.protection.people),
        "smallest_group": result.protection.smallest,
        "curves": options.with_curves,
        "bodies": options.with_bodies,
        "export_hash": result.export_hash,
        "package_hash": package_hash(result.folder),
        "id_map": result.id_map.name,
    }
    with _gone_unless_recorded(result):
        people = result.protection.people
        record_export(study, facts, who=who, why=options.override_reason, people=people)
    return result


def export_zip(
    study: Study,
    target: BinaryIO,
    *,
    who: str,
    id_map: Path | None = None,
    options: ExportOptions = PLAIN,
) -> ExportResult:
    """Export a study as a zip file with one folder.

    Parameters
    ----------
    target : binary file
        Open for writing: a temporary file, or ``io.BytesIO``. Untouched by a refusal.
    who, id_map, options
        As :func:`export_study`. The map is not in the zip file.

    Returns
    -------
    ExportResult
        Its ``folder`` is the name in the zip file.

    Raises
    ------
    StudyError
        Refused, or not written; then nothing is there.
    ComparisonError
        As :func:`export_people`.
    """
    with tempfile.TemporaryDirectory(prefix="gaittrack-") as scratch:
        folder = Path(scratch) / NAME
        result = export_study(study, folder, who=who, id_map=id_map, options=options)
        with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
            for path in sorted(each for each in folder.rglob("*") if each.is_file()):
                entry = zipfile.ZipInfo(f"{NAME}/{path.relative_to(folder)}", _OLDEST)
                entry.compress_type = zipfile.ZIP_DEFLATED
                with path.open("rb") as content, archive.open(entry, "w", force_zip64=True) as into:
                    shutil.copyfileobj(content, into)
    return replace(result, folder=Path(NAME))


def _everybody(study: Study, connection: Connection) -> Everybody:
    """Return what is counted of everybody, read some at a time."""
    codes = sorted(connection.execute(select(PERSON.c.code)).scalars())
    starts = range(0, max(1, len(codes)), _AT_ONCE)
    return counted(
        source_at(study, connection, codes[start : start + _AT_ONCE], with_walks=False)
        for start in starts
    )


def _read(
    study: Study, connection: Connection, code: str
) -> tuple[CohortSource, pd.DataFrame | None]:
    """Return a person with walks, and the changes that are kept; as one state of the study."""
    own = source_at(study, connection, [code], with_walks=True)
    return own, None if own.damaged else kept_changes_of(study, connection, code)


@contextmanager
def _gone_unless_recorded(result: ExportResult) -> Iterator[None]:
    """Take an export away again that could not be put into the history."""
    try:
        yield
    except BaseException:
        shutil.rmtree(result.folder)
        result.id_map.unlink()
        raise

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
from datetime import UTC, datetime
from pathlib import Path
from typing import BinaryIO, Final

from gaittrack.cohort.deidentify import Release, closed
from gaittrack.cohort.export import NAME, ExportResult, export_cohort
from gaittrack.cohort.from_study import cohort_source, record_export
from gaittrack.cohort.selection import EVERYBODY, Selection, selected_ids
from gaittrack.cohort.source import CohortSource
from gaittrack.cohort.table import people_table
from gaittrack.study.store import Study

_OLDEST: Final = (1980, 1, 1, 0, 0, 0)
"""Time stamp of every file in a zip: when it was made is in the study's history only."""


def export_study(
    study: Study,
    out: Path,
    *,
    who: str,
    id_map: Path | None = None,
    release: Release = "controlled",
    least_alike: int | None = None,
    with_curves: bool = False,
    with_bodies: bool = False,
    override_reason: str = "",
    selection: Selection = EVERYBODY,
) -> ExportResult:
    """Export a study into a folder.

    Parameters
    ----------
    study : Study
    out : Path
        New or empty folder.
    who : str
        Stands in the history.
    id_map : Path, optional
        New file for who is who; by default :func:`default_id_map`.
    release, least_alike, with_curves, with_bodies, override_reason, selection
        As :func:`export_cohort`.

    Returns
    -------
    ExportResult

    Raises
    ------
    StudyError
        Refused, or not written; then nothing is there.
    ComparisonError
        As :func:`export_cohort`.
    """
    result = export_cohort(
        _wanted(study, selection),
        out,
        id_map=id_map or default_id_map(study.folder),
        release=release,
        least_alike=least_alike,
        with_curves=with_curves,
        with_bodies=with_bodies,
        override_reason=override_reason,
        selection=selection,
    )
    facts = {
        "release": release,
        "selection": selection.words,
        "n_people": result.anonymity.n_people,
        "smallest_group": result.anonymity.smallest,
        "curves": with_curves,
        "bodies": with_bodies,
    }
    with _gone_unless_recorded(result):
        record_export(study, facts, who=who, why=override_reason)
    return result


def export_zip(
    study: Study,
    target: BinaryIO,
    *,
    who: str,
    id_map: Path | None = None,
    release: Release = "controlled",
    least_alike: int | None = None,
    with_curves: bool = False,
    with_bodies: bool = False,
    override_reason: str = "",
    selection: Selection = EVERYBODY,
) -> ExportResult:
    """Export a study as a zip file with one folder.

    Parameters
    ----------
    study : Study
    target : binary file
        Open for writing: a temporary file, or ``io.BytesIO``. Untouched by a refusal.
    who, id_map, release, least_alike, with_curves, with_bodies, override_reason, selection
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
        As :func:`export_cohort`.
    """
    with tempfile.TemporaryDirectory(prefix="gaittrack-") as scratch:
        result = export_study(
            study,
            Path(scratch) / NAME,
            who=who,
            id_map=id_map,
            release=release,
            least_alike=least_alike,
            with_curves=with_curves,
            with_bodies=with_bodies,
            override_reason=override_reason,
            selection=selection,
        )
        with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
            for path in sorted(result.folder.iterdir()):
                entry = zipfile.ZipInfo(f"{NAME}/{path.name}", _OLDEST)
                entry.compress_type = zipfile.ZIP_DEFLATED
                archive.writestr(entry, path.read_bytes())
    return replace(result, folder=Path(NAME))


def default_id_map(folder: Path) -> Path:
    """Return a new file name for who is who, beside the folder of a study."""
    stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%S%f")
    resolved = folder.resolve()
    return resolved.with_name(f"{resolved.name}-id-maps") / f"{stamp}.csv"


def _wanted(study: Study, selection: Selection) -> CohortSource:
    """Return the source with the walks of those only who are meant."""
    if selection == EVERYBODY:
        return cohort_source(study)
    plain = cohort_source(study, with_walks=False)
    codes = [str(code) for code in plain.people["person"]]
    people = people_table(closed(plain, {code: code for code in codes}))
    return cohort_source(study, people=selected_ids(people, selection))


@contextmanager
def _gone_unless_recorded(result: ExportResult) -> Iterator[None]:
    """Take an export away again that could not be put into the history."""
    try:
        yield
    except BaseException:
        shutil.rmtree(result.folder)
        result.id_map.unlink()
        raise

"""Run an export: open the study, write the package, say what is in it.

In come the options of ``gaittrack export``, out come the folder and a few lines of text.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import click

from gaittrack.cohort.export import ExportResult, export_cohort
from gaittrack.cohort.from_study import cohort_source, record_export
from gaittrack.errors import GaitTrackError
from gaittrack.notice import NOTICE
from gaittrack.study.history import current_user
from gaittrack.study.results import stale_trials
from gaittrack.study.store import open_study


def run_export(
    folder: Path, url: str | None, *, id_map: Path | None, who: str | None, **options: Any
) -> None:
    """Export a study and print what was written.

    Parameters
    ----------
    folder : Path
    url : str, optional
    id_map : Path, optional
    who : str, optional
    **options
        As :func:`export_cohort`.

    Raises
    ------
    click.UsageError
        Refused; nothing was written.
    """
    try:
        study = open_study(folder, url=url)
        try:
            stale = stale_trials(study)
            if stale:
                click.echo(
                    f"warning: {len(stale)} walks are stale (column qc_flag and software_version "
                    "tell of other versions); gaittrack recompute measures them again.",
                    err=True,
                )
            target = id_map or _default_map(folder)
            result = export_cohort(cohort_source(study), id_map=target, **options)
            facts = {"release": options["release"], "n_people": result.anonymity.n_people}
            facts |= {
                "smallest_group": result.anonymity.smallest,
                "curves": "curves" in result.n_rows,
            }
            why = options["override_reason"]
            with _gone_unless_recorded(result):
                record_export(study, facts, who=who or current_user(), why=why)
        finally:
            study.close()
    except GaitTrackError as error:
        raise click.UsageError(str(error)) from error
    _print(result)


@contextmanager
def _gone_unless_recorded(result: ExportResult) -> Iterator[None]:
    """Take an export away again that could not be put into the history."""
    try:
        yield
    except BaseException:
        shutil.rmtree(result.folder)
        result.id_map.unlink()
        raise


def _default_map(folder: Path) -> Path:
    stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%S")
    resolved = folder.resolve()
    return resolved.with_name(f"{resolved.name}-id-maps") / f"{stamp}.csv"


def _print(result: ExportResult) -> None:
    for name, count in result.n_rows.items():
        click.echo(f"{name}: {count} rows")
    report = result.anonymity
    click.echo(f"{report.n_people} people; {report.smallest} or more look alike")
    if not report.is_met:
        click.echo(
            f"warning: {report.n_people_below} people are in groups of fewer than {report.least}; "
            "exported for the reason given.",
            err=True,
        )
    click.echo(f"written: {result.folder}")
    click.echo(f"who is who, keep it apart from the export: {result.id_map}")
    click.echo(NOTICE)

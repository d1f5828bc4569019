"""Run an export: open the study, write the package, say what is in it.

In come the options of ``gaittrack export``, out come the folder and a few lines of text.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from gaittrack.cohort.export import ExportResult
from gaittrack.cohort.study_export import export_study
from gaittrack.errors import GaitTrackError
from gaittrack.notice import NOTICE
from gaittrack.study.history import current_user
from gaittrack.study.results import stale_trials
from gaittrack.study.store import open_study


def run_export(
    folder: Path, url: str | None, *, out: Path, who: str | None, **options: Any
) -> None:
    """Export a study and print what was written.

    Parameters
    ----------
    folder : Path
    url : str, optional
    out : Path
    who : str, optional
    **options
        As :func:`export_study`.

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
            click.echo("Comparing everybody and fitting models: this takes a while.", err=True)
            result = export_study(study, out, who=who or current_user(), **options)
        finally:
            study.close()
    except GaitTrackError as error:
        raise click.UsageError(str(error)) from error
    _print(result)


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

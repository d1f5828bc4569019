"""Run an export: open the study, write the package, say what is in it.

In come the options of ``gaittrack export``, out come the folder and a few lines of text.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

import click

from gaittrack.cohort.export import ExportOptions, ExportResult
from gaittrack.cohort.study_export import export_study
from gaittrack.cohort.tracking import Item
from gaittrack.commands.running import bar_over
from gaittrack.commands.study_words import words_lines
from gaittrack.notice import NOTICE
from gaittrack.study.people.asked_words import asked_words
from gaittrack.study.results.keeping import stale_trials
from gaittrack.study.store import Study


def run_export(study: Study, *, out: Path, who: str, id_map: Path | None, **options: Any) -> None:
    """Export a study and print what was written.

    Parameters
    ----------
    **options
        Those of :class:`ExportOptions`.
    """
    stale = stale_trials(study)
    if stale:
        click.echo(
            f"warning: {len(stale)} walks are stale or left out as damaged (column qc_flag "
            "and software_version tell); gaittrack recompute measures them again.",
            err=True,
        )
    for line in words_lines(asked_words(study)):
        click.echo(line)
    asked = ExportOptions(**options)
    _print(export_study(study, out, who=who, id_map=id_map, options=asked, track=with_bar))


def with_bar(label: str, items: Iterable[Item], n_items: int) -> Iterator[Item]:
    """Pass items on under a progress bar."""
    with bar_over(items, n_items, f"{label:<16}") as shown:
        yield from shown


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

"""Run an export: open the study, write the package, say what is in it.

In come the options of ``gaittrack export``, out come the folder and a few lines of text.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import fields
from pathlib import Path
from typing import Any

import click

from gaittrack.cohort.disclosure.lost_words import EXACT_VALUES, lost_lines
from gaittrack.cohort.export import ExportOptions, ExportResult
from gaittrack.cohort.people.tracking import Item
from gaittrack.cohort.release.releases import releases_of
from gaittrack.cohort.study_export import export_study
from gaittrack.cohort.tables.selection import Selection
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
        Those of :class:`ExportOptions` and of :class:`Selection`.
    """
    chosen = Selection(**{each.name: options.pop(each.name) for each in fields(Selection)})
    stale = stale_trials(study)
    if stale:
        click.echo(
            f"warning: {len(stale)} walks are stale or left out as damaged (column qc_flag "
            "and software_version tell); gaittrack recompute measures them again.",
            err=True,
        )
    for line in words_lines(asked_words(study)):
        click.echo(line)
    for line in _told_before(study):
        click.echo(line)
    asked = ExportOptions(**options, selection=chosen)
    _print(export_study(study, out, who=who, id_map=id_map, options=asked, track=with_bar))


def _told_before(study: Study) -> Iterator[str]:
    """Yield what whoever exports has to know before anything is written."""
    yield EXACT_VALUES
    with study.read() as connection:
        n_before = len(releases_of(connection))
    if n_before:
        yield f"Releases before this one: {n_before}; gaittrack study releases lists them."


def with_bar(label: str, items: Iterable[Item], n_items: int) -> Iterator[Item]:
    """Pass items on under a progress bar."""
    with bar_over(items, n_items, f"{label:<16}") as shown:
        yield from shown


def _print(result: ExportResult) -> None:
    for name, count in result.n_rows.items():
        click.echo(f"{name}: {count} rows")
    found = result.protection
    click.echo(f"{len(found.people)} people; {found.smallest} or more look alike")
    for line in lost_lines(found.lost(with_bodies="bodies" in result.n_rows)):
        click.echo(line)
    if not found.is_met:
        click.echo(
            f"warning: fewer than {found.least} people look alike; all was exported for the "
            "reason given.",
            err=True,
        )
    if result.not_in_workbook:
        listed = ", ".join(result.not_in_workbook)
        click.echo(f"not in the workbook, too large for a sheet: {listed}")
    if result.is_overtaken:
        click.echo(
            "warning: the study changed while it was exported; the export holds all of it as it "
            "was at the beginning. Export again for what came in since.",
            err=True,
        )
    click.echo(f"written: {result.folder}")
    click.echo(f"who is who, keep it apart from the export: {result.id_map}")
    click.echo(NOTICE)

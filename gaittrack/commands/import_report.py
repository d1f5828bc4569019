"""Run an import for the command: progress, one line per file, counts.

In come paths and a study folder, out come the report on stdout, refusals on stderr, the exit code.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

import click

from gaittrack.errors import GaitTrackError
from gaittrack.study.history import current_user
from gaittrack.study.importing import import_files
from gaittrack.study.planning import Plan, ReportRow, plan_folders
from gaittrack.study.planning_sheet import plan_sheet
from gaittrack.study.store import DATABASE, Study, open_or_create_study, open_study
from gaittrack.study.upkeep import finish_removals

DONE, SOME_REFUSED = 0, 1


def run_import(
    paths: Sequence[Path],
    folder: Path,
    *,
    url: str | None = None,
    sheet: Path | None = None,
    dry_run: bool = False,
    new_people: bool = False,
    who: str | None = None,
) -> int:
    """Import, report and return the exit code.

    Parameters
    ----------
    paths : sequence of Path
    folder : Path
        Of the study.
    url : str, optional
    sheet : Path, optional
    dry_run, new_people : bool
    who : str, optional

    Returns
    -------
    int

    Raises
    ------
    click.UsageError
        The study or the sheet cannot be used.
    """
    try:
        plan = plan_folders(paths) if sheet is None else plan_sheet(sheet, paths)
        study = _open(folder, url, dry_run=dry_run)
        rows = _import(study, plan, who or current_user(), new_people, dry_run)
    except GaitTrackError as error:
        raise click.UsageError(str(error)) from error
    counts = Counter(row.state for row in rows)
    click.echo(", ".join(f"{count} {state}" for state, count in counts.items()) or "nothing found")
    if dry_run:
        click.echo("dry run: nothing was written")
    return SOME_REFUSED if counts["refused"] else DONE


def _open(folder: Path, url: str | None, *, dry_run: bool) -> Study | None:
    if not dry_run:
        study = open_or_create_study(folder, url=url)
        finish_removals(study)
        return study
    is_there = url is not None or (folder / DATABASE).is_file()
    return open_study(folder, url=url) if is_there else None


def _import(
    study: Study | None, plan: Plan, who: str, new_people: bool, dry_run: bool
) -> list[ReportRow]:
    results = import_files(study, plan, who=who, new_people=new_people, dry_run=dry_run)
    n_rows = len(plan.files) + len(plan.refused)
    found = []
    hidden = n_rows < 2 or not sys.stderr.isatty()
    with click.progressbar(
        results, length=n_rows, label="Importing", file=sys.stderr, hidden=hidden
    ) as rows:
        for row in rows:
            found.append(row)
            _print(row)
    return found


def _print(row: ReportRow) -> None:
    path = row.path.as_posix()
    place = f"{path} -> {row.place}" if row.place else path
    line = f"{row.state}: {place}" + (f": {row.message}" if row.message else "")
    click.echo(line, err=row.state in ("refused", "passed over"))

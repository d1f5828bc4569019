"""Run an import for the command: progress, one line per file, counts.

In come paths and a study folder, out come the report on stdout, refusals on stderr, the exit code.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import click

from gaittrack.commands.running import DONE, NOT_ALL_WELL, bar_over, mistakes_told, print_past
from gaittrack.errors import GaitTrackError
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import EVENTS_ENDING, Plan, ReportRow, plan_folders
from gaittrack.study.recordings.planning_sheet import plan_sheet
from gaittrack.study.results.processes import in_processes, processes_for
from gaittrack.study.store import Study, has_study, open_or_create_study, open_study
from gaittrack.study.upkeep.erasing import finish_removals


def run_import(
    paths: Sequence[Path],
    folder: Path,
    *,
    url: str | None,
    sheet: Path | None,
    events: Path | None,
    n_processes: int | None,
    dry_run: bool,
    new_people: bool,
    same_person: bool,
    who: str,
) -> int:
    """Import, report and return the exit code.

    Parameters
    ----------
    folder : Path
        Of the study.
    events : Path, optional
        Table of events of the one walk given.
    n_processes : int, optional
        That measure; without it one per processor, fewer for few recordings.

    Raises
    ------
    click.UsageError
        The study or the sheet cannot be used, or the events belong to no walk or to several.
    """
    with mistakes_told():
        plan = plan_folders(paths) if sheet is None else plan_sheet(sheet, paths)
        if events is not None:
            plan = _with_events(plan, events)
        study = _open(folder, url, dry_run=dry_run)
        n_walks = sum(file.kind == "walk" for file in plan.files)
        with in_processes(n_processes or processes_for(n_walks)) as measure_all:
            rows = _print_rows(
                import_files(
                    study,
                    plan,
                    who=who,
                    new_people=new_people,
                    same_person=same_person,
                    dry_run=dry_run,
                    measure_all=measure_all,
                ),
                len(plan.files) + len(plan.refused),
            )
    counts = Counter(row.state for row in rows)
    click.echo(", ".join(f"{count} {state}" for state, count in counts.items()) or "nothing found")
    if dry_run:
        click.echo("dry run: nothing was written")
    return NOT_ALL_WELL if counts["refused"] or counts["asked about"] else DONE


def _open(folder: Path, url: str | None, *, dry_run: bool) -> Study | None:
    if not dry_run:
        study = open_or_create_study(folder, url=url)
        finish_removals(study)
        return study
    is_there = has_study(folder, url=url)
    return open_study(folder, url=url, take_steps=False) if is_there else None


def _with_events(plan: Plan, events: Path) -> Plan:
    """Give the events to the one walk of a plan; the table itself is not a recording."""
    files = [file for file in plan.files if file.path.resolve() != events.resolve()]
    walks = {file.path for file in files if file.kind == "walk"}
    if len(walks) != 1:
        raise click.UsageError(
            f"--events belongs to one recording; {len(walks)} are given. Name one file, or put "
            f"NAME{EVENTS_ENDING} beside each NAME."
        )
    given = [replace(f, events=events) if f.kind == "walk" else f for f in files]
    return Plan(given, [row for row in plan.refused if row.path.resolve() != events.resolve()])


def _print_rows(results: Iterator[ReportRow], n_rows: int) -> list[ReportRow]:
    """Print each row as it comes; when it is broken off say what is kept."""
    found: list[ReportRow] = []
    with bar_over(results, n_rows, "Importing", least=2) as rows:
        try:
            for row in rows:
                found.append(row)
                is_told = row.state in ("asked about", "refused", "passed over")
                print_past(rows, _words(row), err=is_told)
        except (KeyboardInterrupt, GaitTrackError):
            n_added = sum(row.state == "added" for row in found)
            click.echo(f"stopped: {n_added} added; run it again to go on from there", err=True)
            raise
    return found


def _words(row: ReportRow) -> str:
    path = row.path.as_posix()
    place = f"{path} -> {row.place}" if row.place else path
    return f"{row.state}: {place}" + (f": {row.message}" if row.message else "")

"""Run an import for the command: progress, one line per file, counts.

In come paths and a study folder, out come the report on stdout, refusals on stderr, the exit code.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

import click

from gaittrack.commands.import_pattern import Archive, planned_archive, refuse_homeless, tell_unworn
from gaittrack.commands.running import DONE, NOT_ALL_WELL, bar_over, mistakes_told, print_past
from gaittrack.errors import GaitTrackError
from gaittrack.lab_map import LabMap
from gaittrack.readable_names import readable
from gaittrack.study.recordings.given_maps import GivenMaps
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import EVENTS_ENDING, Plan, ReportRow, plan_folders
from gaittrack.study.recordings.planning_sheet import plan_sheet
from gaittrack.study.recordings.together import AT_ONCE
from gaittrack.study.results.processes import in_processes, processes_for
from gaittrack.study.store import Study, has_study, open_or_create_study, open_study
from gaittrack.study.upkeep.erasing import finish_removals

_MOST_PASSED_OVER: Final = 10
"""Files passed over that are told one by one; own choice."""


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
    lab_map: Sequence[Path],
    rate_hz: float | None,
    **of_archive: Any,
) -> int:
    """Import, report and return the exit code.

    Parameters
    ----------
    folder : Path
        Of the study.
    events : Path, optional
        Table of events of the one walk given.
    lab_map : sequence of Path
        Maps to keep in the study.
    rate_hz : float, optional
        Of tables that tell none; kept for all with the same columns.
    n_processes : int, optional
        That measure; without it one per processor, fewer for few recordings.
    **of_archive
        As :class:`gaittrack.commands.import_pattern.Archive`.

    Raises
    ------
    click.UsageError
        The study or the sheet cannot be used, the events belong to no walk or to several, or a
        pattern leaves something open.
    """
    archive = Archive(**of_archive)
    archive.refuse_without_pattern(paths)
    options: dict[str, Any] = {"who": who, "new_people": new_people, "same_person": same_person}
    options["at_once"] = AT_ONCE
    with mistakes_told():
        if archive.patterns:
            plan = planned_archive(paths, folder, url, archive, new_people=new_people)
        else:
            plan = _planned(paths, sheet)
        if isinstance(plan, int):
            return plan
        plan = plan if events is None else _with_events(plan, events)
        n_walks = sum(file.kind == "walk" for file in plan.files)
        with (
            _opened(folder, url, dry_run=dry_run) as study,
            in_processes(n_processes or processes_for(n_walks)) as measure_all,
        ):
            options["maps"] = _given_maps(study, plan, lab_map, rate_hz, dry_run=dry_run, who=who)
            rows = import_files(study, plan, dry_run=dry_run, measure_all=measure_all, **options)
            counts = _print_rows(rows, len(plan.files) + len(plan.refused))
    click.echo(", ".join(f"{count} {state}" for state, count in counts.items()) or "nothing found")
    if dry_run:
        click.echo("dry run: nothing was written")
    return NOT_ALL_WELL if counts["refused"] or counts["asked about"] else DONE


def _given_maps(
    study: Study | None,
    plan: Plan,
    files: Sequence[Path],
    rate_hz: float | None,
    *,
    dry_run: bool,
    who: str,
) -> tuple[LabMap, ...]:
    """Return the maps that hold for an import; those given with it are kept first."""
    given = GivenMaps(study)
    for path in files:
        given.add_file(path)
    if rate_hz is not None:
        given.add_rate(rate_hz, plan.files)
    if study is not None and not dry_run:
        for name in given.keep(study, who=who):
            click.echo(f"map {name!r} kept in the study: gaittrack study maps lists all")
    return given.maps


def _planned(paths: Sequence[Path], sheet: Path | None) -> Plan:
    if sheet is not None:
        return plan_sheet(sheet, paths)
    plan = plan_folders(paths)
    refuse_homeless(plan, paths)
    tell_unworn(plan, paths)
    return plan


@contextmanager
def _opened(folder: Path, url: str | None, *, dry_run: bool) -> Iterator[Study | None]:
    """Give the study, made if it is new; for a dry run as it is, or None."""
    if dry_run and not has_study(folder, url=url):
        yield None
        return
    opened = (
        open_study(folder, url=url, take_steps=False)
        if dry_run
        else open_or_create_study(folder, url=url)
    )
    with closing(opened) as study:
        if not dry_run:
            finish_removals(study)
        yield study


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


def _print_rows(results: Iterator[ReportRow], n_rows: int) -> Counter[str]:
    """Print each row as it comes, and return how many of each state; broken off say what is kept.

    Of many files that are passed over only their kinds are told.
    """
    counts: Counter[str] = Counter()
    passed_over: list[ReportRow] = []
    with bar_over(results, n_rows, "Importing", least=2) as rows:
        try:
            for row in rows:
                counts[row.state] += 1
                if row.state == "passed over":
                    passed_over.append(row)
                    continue
                print_past(rows, _words(row), err=row.state in ("asked about", "refused"))
        except (KeyboardInterrupt, GaitTrackError):
            click.echo(
                f"stopped: {counts['added']} added; run it again to go on from there", err=True
            )
            raise
    for line in _passed_over(passed_over):
        click.echo(line, err=True)
    return counts


def _passed_over(rows: Sequence[ReportRow]) -> list[str]:
    if len(rows) <= _MOST_PASSED_OVER:
        return [_words(row) for row in rows]
    kinds = Counter(row.path.suffix.lower() or "without ending" for row in rows)
    told = ", ".join(f"{n} {kind}" for kind, n in kinds.most_common(_MOST_PASSED_OVER))
    return [f"passed over: {len(rows)} files: {told}"]


def _words(row: ReportRow) -> str:
    path = readable(row.path.as_posix())
    place = f"{path} -> {row.place}" if row.place else path
    return f"{row.state}: {place}" + (f": {row.message}" if row.message else "")

"""Try patterns on an archive for the command: what each file would be, as a plan or as a sheet.

In come paths and the options of a pattern, out comes a plan; or, when something is left open, one
error that says all of it, and nothing was stored.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

import click

from gaittrack.atomic_write import write_atomically
from gaittrack.commands.running import DONE, NOT_ALL_WELL, bar_over, writing
from gaittrack.compare.row_words import count_words
from gaittrack.errors import StudyError
from gaittrack.lab_map import LabMap
from gaittrack.pipeline import files_in
from gaittrack.report.table_files import csv_of, xlsx_of
from gaittrack.study.archives.path_patterns import PathPattern
from gaittrack.study.archives.pattern_doubts import (
    doubts_of,
    named,
    people_not_known,
    proposal,
    told_guesses,
)
from gaittrack.study.archives.planning_pattern import (
    TriedTree,
    below,
    check_standing,
    days_by_file_times,
    days_in_files,
    listed,
    people_apart,
    plan_tree,
    sheet_rows,
    take_affected_sides,
    told_of_conditions,
    try_tree,
)
from gaittrack.study.archives.tried_paths import ToldBesides
from gaittrack.study.laboratory import laboratory_maps
from gaittrack.study.people.enrolled import known_side, person_codes
from gaittrack.study.recordings.planning import Plan
from gaittrack.study.standing_content import still_and_day
from gaittrack.study.store import has_study, open_study


@dataclass(frozen=True, slots=True)
class Archive:
    """What a person says of an archive: the options of the command, as they are called there."""

    patterns: Sequence[str] = ()
    conditions: Sequence[str] = ()
    list_sheet: Path | None = None
    visit: str = ""
    leave_out: Sequence[str] = ()
    plan_out: Path | None = None

    def refuse_without_pattern(self, paths: Sequence[Path]) -> None:
        """Refuse options that mean nothing without a pattern; say one that would fit."""
        given = {
            "--condition": self.conditions,
            "--list": self.list_sheet,
            "--visit": self.visit,
            "--leave-out": self.leave_out,
            "--plan": self.plan_out,
        }
        if not self.patterns and (alone := [name for name, value in given.items() if value]):
            would = proposed(paths)
            fits = f" This would fit: {would}" if would else ""
            raise click.UsageError(f"{', '.join(alone)} goes with --pattern.{fits}")


@dataclass(frozen=True, slots=True)
class _Known:
    """What the study knows already."""

    people: frozenset[str] = frozenset()
    sides: Mapping[str, str] | None = None
    maps: tuple[LabMap, ...] = ()


def planned_archive(
    paths: Sequence[Path], folder: Path, url: str | None, archive: Archive, *, new_people: bool
) -> Plan | int:
    """Try the patterns; return the plan, or the exit code where a sheet was written.

    Raises
    ------
    click.UsageError
        Something is left open; nothing is to be stored.
    """
    patterns = [PathPattern(text) for text in archive.patterns]
    rows = [] if archive.list_sheet is None else listed(archive.list_sheet)
    told = ToldBesides(told_of_conditions(archive.conditions), rows, archive.visit)
    left_out = [PathPattern(text) for text in archive.leave_out]
    tree = try_tree(paths, patterns, told, left_out=left_out)
    known = _known(folder, url)
    take_affected_sides(tree, known.sides or {})
    _look_into(tree, known, reads_all=archive.plan_out is not None)
    open_points = [str(error) for error in doubts_of(tree, patterns, told)]
    people = {one.cells["person"]: None for one in tree.files if "person" in one.cells}
    strangers = [code for code in people if code not in known.people]
    for line in told_guesses(tree):
        click.echo(line, err=True)
    if archive.plan_out is not None:
        if sheets := people_apart(tree):
            where = named(sheets)
            open_points.append(str(StudyError.of("people_of_sheets_not_said", where=where)))
        return _write_sheet(tree, archive.plan_out, open_points, has_strangers=bool(strangers))
    if strangers and not new_people and all(one.said and not one.other for one in tree.files):
        open_points.append(str(people_not_known(strangers)))
    if open_points:
        raise click.UsageError("\n".join(["nothing was stored.", *open_points]))
    return plan_tree(tree)


def proposed(paths: Sequence[Path]) -> str:
    """Return options that would place files of which nothing says where they belong."""
    return proposal([below(file, paths) for file in files_in(paths)])


def _known(folder: Path, url: str | None) -> _Known:
    if not has_study(folder, url=url):
        return _Known()
    with closing(open_study(folder, url=url, take_steps=False)) as study:
        with study.read() as connection:
            people = person_codes(connection)
            sides = {code: known_side(connection, code) for code in people}
            told = {code: side for code, side in sides.items() if side is not None}
            return _Known(frozenset(people), told, laboratory_maps(connection))


def _look_into(tree: TriedTree, known: _Known, *, reads_all: bool) -> None:
    """Let contents say which are standing trials; with a sheet, files offer days too.

    What a file says of its day goes before the time when it was last written.
    """
    days: dict[Path, str] = {}
    n_read = sum(bool(one.said) and (reads_all or one.is_standing) for one in tree.files)
    with bar_over(range(n_read), n_read, "Looking", least=2) as bar:

        def stands(path: Path) -> bool | None:
            bar.update(1)
            still, days[path] = still_and_day(path, maps=known.maps)
            return still

        check_standing(tree, stands, reads_all=reads_all)
    if reads_all:
        days_in_files(tree, days)
        days_by_file_times(tree)


def _write_sheet(
    tree: TriedTree, target: Path, open_points: Sequence[str], *, has_strangers: bool
) -> int:
    rows = sheet_rows(tree)
    content = xlsx_of(rows) if target.suffix.lower() == ".xlsx" else csv_of(rows)
    with writing(target, "--plan "):
        write_atomically(target, content)
    for line in open_points:
        click.echo(line, err=True)
    click.echo(
        f"{target}: {count_words(len(tree.files), 'file')}. Nothing was stored. "
        + ("Fill in what is said above, and correct" if open_points else "Correct")
        + f" the sheet; then give the same PATHS with --sheet {target}"
        + (" --new-people." if has_strangers else ".")
    )
    return NOT_ALL_WELL if open_points else DONE


def tell_unworn(plan: Plan, paths: Sequence[Path]) -> None:
    """Tell that nobody said what was worn, where folders alone say the condition."""
    if not plan.files or any(file.visit.conditions for file in plan.files):
        return
    if would := proposed(paths):
        click.echo(
            "Nothing describes what was worn in these folders. This would read it from their "
            f"names, with standing trials and days: gaittrack import PATHS {would}",
            err=True,
        )


def refuse_homeless(plan: Plan, paths: Sequence[Path]) -> None:
    """Refuse a tree of which nothing says where its files belong, with patterns that would fit.

    Raises
    ------
    click.UsageError
        No file has a place, for this reason.
    """
    if plan.files or not plan.homeless:
        return
    would = proposed(paths)
    names = named([below(file, paths) for file in plan.homeless])
    ways = (
        f"This would fit: gaittrack import PATHS {would}. Add --plan SHEET.csv to see first what "
        "each file would be."
        if would
        else "Say by --pattern how they are called (gaittrack import --help), or give a --sheet."
    )
    raise click.UsageError(
        "Nothing says which person, visit and condition the files belong to, such as "
        f"{names}. {ways}"
    )

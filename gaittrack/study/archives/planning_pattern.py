"""Which file belongs to which person, visit and condition: from a pattern of folders and names.

In come paths, patterns and what a person says besides, out come rows of a sheet: the same that a
person may correct and give back, and the same plan as from it.
"""

from __future__ import annotations

import datetime
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path, PurePosixPath
from typing import Final

from gaittrack.errors import StudyError
from gaittrack.part_names import part_of
from gaittrack.pipeline import files_in
from gaittrack.read.sheet_parts import people_in
from gaittrack.readable_names import readable
from gaittrack.reasons import Reason
from gaittrack.said_days import said_day
from gaittrack.study.archives.guessing import is_known, said_worn
from gaittrack.study.archives.path_patterns import PathPattern
from gaittrack.study.archives.tried_paths import STANDING, WALK, ToldBesides, TriedFile, try_paths
from gaittrack.study.recordings.planning import EVENTS_ENDING, Plan, ReportRow, events_beside
from gaittrack.study.recordings.planning_sheet import (
    GUESSED,
    SheetRow,
    cells_of,
    plan_rows,
    read_table,
)

_COLUMNS: Final = (
    *("file", "person", "visit", "date", "condition", "trial", "use", "standing", "events"),
    *("orthosis", "orthosis_side", "footwear"),
)
"""Of the sheet, before what a list says besides and where guesses come from."""

Stands = Callable[[Path], bool | None]
"""Whether somebody stands still in a recording; None where it cannot tell."""


@dataclass(slots=True)
class TriedTree:
    """What the files of a tree would be.

    Attributes
    ----------
    files : list of TriedFile
        Those that a pattern is for.
    folders : list of Path
        Below which they lie.
    passed_over : list of Path
        Of other endings, or left out by name.
    """

    files: list[TriedFile] = field(default_factory=list)
    folders: list[Path] = field(default_factory=list)
    passed_over: list[Path] = field(default_factory=list)


def try_tree(
    paths: Sequence[Path],
    patterns: Sequence[PathPattern],
    told: ToldBesides,
    *,
    left_out: Sequence[PathPattern] = (),
) -> TriedTree:
    """Try patterns on the files of folders; nothing but names is read."""
    tree = TriedTree(folders=list({path.resolve(): path for path in paths}.values()))
    files = files_in(paths)
    tables = {events_beside(file) for file in files}
    meant: list[Path] = []
    for file in files:
        if file in tables or file.name.endswith(EVENTS_ENDING):
            continue
        name = below(file, paths)
        is_meant = any(one.is_for(name) for one in patterns)
        is_kept = is_meant and not any(one.readings(name) for one in left_out)
        (meant if is_kept else tree.passed_over).append(file)
    tree.files = try_paths([below(file, paths) for file in meant], patterns, told)
    for one, file in zip(tree.files, meant, strict=True):
        one.at = file
    name_apart(tree.files)
    return tree


def below(file: Path, paths: Sequence[Path]) -> str:
    """Return the path of a file below the folder given that holds it; else its name."""
    for path in paths:
        if path.is_dir() and file.is_relative_to(path):
            return file.relative_to(path).as_posix()
    return file.name


def _in_sheet(file: Path, tree: TriedTree) -> str:
    """Return how a sheet names a file: as below the one folder given, or else where it lies."""
    return below(file, tree.folders) if len(tree.folders) == 1 else file.absolute().as_posix()


def told_of_conditions(given: Iterable[str]) -> dict[str, dict[str, str]]:
    """Read what was worn in conditions, from ``NAME=WORDS``.

    Returns
    -------
    dict of str to dict
        By the name in small letters; empty where nothing shall be said.

    Raises
    ------
    StudyError
        Words that nobody knows.
    """
    found = {}
    for text in given:
        name, equals, words = text.partition("=")
        worn = said_worn(words)
        if not equals or not name.strip() or (words.strip() and not (worn and is_known(words))):
            raise StudyError.of("condition_words", where=f"--condition {text!r}")
        found[name.strip().casefold()] = worn
    return found


def listed(sheet: Path) -> list[dict[str, str]]:
    """Read a list: each row says more of the files whose parts it names."""
    rows = [cells_of(row) for row in read_table(sheet).to_dict("records")]
    for row in rows:
        if day := said_day(row.get("date", "")):
            row["date"] = day
    return rows


def name_apart(files: Iterable[TriedFile]) -> None:
    """Call each file by its trial; those that would be called alike by folder and name too.

    Of one name in two formats that would help nobody: one of both is refused.
    """
    for one in files:
        if one.said:
            one.cells.setdefault("trial", PurePosixPath(one.path).stem)
        one.cells = {name: readable(cell) for name, cell in one.cells.items()}
    bare = {(_place(one), PurePosixPath(one.path).with_suffix("")) for one in files}
    names = Counter(place for place, _ in bare)
    for one in files:
        if one.said and names[_place(one)] > 1:
            own = PurePosixPath(one.path).with_suffix("").parts[-2:]
            one.cells["trial"] = readable("/".join(own))


def _place(one: TriedFile) -> tuple[str | None, ...]:
    return tuple(map(one.cells.get, ("person", "visit", "condition", "use", "trial")))


def check_standing(tree: TriedTree, stands: Stands, *, reads_all: bool) -> None:
    """Let the content of files decide which are standing trials.

    Parameters
    ----------
    stands : Stands
        Reads a file.
    reads_all : bool
        Not only those whose names say so.
    """
    for one in tree.files:
        if not one.said or not (reads_all or one.is_standing):
            continue
        found = stands(one.at)
        if found is not None and found != one.is_standing:
            one.cells["use"] = STANDING if found else WALK
            one.sources["use"] = Reason("nobody_moves_in_it" if found else "somebody_moves_in_it")


def people_apart(tree: TriedTree) -> list[str]:
    """Give each person of a sheet a row; whose they are nobody has said, whatever a folder says.

    Returns
    -------
    list of str
        The sheets, as below the folder that was given.
    """
    found, sheets = [], []
    for one in tree.files:
        shares = people_in(one.at)
        if len(shares) > 1:
            sheets.append(one.path)
        for share in shares:
            cells = dict(one.cells)
            sources = dict(one.sources)
            if len(shares) > 1:
                cells.pop("person", None)
                sources["person"] = Reason("person_of_sheet", n=part_of(share.name)["person"])
            found.append(replace(one, at=share, cells=cells, sources=sources))
    tree.files = found
    return sheets


def days_in_files(tree: TriedTree, days: Mapping[Path, str]) -> None:
    """Offer the day that files say as the day of visits without one, where all of it agree.

    Parameters
    ----------
    days : mapping of Path to str
        In ISO form; empty for a file that says none.
    """
    found: dict[tuple[str, str], set[str]] = {}
    open_files = [one for one in tree.files if one.said and "date" not in one.cells]
    for one in open_files:
        found.setdefault(_visit(one), set()).update(filter(None, [days.get(one.at, "")]))
    for one in open_files:
        own = found[_visit(one)]
        day = days.get(one.at, "") if "visit" not in one.cells else next(iter(own), "")
        if day and (len(own) == 1 or "visit" not in one.cells):
            _offer_day(one, day, "day_in_file")


def _visit(one: TriedFile) -> tuple[str, str]:
    return one.cells.get("person", ""), one.cells.get("visit", "")


def _offer_day(one: TriedFile, day: str, code: str) -> None:
    """Take a day for that of a file; it names a visit that has no name."""
    one.cells["date"], one.sources["date"] = day, Reason(code)
    if "visit" not in one.cells:
        one.cells["visit"], one.sources["visit"] = day, Reason("visit_by_its_day")


def days_by_file_times(tree: TriedTree) -> None:
    """Offer the day when files were last written as the day of visits without one.

    Only where these days can be those of recordings: one day a visit, several in the tree, none
    twice for a person.
    """
    days: dict[tuple[str, str], set[str]] = {}
    open_files = [one for one in tree.files if one.said and "date" not in one.cells]
    for one in open_files:
        written = datetime.date.fromtimestamp(one.at.stat().st_mtime)
        days.setdefault(_visit(one), set()).add(written.isoformat())
    by_person = Counter((visit[0], day) for visit, own in days.items() for day in own)
    all_days = set().union(*days.values()) if days else set()
    is_single = all(len(own) == 1 or not visit[1] for visit, own in days.items())
    if len(all_days) < 2 or not is_single or max(by_person.values()) > 1:
        return
    for one in open_files:
        written = datetime.date.fromtimestamp(one.at.stat().st_mtime)
        _offer_day(one, written.isoformat(), "day_of_file_time")


def take_affected_sides(tree: TriedTree, affected: Mapping[str, str]) -> None:
    """Take a brace of which nobody says the side to be on the affected one."""
    for one in tree.files:
        side = one.cells.get("affected_side") or affected.get(one.cells.get("person", ""))
        if one.is_braced and side in ("left", "right") and "brace" not in one.cells:
            if "orthosis_side" not in one.cells:
                one.cells["orthosis_side"] = side
                one.sources["orthosis_side"] = Reason("brace_on_affected_side")


def sheet_rows(tree: TriedTree) -> list[list[str]]:
    """Return the sheet of a tree, its head first: a row for each file, the standing trials too."""
    more = {name for one in tree.files for name in one.cells} - {*_COLUMNS}
    columns = [*_COLUMNS, *sorted(more)]
    rows = [
        [
            *(readable(_cells(tree, one).get(name, "")) for name in columns),
            "; ".join(f"{name}: {reason}" for name, reason in sorted(one.sources.items())),
        ]
        for one in tree.files
    ]
    return [[*columns, GUESSED], *rows]


def _cells(tree: TriedTree, one: TriedFile) -> dict[str, str]:
    events = events_beside(one.at)
    table = {} if events is None else {"events": _in_sheet(events, tree)}
    return {"file": _in_sheet(one.at, tree), **table, **one.cells}


def plan_tree(tree: TriedTree) -> Plan:
    """Place the files of a tree that was tried, as the sheet of it would."""
    rows = [SheetRow(_cells(tree, one), readable(one.path)) for one in tree.files]
    plan, _ = plan_rows(rows, tree.folders)
    plan.refused += [
        ReportRow(file, "passed over", message="No pattern is for it, or it was left out.")
        for file in tree.passed_over
    ]
    return plan

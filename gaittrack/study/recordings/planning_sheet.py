"""Which file belongs to which person, visit and condition: from a sheet.

In comes a CSV or XLSX with the columns ``file, person, visit, condition`` and, if wanted,
``standing``, ``events`` (a table that came with the recording), ``trial`` (its name), ``use``
(walk, standing or left out), facts of the person, the visit and the condition (what is said of a
``brace`` in a ``setting`` is theirs), and an ``aim`` by its code with its facts; out comes the same
plan as from folders.
"""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from io import BytesIO, StringIO
from pathlib import Path
from typing import Any, Final

import pandas as pd
from python_calamine import CalamineError

from gaittrack.compare.fair.condition import Condition, parse_conditions
from gaittrack.errors import GaitTrackError, LayoutError, StudyError
from gaittrack.part_names import on_disk
from gaittrack.pipeline import files_in
from gaittrack.plain_files import MOST_TYPED_BYTES, bytes_of
from gaittrack.read.sheets.angle_sheet import SUFFIXES
from gaittrack.read.tables.workbook import check_workbook
from gaittrack.readable_names import as_on_disk, readable
from gaittrack.record.aims import Aims, checked_aim
from gaittrack.record.braces import Braces
from gaittrack.record.checking import from_cell
from gaittrack.record.registry import CONDITION, FACTS, fact_of
from gaittrack.study.people.description import (
    AT_THE_VISIT,
    UNDER_VISIT,
    Visit,
    check_brace,
    make_visit,
)
from gaittrack.study.recordings.planning import Plan, PlannedFile, ReportRow

NEEDED: Final = ("file", "person", "visit", "condition")
_WITH_A_WALK: Final = ("standing", "events")
GUESSED: Final = "guessed_from"
"""A column that says where guesses came from; it is for people and is not read."""
USES: Final = ("walk", "standing", "left out")
_OF_THE_FILE: Final = ("file", "trial", "use", GUESSED, *_WITH_A_WALK)
_AIM: Final = "aim"
"""Code of an aim, whose facts stand in the columns of the row."""


def plan_sheet(sheet: Path, paths: Sequence[Path]) -> Plan:
    """Place the files that a sheet names.

    Parameters
    ----------
    paths : sequence of Path
        Folders in which the files lie, and single files; files there that the sheet does not name
        are passed over and listed.

    Raises
    ------
    LayoutError
        The sheet cannot be read, or a column is missing or not known.
    """
    table = read_table(sheet)
    _check_columns(list(table.columns), sheet.name)
    rows = [
        SheetRow(cells_of(row), f"{sheet.name} row {number}")
        for number, row in enumerate(table.to_dict("records"), 2)
    ]
    plan, named = plan_rows(rows, [sheet.parent, *paths])
    named.add(sheet.resolve())
    plan.refused += [
        ReportRow(file, "passed over", message=f"Not named in {sheet.name}.")
        for file in files_in([path for path in paths if path.is_dir()])
        if file.resolve() not in named
    ]
    return plan


def cells_of(row: Mapping[Any, Any]) -> dict[str, str]:
    """Return the cells of a row that hold something."""
    return {str(key): str(cell).strip() for key, cell in row.items() if str(cell).strip()}


@dataclass(frozen=True, slots=True)
class SheetRow:
    """The cells of one row by their columns, and where it stands."""

    cells: Mapping[str, str]
    where: str


def plan_rows(rows: Sequence[SheetRow], folders: Sequence[Path]) -> tuple[Plan, set[Path]]:
    """Place the file that each row names.

    Parameters
    ----------
    folders : sequence of Path
        Where files lie, asked in this order; also single files.

    Returns
    -------
    plan : Plan
        Standing trials first.
    named : set of Path
        Every file that a row names.
    """
    plan = Plan()
    seen: _Seen = {}
    visits: _Visits = {}
    for row in rows:
        try:
            planned = _planned(row.cells, folders, row.where, visits)
            _refuse_second(planned, row.where, seen)
            if row.cells.get("use") != USES[2]:
                plan.files += [*_standing_of(planned), planned]
        except GaitTrackError as error:
            plan.refuse(Path(row.cells.get("file", "")), error)
    plan.files = _with_shared(_with_standing(plan))
    given = (path for f in plan.files for path in (f.path, f.events) if path is not None)
    named = {on_disk(path).resolve() for path in (*given, *seen)}
    return plan.in_order(), named


def _with_standing(plan: Plan) -> list[PlannedFile]:
    """Return the files, each walk with the standing trial of its condition or of its visit.

    A standing trial of no condition goes to each of its visit; a walk with several to choose from
    is refused.
    """
    stood: dict[tuple[str, ...], list[PlannedFile]] = {}
    for file in plan.files:
        if file.kind == "standing":
            stood.setdefault((*_visit_of(file), file.condition), []).append(file)
    found: dict[int, PlannedFile] = {}
    for file in [one for one in plan.files if one.kind == "walk"]:
        try:
            walk, standing = _stood(file, stood)
            found |= {id(each): each for each in (*standing, walk)}
        except GaitTrackError as error:
            plan.refuse(file.path, error, file.place)
    kept = [file for file in plan.files if file.kind == "standing" and file.condition]
    return [*kept, *found.values()]


def _stood(
    walk: PlannedFile, stood: Mapping[tuple[str, ...], Sequence[PlannedFile]]
) -> tuple[PlannedFile, list[PlannedFile]]:
    """Return a walk with its standing trial, and that trial where it becomes its condition's."""
    if walk.standing is not None:
        return walk, []
    visit = _visit_of(walk)
    there = stood.get((*visit, walk.condition)) or stood.get((*visit, ""), [])
    paths = {file.path.resolve(): file for file in there}
    if len(paths) > 1:
        raise StudyError.of(
            "several_standing_trials_given",
            where=walk.path.name,
            name=walk.condition,
            standing=", ".join(file.path.name for file in paths.values()),
        )
    if not paths:
        return walk, []
    (one,) = paths.values()
    with_it = replace(walk, standing=one.path)
    return with_it, _standing_of(with_it)


def _visit_of(file: PlannedFile) -> tuple[str, str]:
    return file.visit.person, file.visit.code


def _with_shared(files: Sequence[PlannedFile]) -> list[PlannedFile]:
    """Return each file once per visit and condition; several conditions share a sheet."""
    places = {(f.path.resolve(), f.visit.person, f.visit.code, f.condition): f for f in files}
    counts = Counter((path, person, visit) for path, person, visit, _ in places)
    return [
        replace(file, is_shared=file.kind == "walk" and counts[key[:3]] > 1)
        for key, file in places.items()
    ]


def read_table(sheet: Path) -> pd.DataFrame:
    """Read a CSV or XLSX, every cell as text.

    Raises
    ------
    LayoutError
        It cannot be read.
    """
    try:
        content = bytes_of(sheet, most_bytes=MOST_TYPED_BYTES)
        if sheet.suffix.lower() in (".xlsx", ".xlsm"):
            check_workbook(content, where=sheet.name)
            return pd.read_excel(
                BytesIO(content), dtype=str, keep_default_na=False, engine="calamine"
            )
        text = content.decode("utf-8-sig")
        separator = max(",;\t", key=text.partition("\n")[0].count)
        return pd.read_csv(StringIO(text), dtype=str, keep_default_na=False, sep=separator)
    except (OSError, ValueError, CalamineError, csv.Error) as error:
        why = error.strerror if isinstance(error, OSError) else str(error)
        raise LayoutError.of(
            "sheet_cannot_read", where=sheet.name, error=why, needed=", ".join(NEEDED)
        ) from error


def _check_columns(found: list[str], where: str) -> None:
    allowed = {
        *NEEDED,
        *_WITH_A_WALK,
        *("trial", "use", GUESSED),
        *FACTS["person"],
        *AT_THE_VISIT,
        *UNDER_VISIT,
        *CONDITION,
        _AIM,
        *FACTS["aim"],
    }
    missing = [name for name in NEEDED if name not in found]
    unknown = [name for name in found if name not in allowed]
    if missing or unknown:
        wrong = [f"missing: {', '.join(missing)}"] * bool(missing)
        wrong += [f"unknown: {', '.join(unknown)}"] * bool(unknown)
        raise LayoutError.of(
            "first_row_does_not_name", where=where, wrong="; ".join(wrong), needed=", ".join(NEEDED)
        )


_Visits = dict[frozenset[tuple[str, str]], Visit]
"""What rows say of a visit and a condition: one object for all that say the same."""


def _planned(
    cells: Mapping[str, str], folders: Sequence[Path], where: str, visits: _Visits
) -> PlannedFile:
    use = cells.get("use", USES[0]).casefold()
    if use not in USES:
        raise StudyError.of("no_such_use", where=where, use=use, uses=", ".join(USES))
    _refuse_empty(cells, NEEDED[:1] if use == "left out" else NEEDED, where, use)
    path = _found(cells["file"], folders, where)
    if use == "left out":
        return PlannedFile(path, Visit("", ""), "", "")
    visit = _described(cells, where, visits)
    name, code = cells.get("condition", ""), cells.get("trial", readable(path.stem))
    if use == "standing":
        return PlannedFile(path, visit, name, f"standing/{code}", "standing")
    standing, events = (
        _found(cells[key], folders, where) if key in cells else None for key in _WITH_A_WALK
    )
    return PlannedFile(path, visit, name, code, standing=standing, events=events)


def _described(cells: Mapping[str, str], where: str, visits: _Visits) -> Visit:
    """Return what a row says of its visit and condition."""
    key = frozenset(item for item in cells.items() if item[0] not in _OF_THE_FILE)
    if key in visits:
        return visits[key]
    name = cells.get("condition", "")
    worn = {
        key: from_cell(CONDITION[key], cell, f"{where} {key}")
        for key, cell in cells.items()
        if key in CONDITION and key != "standing_trial"
    }
    conditions = parse_conditions({"conditions": {name: worn} if name else {}}, where=where)
    visit = _visit(cells, conditions, where)
    check_brace(
        conditions.get(name), visit.person_facts.get("affected_side"), where, is_whole=False
    )
    visits[key] = visit
    return visit


def _refuse_empty(cells: Mapping[str, str], needed: Sequence[str], where: str, use: str) -> None:
    missing = [name for name in needed if name not in cells]
    if use == "standing" and missing == ["condition"]:
        return
    if missing:
        raise StudyError.of("cells_empty", where=where, missing=", ".join(missing))


def _visit(cells: Mapping[str, str], conditions: Mapping[str, Condition], where: str) -> Visit:
    def given(part: str, names: Sequence[str]) -> dict[str, Any]:
        return {
            name: from_cell(fact_of(part, name), cells[name], f"{where} {name}")
            for name in names
            if name in cells
        }

    about_person = given("person", tuple(FACTS["person"])) | given("visit", AT_THE_VISIT)
    about_visit = given("visit", UNDER_VISIT)
    about_aim = checked_aim(given("aim", tuple(FACTS["aim"])), where)
    if about_aim and _AIM not in cells:
        raise StudyError.of("cells_empty", where=where, missing=_AIM)
    things: tuple[Braces, Aims] = ({}, {cells[_AIM]: about_aim} if _AIM in cells else {})
    place = cells["person"], cells["visit"]
    return make_visit(*place, about_person, about_visit, conditions, where, things=things)


def _found(name: str, folders: Sequence[Path], where: str) -> Path:
    """Return the file a cell names: in one of the folders, or given itself."""
    for own in dict.fromkeys((name, as_on_disk(name))):
        parts = Path(own).parts
        for path in folders:
            for candidate in (path / own, path):
                if on_disk(candidate).is_file() and candidate.parts[-len(parts) :] == parts:
                    return candidate
    raise StudyError.of("no_file_2", where=where, name=name)


def _standing_of(walk: PlannedFile) -> list[PlannedFile]:
    if walk.standing is None:
        return []
    code = f"standing/{readable(walk.standing.stem)}"
    return [PlannedFile(walk.standing, walk.visit, walk.condition, code, "standing")]


_Seen = dict[Path, dict[tuple[str, ...], str]]


def _refuse_second(file: PlannedFile, where: str, seen: _Seen) -> None:
    """Refuse a file named twice, unless it is a sheet and they are conditions of one visit."""
    place = (*_visit_of(file), file.condition)
    rows = seen.setdefault(file.path.resolve(), {})
    is_shared = all(other[:2] == place[:2] and other != place for other in rows)
    if rows and not (is_shared and file.path.suffix.lower() in SUFFIXES):
        raise StudyError.of("file_named_twice_first", where=where, first=next(iter(rows.values())))
    rows[place] = where

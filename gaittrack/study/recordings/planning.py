"""Which file belongs to which person, visit and condition: from folders.

In come paths, out come planned files and, for every file that cannot be placed, the reason. Folders
are laid out as ``PERSON/VISIT/CONDITION/file``, best with a ``conditions.toml`` in each visit. A
sheet with curves of several conditions lies in the visit; a table of events, ``NAME.events.csv``,
beside the recording ``NAME``.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Final, Literal

from gaittrack.errors import GaitTrackError, StudyError
from gaittrack.pipeline import files_in, passed_over_in
from gaittrack.read.sheets.angle_sheet import SUFFIXES
from gaittrack.readable_names import readable
from gaittrack.study.people.description import Visit, check_brace, read_visit
from gaittrack.walk_folders import CONDITIONS_FILE

EVENTS_ENDING: Final = ".events.csv"
TrialKind = Literal["walk", "standing"]
State = Literal["added", "would add", "known", "asked about", "refused", "passed over"]


@dataclass(frozen=True, slots=True)
class ReportRow:
    """What became of one file.

    Attributes
    ----------
    place : str
        ``PERSON/VISIT/CONDITION/TRIAL``, or empty when unknown.
    message : str
        Why, or what to know.
    """

    path: Path
    state: State
    place: str = ""
    message: str = ""


@dataclass(frozen=True, slots=True)
class PlannedFile:
    """One file and its place in the study.

    Attributes
    ----------
    standing : Path or None
        Of a walk.
    events : Path or None
        The events table that came with a walk.
    is_shared : bool
        Walks of other conditions of the visit come from the same sheet.
    is_offered : bool
        Nobody said that the sheet holds this condition: it lies in the folder of the visit.
    """

    path: Path
    visit: Visit
    condition: str
    code: str
    kind: TrialKind = "walk"
    standing: Path | None = None
    events: Path | None = None
    is_shared: bool = False
    is_offered: bool = False

    @property
    def place(self) -> str:
        """Its full name in the study."""
        return f"{self.visit.person}/{self.visit.code}/{self.condition}/{self.code}"


@dataclass(slots=True)
class Plan:
    """What an import will do.

    Attributes
    ----------
    files : list of PlannedFile
        Standing trials before the walks that need them.
    refused : list of ReportRow
        Files without a place.
    homeless : list of Path
        Those of them of which nothing says where they belong.
    """

    files: list[PlannedFile] = field(default_factory=list)
    refused: list[ReportRow] = field(default_factory=list)
    homeless: list[Path] = field(default_factory=list)

    def refuse(self, path: Path, error: GaitTrackError, place: str = "") -> None:
        """Add a row for a file that cannot be placed."""
        self.refused.append(ReportRow(path, "refused", place, str(error)))

    def in_order(self) -> Plan:
        """Return the same plan, standing trials first."""
        in_order = sorted(self.files, key=lambda file: file.kind != "standing")
        return replace(self, files=in_order)


class _HomelessError(StudyError):
    """Nothing says where a file belongs."""


def plan_folders(paths: Sequence[Path]) -> Plan:
    """Place the files of folders.

    Parameters
    ----------
    paths : sequence of Path
        Folders with people, one person, one visit or one condition; or single files in them.
    """
    plan = Plan()
    visits: dict[Path, Visit | GaitTrackError] = {}
    files = files_in(paths)
    events = {file: events_beside(file) for file in files}
    for file in files:
        if file in events.values():
            continue
        try:
            placed = _place(file, paths, visits)
            plan.files += [replace(one, events=events[file]) for one in placed]
        except GaitTrackError as error:
            plan.refuse(file, error)
            plan.homeless += [file] if isinstance(error, _HomelessError) else []
    plan.files += _standing_elsewhere(plan.files, paths, visits)
    for file in passed_over_in(paths):
        if file.name != CONDITIONS_FILE:
            plan.refused.append(ReportRow(file, "passed over", message="Not a recording."))
    return plan.in_order()


def events_beside(walk: Path) -> Path | None:
    """Return the events table of a recording: ``walk-1.events.csv`` beside ``walk-1.csv``."""
    table = walk.with_name(walk.stem + EVENTS_ENDING)
    return table if walk.suffix and table.is_file() and table != walk else None


def _standing_elsewhere(
    walks: Sequence[PlannedFile],
    paths: Iterable[Path],
    visits: dict[Path, Visit | GaitTrackError],
) -> list[PlannedFile]:
    """Return the standing trials that walks need, and that lie outside of the paths given."""
    there = {file.path.resolve() for file in walks}
    needed = {
        (walk.standing.resolve(), walk.condition): walk.standing
        for walk in walks
        if walk.standing is not None and walk.standing.resolve() not in there
    }
    return [
        placed
        for standing in dict.fromkeys(needed.values())
        for placed in _place(standing, paths, visits)
        if (placed.path.resolve(), placed.condition) in needed
    ]


def _place(
    file: Path, paths: Iterable[Path], visits: dict[Path, Visit | GaitTrackError]
) -> list[PlannedFile]:
    folder = _visit_folder(file)
    if folder is None:
        return [_by_depth(file, paths, visits)]
    if folder not in visits:
        visits[folder] = _visit_or_error(folder)
    visit = visits[folder]
    if isinstance(visit, GaitTrackError):
        raise visit
    inside = file.resolve().relative_to(folder)
    stands_for = [
        name
        for name, condition in visit.conditions.items()
        if condition.standing_trial is not None
        and (folder / condition.standing_trial).resolve() == file.resolve()
    ]
    code = readable(inside.with_suffix("").as_posix())
    if stands_for:
        return [PlannedFile(file, visit, name, code, "standing") for name in stands_for]
    if len(inside.parts) == 1 and file.suffix.lower() in SUFFIXES and visit.conditions:
        walks = [_walk(file, visit, folder, Path(name, inside)) for name in visit.conditions]
        return [replace(walk, is_shared=True, is_offered=True) for walk in walks]
    return [_walk(file, visit, folder, inside)]


def _walk(file: Path, visit: Visit, folder: Path, inside: Path) -> PlannedFile:
    """Place a walk; the first part of ``inside`` is its condition."""
    name = inside.parts[0]
    if len(inside.parts) < 2 or name not in visit.conditions:
        raise StudyError.of(
            "file_without_condition",
            where=inside.as_posix(),
            person=visit.person,
            code=visit.code,
            conditions=", ".join(visit.conditions),
        )
    condition = visit.conditions[name]
    check_brace(
        condition,
        visit.person_facts.get("affected_side"),
        f"{visit.person}/{visit.code}/{name}",
        is_whole=False,
    )
    standing = None
    if condition.standing_trial is not None:
        standing = folder / condition.standing_trial
        if not standing.is_file():
            raise StudyError.of(
                "standing_trial_not_there",
                where=f"{visit.person}/{visit.code}/{name}",
                standing_trial=condition.standing_trial,
            )
    code = readable(Path(*inside.parts[1:]).with_suffix("").as_posix())
    return PlannedFile(file, visit, name, code, standing=standing)


def _visit_folder(file: Path) -> Path | None:
    """Return the nearest folder above the file that holds a conditions file."""
    for folder in file.resolve().parents:
        if (folder / CONDITIONS_FILE).is_file():
            return folder
    return None


def _visit_or_error(folder: Path) -> Visit | GaitTrackError:
    try:
        return read_visit(folder / CONDITIONS_FILE)
    except GaitTrackError as error:
        return error


def _by_depth(
    file: Path, paths: Iterable[Path], visits: dict[Path, Visit | GaitTrackError]
) -> PlannedFile:
    """Place a file that lies exactly three folders below a path that was given."""
    for path in paths:
        place = file.resolve()
        if path.is_dir() and place.is_relative_to(path.resolve()):
            parts = place.relative_to(path.resolve()).with_suffix("").parts
            if len(parts) == 4:
                person, visit, condition, code = map(readable, parts)
                # one object for all its files: what it says is looked at once
                known = visits.setdefault(Path(person, visit), Visit(person, visit))
                if isinstance(known, Visit):
                    return PlannedFile(file, known, condition, code)
    raise _HomelessError.of(
        "place_of_file_not_told", where=file.name, conditions_file=CONDITIONS_FILE
    )

"""Which file belongs to which condition: from a form, for files of one visit.

In come a visit and what each file is used for, out comes the same plan as from folders or a sheet;
and, before that, a guess of the use from what the file is called.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final, Literal

from gaittrack.errors import GaitTrackError, StudyError
from gaittrack.read.sheets.angle_sheet import SUFFIXES
from gaittrack.study.people.description import Visit
from gaittrack.study.recordings.planning import EVENTS_ENDING, Plan, PlannedFile
from gaittrack.walk_records import match_name

UseKind = Literal["walk", "standing", "several", "left out", "not said"]
_STANDING_WORDS: Final = frozenset(("standing", "static", "stand"))


@dataclass(frozen=True, slots=True)
class Use:
    """What a file is used for.

    Attributes
    ----------
    kind : UseKind
        ``several``: a sheet with curves of several conditions.
    condition : str
        Of a walk or a standing trial; empty for a standing trial of all conditions.
    """

    kind: UseKind
    condition: str = ""


@dataclass(frozen=True, slots=True)
class GivenFile:
    """One file and its use.

    Attributes
    ----------
    folder : str
        Where it lay before, in words.
    """

    path: Path
    folder: str
    use: Use


def guess_use(name: str, folder: str, conditions: Sequence[str]) -> Use:
    """Guess the use of a file from its name and the folder it lay in.

    Returns
    -------
    Use
        ``not said`` where the words do not tell.
    """
    stem = Path(name).stem
    places = [*reversed(folder.split("/")), stem]
    named = next((found for place in places if (found := _named(place, conditions))), "")
    words = set(re.findall(r"[a-z]+", f"{folder}/{stem}".lower()))
    if words & _STANDING_WORDS:
        return Use("standing", named)
    if not named and len(conditions) == 1:
        named = conditions[0]
    return Use("walk", named) if named else Use("not said")


def _named(place: str, conditions: Sequence[str]) -> str:
    """Return the condition that a place names: the longest whose words stand in it, in order."""
    words = _words(place)
    for name in sorted(conditions, key=lambda each: -len(_words(each))):
        own = _words(name)
        if own and any(words[n : n + len(own)] == own for n in range(len(words))):
            return name
    return match_name(place, conditions) or "" if words else ""


def _words(text: str) -> list[str]:
    return re.findall(r"[^\W_]+", text.lower())


def plan_form(visit: Visit, files: Sequence[GivenFile]) -> Plan:
    """Place the files of one visit.

    Returns
    -------
    Plan
        Standing trials first. Files without a use, and walks whose standing trial cannot be told,
        are refused.
    """
    plan = Plan()
    tables = _events_tables(files)
    taken: set[tuple[str, str]] = set()
    for given in files:
        if given.use.kind == "left out" or given.path in tables.values():
            continue
        try:
            placed = _place(given, visit, files)
            plan.files += [replace(one, events=tables.get(given.path)) for one in placed]
        except GaitTrackError as error:
            plan.refuse(given.path, error)
    plan.files = [_named_apart(file, taken) for file in plan.files]
    return plan.in_order()


def _events_tables(files: Iterable[GivenFile]) -> dict[Path, Path]:
    """Return the events tables by the recording they came with."""
    tables = {
        (each.folder, each.path.name.removesuffix(EVENTS_ENDING)): each.path
        for each in files
        if each.path.name.endswith(EVENTS_ENDING)
    }
    return {
        each.path: tables[each.folder, each.path.stem]
        for each in files
        if (each.folder, each.path.stem) in tables and each.path not in tables.values()
    }


def _place(given: GivenFile, visit: Visit, files: Sequence[GivenFile]) -> list[PlannedFile]:
    use, path = given.use, given.path
    if use.kind == "not said":
        raise StudyError.of("file_not_described", where=path.name)
    if use.kind == "standing":
        names = [use.condition] if use.condition else list(visit.conditions)
        code = f"standing/{path.stem}"
        return [PlannedFile(path, visit, name, code, "standing") for name in names]
    if use.kind == "several":
        _refuse_no_sheet(path)
        return [
            replace(_walk(path, visit, name, files), is_shared=True, is_offered=True)
            for name in visit.conditions
        ]
    return [_walk(path, visit, use.condition, files)]


def _refuse_no_sheet(path: Path) -> None:
    if path.suffix.lower() not in SUFFIXES:
        raise StudyError.of("only_sheet_can_hold_several", where=path.name)


def _walk(path: Path, visit: Visit, name: str, files: Sequence[GivenFile]) -> PlannedFile:
    if name not in visit.conditions:
        raise StudyError.of(
            "no_condition_2", where=path.name, name=name, conditions=", ".join(visit.conditions)
        )
    standing = [each.path for each in files if each.use == Use("standing", name)]
    standing = standing or [each.path for each in files if each.use == Use("standing")]
    if len(standing) > 1:
        raise StudyError.of(
            "several_standing_trials_given",
            where=path.name,
            name=name,
            standing=", ".join(p.name for p in standing),
        )
    return PlannedFile(path, visit, name, path.stem, standing=standing[0] if standing else None)


def _named_apart(file: PlannedFile, taken: set[tuple[str, str]]) -> PlannedFile:
    """Give the second file of one name in a condition a number."""
    code = _free(file.code, {code for condition, code in taken if condition == file.condition})
    taken.add((file.condition, code))
    return replace(file, code=code)


def _free(code: str, taken: Collection[str]) -> str:
    found, number = code, 1
    while found in taken:
        number += 1
        found = f"{code} ({number})"
    return found

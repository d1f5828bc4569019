"""Which recordings are meant by paths, and what is said of them beside them.

In come strings, paths and patterns, out come files; and what a ``conditions.toml`` in or beside the
folders says: what was worn, the standing trial, the affected side, the age.
"""

from __future__ import annotations

import glob
import os
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from gaittrack.compare.fair.condition import Condition, read_conditions
from gaittrack.compare.judged.family import Affected
from gaittrack.compare.typical_values.typical import Population, population_of
from gaittrack.compare.walked.questions import QuestionCode, aimed_questions
from gaittrack.compare_files import described_standing, worn_by
from gaittrack.errors import BadFileError, ComparisonError, LayoutError, Level, Problem
from gaittrack.lab_map import LabMap
from gaittrack.part_names import on_disk
from gaittrack.pipeline import files_in
from gaittrack.plain_files import text_of
from gaittrack.read.sheet_parts import recordings_in
from gaittrack.readable_names import readable
from gaittrack.reasons import Reason
from gaittrack.record.aims import parse_aims

CONDITIONS_FILE: Final = "conditions.toml"
_SIDES: Final[dict[str, Affected]] = {"left": "left", "right": "right", "both": "both"}

Place = str | os.PathLike[str]
"""One path, or a pattern."""
Places = Place | Iterable[Place]
"""One path or many."""


@dataclass(slots=True)
class BesideWalks:
    """What the files beside the walks say.

    Attributes
    ----------
    files : tuple of Path
        Those that were read.
    worn : dict of condition name to Condition
        By the names of the comparison.
    standing : dict of condition name to Path
        Quiet standing that is named there.
    problems : list of Problem
        What was read and what does not fit.
    """

    files: tuple[Path, ...] = ()
    worn: dict[str, Condition] = field(default_factory=dict)
    standing: dict[str, Path] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)

    def tell(self, reason: Reason, *, level: Level = "info") -> None:
        """Add a problem on what was read."""
        self.problems.append(Problem(level, reason, "conditions"))


def paths_of(places: Places) -> list[Path]:
    """Return the files and folders meant by one path or many; a pattern means all it matches.

    Raises
    ------
    BadFileError
        Nothing is there.
    """
    one = isinstance(places, str | os.PathLike)
    several: Iterable[Place] = [places] if one else places  # type: ignore[assignment, list-item]
    return [path for place in several for path in _expanded(place)]


def _expanded(place: Place) -> list[Path]:
    path = Path(place)
    if on_disk(path).exists():
        return [path]
    text = str(place)
    if glob.has_magic(text) and (found := sorted(glob.glob(text, recursive=True))):
        return [Path(each) for each in found]
    raise BadFileError.of("no_such_file_folder_match", where=text)


def path_of_file(place: Place, *, what: str) -> Path:
    """Return the path of a file that goes with the walks.

    Parameters
    ----------
    what : str
        What it is, for the error.

    Returns
    -------
    Path
        Of a file that is there.

    Raises
    ------
    BadFileError
        There is none.
    """
    path = Path(place)
    if not path.is_file():
        raise BadFileError.of("no_such_file_2", where=path, what=what)
    return path


def walks_in(
    paths: Sequence[Path], *, leave_out: Iterable[Path] = (), maps: Sequence[LabMap] = ()
) -> list[Path]:
    """Return the recordings in paths; see :func:`gaittrack.pipeline.files_in`.

    Each recording of a sheet is one; of a sheet with walks of several people, it is the sheet.

    Parameters
    ----------
    leave_out : iterable of Path
        Files in the folders that are not walks.

    Raises
    ------
    BadFileError
        There is none.
    """
    found = files_in(paths, leave_out=leave_out)
    if not found:
        where = ", ".join(readable(path) for path in paths)
        raise BadFileError.of("no_readable_file", where=where or "paths")
    return [each for path in found for each in _recordings(path, maps)]


def _recordings(path: Path, maps: Sequence[LabMap]) -> tuple[Path, ...]:
    try:
        return recordings_in(path, maps)
    except LayoutError:
        if not path.exists():
            raise
        return (path,)


def conditions_in(visit: Path) -> dict[str, list[Path]]:
    """Return the folders of a visit by the conditions that its ``conditions.toml`` describes.

    Raises
    ------
    LayoutError
        The conditions file is not there or cannot be read.
    """
    described = read_conditions(visit / CONDITIONS_FILE)
    return {name: [visit / name] for name in described if (visit / name).is_dir()}


def read_beside(
    paths: Mapping[str, Sequence[Path]], *, conditions_file: Path | None = None
) -> BesideWalks:
    """Read what is said of the conditions beside their walks.

    Parameters
    ----------
    paths : mapping of condition name to sequence of Path
        Files and folders.
    conditions_file : Path, optional
        In place of those found in and beside the folders.

    Returns
    -------
    BesideWalks
        Where a condition has walks of several visits, what was worn counts as not recorded.

    Raises
    ------
    ComparisonError
        The file that was given describes none of the conditions.
    LayoutError
        A conditions file cannot be read, or a standing trial it names is not there.
    """
    beside = BesideWalks()
    if conditions_file is not None:
        _describe(beside, conditions_file, list(paths), is_asked=True)
        return beside
    found = _conditions_files(paths)
    if len(found) == 1:
        _describe(beside, next(iter(found)), list(paths))
    elif found:
        _describe_visits(beside, found, list(paths))
    return beside


def _conditions_files(paths: Mapping[str, Sequence[Path]]) -> dict[Path, list[str]]:
    """Return each conditions file in or beside the paths, with the conditions it is by."""
    found: dict[Path, tuple[Path, list[str]]] = {}
    for name, given in paths.items():
        for path in given:
            for place in (
                (path, path.parent) if path.is_dir() else (path.parent, path.parent.parent)
            ):
                file = place / CONDITIONS_FILE
                if file.is_file():
                    names = found.setdefault(file.resolve(), (file, []))[1]
                    names += [name] if name not in names else []
    return dict(found.values())


def _describe_visits(
    beside: BesideWalks, found: Mapping[Path, Sequence[str]], names: Sequence[str]
) -> None:
    """Describe each condition by the file beside its own walks; other visits are other days."""
    by_name = {name: [file for file, own in found.items() if name in own] for name in names}
    for name, files in by_name.items():
        if len(files) > 1:
            beside.tell(Reason("walks_of_several_visits", condition=name), level="warning")
    for file in found:
        own = [name for name, files in by_name.items() if files == [file]]
        if not own:
            continue
        _describe(beside, file, own)
        day = _visit_of(file)
        for name in own:
            one = beside.worn.get(name, Condition(name))
            beside.worn[name] = one.known_as(name, day=one.day or day)
    beside.files = tuple(found)


def _describe(
    beside: BesideWalks, file: Path, names: Sequence[str], *, is_asked: bool = False
) -> None:
    described = read_conditions(file)
    worn = worn_by(names, described)
    beside.tell(Reason("worn_is_read_from", file=readable(file)))
    if missing := [name for name in names if name not in worn]:
        names_of = {"missing": tuple(missing), "described": tuple(described)}
        reason = Reason("not_described", file=readable(file), **names_of)
        if is_asked and not worn:
            raise ComparisonError(str(reason))
        beside.tell(reason, level="warning")
    beside.files = (file,)
    beside.worn |= worn
    beside.standing |= described_standing(worn, file.parent)


def affected_beside(beside: BesideWalks) -> Affected | None:
    """Return the affected side that the files beside the walks agree on; tell which, or why not."""
    people = [_table(file, "person") for file in beside.files]
    told = {str(person["affected_side"]) for person in people if "affected_side" in person}
    side = _SIDES.get(next(iter(told))) if len(told) == 1 else None
    if side is not None:
        beside.tell(Reason("affected_side_beside", side=side))
    elif told:
        beside.tell(Reason("affected_side_unclear", told=tuple(sorted(told))), level="warning")
    return side


def aims_beside(beside: BesideWalks) -> list[QuestionCode]:
    """Return the questions that the files beside the walks have as aims; tell which."""
    aims: dict[str, Mapping[str, Any]] = {}
    for file in beside.files:
        aims |= parse_aims({"aims": _table(file, "aims")}, file.name)
    questions = aimed_questions(aims)
    if questions:
        beside.tell(Reason("aims_beside", aims=tuple(map(Reason, questions))))
    return questions


def age_bands_beside(beside: BesideWalks) -> set[str]:
    """Return the age bands that the files beside the walks give; empty where one is silent."""
    people = [_table(file, "person") for file in beside.files]
    return {str(person.get("age_band", "")) for person in people} or {""}


def population_beside(beside: BesideWalks) -> Population:
    """Return whose typical ranges fit the age beside the walks; tell when they are children's."""
    found = {population_of(band) for band in age_bands_beside(beside)}
    if "child" not in found:
        return found.pop() if len(found) == 1 else "adult"
    beside.tell(Reason("ranges_of_children"))
    return "child"


def _visit_of(conditions_file: Path) -> str | None:
    """Return the visit that a readable conditions file is of; None where it does not say."""
    visit = _table(conditions_file, "visit")
    words = {"number": "visit", "days_since_first_visit": "day"}
    said = [f"{word} {visit[key]}" for key, word in words.items() if key in visit]
    return ", ".join(said) or None


def _table(conditions_file: Path, name: str) -> dict[str, Any]:
    """Return a table of a readable conditions file that is not about conditions."""
    table = tomllib.loads(text_of(conditions_file)).get(name, {})
    return table if isinstance(table, dict) else {}

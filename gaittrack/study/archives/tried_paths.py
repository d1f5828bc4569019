"""A pattern tried on the paths of a tree: what each file would be, before any is read.

In come paths below the folder that was given, patterns and what a person said besides, out comes
for each file its person, visit, day, condition and use, each with where it was found.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath

from gaittrack.reasons import Reason
from gaittrack.record.registry import CONDITION
from gaittrack.study.archives.guessing import (
    BRACE,
    Guess,
    condition_name,
    guess_of,
    said_worn,
    says_standing,
)
from gaittrack.study.archives.path_patterns import PathPattern, Said

_WORN = ("orthosis", "orthosis_side", "footwear")
STANDING, WALK = "standing", "walk"


@dataclass(slots=True)
class TriedFile:
    """What one file would be.

    Attributes
    ----------
    path : str
        Below the folder that was given.
    at : Path
        Where it lies; for who tries names alone, nowhere.
    said : dict of str to str
        The named parts of its path.
    cells : dict of str to str
        As in a row of a sheet: ``person``, ``visit``, ``date``, ``condition``, ``trial``, ``use``
        (``walk`` or ``standing``) and facts. What nothing says is not there.
    sources : dict of str to Reason
        Where a guess comes from, by the name of its cell.
    other : dict of str to str, or None
        A second way to read the path.
    clashes : list of str
        Cells of which two rows of a list say different things.
    """

    path: str
    said: Said = field(default_factory=dict)
    cells: dict[str, str] = field(default_factory=dict)
    sources: dict[str, Reason] = field(default_factory=dict)
    other: Said | None = None
    clashes: list[str] = field(default_factory=list)
    at: Path = Path()

    @property
    def is_standing(self) -> bool:
        """Whether it would be a standing trial."""
        return self.cells.get("use") == STANDING

    @property
    def is_braced(self) -> bool:
        """Whether a brace would be worn in it."""
        return self.cells.get("orthosis") == BRACE


@dataclass(frozen=True, slots=True)
class ToldBesides:
    """What a person says besides the pattern.

    Attributes
    ----------
    conditions : mapping of str to mapping
        What was worn in a condition, by its name in the tree.
    rows : sequence of mapping
        Of a list: the cells that are parts choose files, the others are said of these.
    visit : str
        Of files of which nothing else says it.
    """

    conditions: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    rows: Sequence[Mapping[str, str]] = ()
    visit: str = ""


def try_paths(
    paths: Iterable[str], patterns: Sequence[PathPattern], told: ToldBesides | None = None
) -> list[TriedFile]:
    """Say what each file would be; those that fit no pattern have nothing said.

    Parameters
    ----------
    paths : iterable of str
        Parts separated by ``/``.
    """
    tried = [_read(path, patterns) for path in paths]
    keys = {part for pattern in patterns for part in pattern.parts}
    for one in tried:
        if one.said:
            _tell(one, told or ToldBesides(), keys)
    _spell_alike(tried)
    _standing_of_conditions(tried)
    return tried


def _read(path: str, patterns: Sequence[PathPattern]) -> TriedFile:
    found: list[Said] = []
    for pattern in patterns:
        found += [said for said in pattern.readings(path) if said not in found]
    first, second, *_ = [*found, None, None]
    return TriedFile(path, first or {}, other=second)


def _tell(one: TriedFile, told: ToldBesides, keys: set[str]) -> None:
    """Fill in the cells of a file: its parts, the list, what is said of its condition, guesses."""
    guess, said = _guess(one), one.said
    one.cells |= {part: said[part] for part in said if part != "side"}
    for row in told.rows:
        if _chosen(row, said, keys):
            own = {name: cell for name, cell in row.items() if name not in keys}
            one.clashes += [name for name in own if one.cells.get(name, own[name]) != own[name]]
            one.cells |= own
    given = one.cells.keys() & set(_WORN)
    name = one.cells.get("condition", condition_name(guess.worn)).casefold()
    by_name = told.conditions.get(name)
    worn = {**(guess.worn if by_name is None else by_name)}
    if "side" in said:
        worn.setdefault("orthosis_side", said["side"])
    one.cells |= {key: value for key, value in worn.items() if key not in given}
    if by_name is None:
        one.sources |= {key: guess.sources[key] for key in guess.worn if key not in given}
    if not one.is_braced:
        _leave_out_brace(one)
    _tell_visit(one, guess, told)
    _tell_condition(one, guess)


def _leave_out_brace(one: TriedFile) -> None:
    """Say nothing of a brace that was not worn: a list says it of all files of a person."""
    for name in [*one.cells]:
        if name != "orthosis" and name in CONDITION and CONDITION[name].of in ("brace", "setting"):
            del one.cells[name]
    one.sources.pop("orthosis_side", None)


def _tell_visit(one: TriedFile, guess: Guess, told: ToldBesides) -> None:
    if "date" not in one.cells and guess.day:
        one.cells["date"], one.sources["date"] = guess.day, guess.sources["day"]
    visit = told.visit or one.cells.get("date", "")
    if "visit" not in one.cells and visit:
        one.cells["visit"] = visit
        if not told.visit:
            one.sources["visit"] = Reason("visit_by_its_day")


def _tell_condition(one: TriedFile, guess: Guess) -> None:
    """Say walk or standing, and name the condition where only words for what was worn stand."""
    one.cells["use"] = STANDING if guess.is_standing else WALK
    if guess.is_standing:
        one.sources["use"] = guess.sources["standing"]
    name = one.said.get("condition", "")
    if name and says_standing(name):
        one.cells["condition"] = condition_name(said_worn(name))
    elif "condition" not in one.cells and (worn := condition_name(one.cells)):
        one.cells["condition"] = worn
        one.sources["condition"] = Reason("condition_by_what_was_worn")
    if not one.cells.get("condition"):
        one.cells.pop("condition", None)


def _guess(one: TriedFile) -> Guess:
    """Guess from the part that is the condition; from the whole path where there is none.

    A part of the file's name that says something else of the brace than the whole name does ("with"
    of "with shoe") says nothing.
    """
    whole, name = guess_of(one.path), one.said.get("condition")
    if name is None:
        return whole
    worn = said_worn(name)
    stem = PurePosixPath(one.path).stem
    around = said_worn(stem, is_of_work=False) if name in stem else worn
    if around.get("orthosis") != worn.get("orthosis"):
        worn.pop("orthosis", None)
    code = "guessed_from_file" if name in stem else "guessed_from_folder"
    kept = {key: value for key, value in whole.sources.items() if key in ("day", "standing")}
    sources = kept | dict.fromkeys(worn, Reason(code, name=name))
    return Guess(worn, whole.is_standing, whole.day, sources)


def _chosen(row: Mapping[str, str], said: Said, keys: set[str]) -> bool:
    """Tell whether a row of a list is of a file: all its cells that are parts say the same."""
    own = {name: cell for name, cell in row.items() if name in keys and cell}
    return bool(own) and all(said.get(n, "").casefold() == own[n].casefold() for n in own)


def _spell_alike(tried: Iterable[TriedFile]) -> None:
    """Write people, visits and conditions that differ in capitals only as they stand first."""
    first: dict[tuple[str, str], str] = {}
    for one in tried:
        for name in ("person", "visit", "condition"):
            if name in one.cells:
                cell = one.cells[name]
                one.cells[name] = first.setdefault((name, cell.casefold()), cell)


def _standing_of_conditions(tried: Sequence[TriedFile]) -> None:
    """Give a standing trial the condition of its visit in which the same was worn."""
    named: dict[tuple[str | None, ...], dict[str, str]] = {}
    for one in tried:
        if not one.is_standing and "condition" in one.cells:
            visit = named.setdefault(_visit_of(one), {})
            visit[one.cells["condition"]] = one.cells.get("orthosis", "")
    for one in tried:
        worn = named.get(_visit_of(one), {})
        if one.is_standing and "orthosis" in one.cells and one.cells.get("condition") not in worn:
            alike = [name for name, brace in worn.items() if brace == one.cells["orthosis"]]
            if len(alike) == 1:
                one.cells["condition"] = alike[0]


def _visit_of(one: TriedFile) -> tuple[str | None, ...]:
    return one.cells.get("person"), one.cells.get("visit")

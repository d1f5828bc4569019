"""All visits of a dropped tree at once: who, when and what was worn, from folders and names.

In come the files that wait and what was said of their names, out come a table of what each would be
and the same plan as from a pattern on the command line.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from dashboards.add_walks.turn import Turn
from dashboards.add_walks.uploads import Received
from dashboards.parts.dash_private import Markup
from dashboards.parts.markup import drawn
from gaittrack.compare.row_words import count_words
from gaittrack.errors import GaitTrackError
from gaittrack.study.archives.path_patterns import PathPattern
from gaittrack.study.archives.pattern_doubts import doubts_of
from gaittrack.study.archives.planning_pattern import (
    TriedTree,
    name_apart,
    take_affected_sides,
    told_of_conditions,
)
from gaittrack.study.archives.proposing import proposed_patterns
from gaittrack.study.archives.tried_paths import ToldBesides, TriedFile, try_paths
from gaittrack.study.people.enrolled import known_side, person_codes
from gaittrack.study.recordings.planning import EVENTS_ENDING, Plan
from gaittrack.study.recordings.planning_sheet import SheetRow, plan_rows

_MOST_ROWS: Final = 200
"""Further rows are counted, not shown; own choice."""
_ELSE: Final = (
    "Say it here, or leave out files beforehand; gaittrack import --pattern takes a list besides."
)
_SIDES: Final = {"": "not said", "left": "left", "right": "right", "both": "both"}
_WORN: Final = {
    "": "as guessed",
    "without brace, shoe": "no brace, shoe",
    "barefoot": "barefoot",
    "with brace left, shoe": "brace left, shoe",
    "with brace right, shoe": "brace right, shoe",
    "with brace both, shoe": "brace on both, shoe",
}
"""What may be said of a condition of the tree: words that ``--condition`` takes too."""


@dataclass(frozen=True, slots=True)
class WholeTree:
    """What the files that wait would be.

    Attributes
    ----------
    patterns : list of str
        How their folders and names are read.
    open_points : list of str
        What stands in the way of storing all of them, in words.
    known : frozenset of str
        People of the study.
    worn, sides : mapping of str to str
        What was said of conditions, and of the sides of people's braces.
    """

    patterns: list[str]
    tree: TriedTree
    open_points: list[str]
    known: frozenset[str]
    worn: Mapping[str, str]
    sides: Mapping[str, str]


def whole_tree(turn: Turn) -> WholeTree:
    """Say what each file that waits would be; nothing but names is read."""
    draft = turn.draft
    waiting = [one for one in _waiting(turn) if not one.name.endswith(EVENTS_ENDING)]
    names = [one.place for one in waiting]
    texts = [draft.tree_pattern] if draft.tree_pattern else proposed_patterns(names)
    with turn.study.read() as connection:
        known = frozenset(person_codes(connection))
        sides = {code: side for code in known if (side := known_side(connection, code))}
    said_of = draft.tree_worn, draft.tree_sides
    try:
        patterns = [PathPattern(text) for text in texts]
        said = [f"{name}={words}" for name, words in draft.tree_worn.items()]
        rows = [{"person": code, "orthosis_side": s} for code, s in draft.tree_sides.items()]
        told = ToldBesides(told_of_conditions(said), rows)
        tree = TriedTree(try_paths(names, patterns, told))
        for one, file in zip(tree.files, waiting, strict=True):
            one.at = file.path or Path()
        name_apart(tree.files)
        take_affected_sides(tree, sides)
        points = [f"{error.where}: {error.what}" for error in doubts_of(tree, patterns, told)]
    except GaitTrackError as error:
        return WholeTree(texts, TriedTree(), [f"{error.where}: {error.what}"], known, *said_of)
    return WholeTree(texts, tree, points, known, *said_of)


def _waiting(turn: Turn) -> list[Received]:
    found = [
        one
        for n, one in enumerate(turn.basket.files)
        if one.path is not None and n not in turn.draft.left_out
    ]
    return sorted(found, key=lambda one: one.place)


def tree_plan(turn: Turn, whole: WholeTree) -> Plan:
    """Place the files, as the sheet of such a tree would."""
    tables = {
        (one.folder, one.name.removesuffix(EVENTS_ENDING)): one.path
        for one in _waiting(turn)
        if one.name.endswith(EVENTS_ENDING)
    }
    rows = [
        SheetRow({"file": str(one.at), **_events(one, tables), **one.cells}, one.path)
        for one in whole.tree.files
    ]
    plan, _ = plan_rows(rows, [Path("/")])
    return plan


def _events(one: TriedFile, tables: dict[tuple[str, str], Path | None]) -> dict[str, str]:
    folder, _, name = one.path.rpartition("/")
    table = tables.get((folder, Path(name).stem))
    return {} if table is None else {"events": str(table)}


def tree_part(whole: WholeTree) -> Markup:
    """Return the table of what the files would be, what is open, and the act."""
    cells = [one.cells for one in whole.tree.files]
    people = {each["person"] for each in cells if "person" in each}
    visits = {(each.get("person"), each.get("visit")) for each in cells}
    rows = Counter(map(_row, whole.tree.files))
    unsaid = {one.cells.get("person", "") for one in whole.tree.files if _lacks_side(one)}
    n_files = count_words(len(cells), "file")
    given = {
        "head": f"{n_files}: {len(people)} people, {count_words(len(visits), 'visit')}",
        "patterns": whole.patterns,
        "conditions": [(*each, whole.worn.get(each[0], "")) for each in _conditions(whole)],
        "worn": _WORN,
        "points": whole.open_points,
        "more_ways": _ELSE,
        "n_new": len(people - whole.known),
        "n_people": len(people),
        "braced": [(c, whole.sides.get(c, "")) for c in sorted({*unsaid, *whole.sides} - {""})],
        "sides": _SIDES,
        "rows": list(rows.items())[:_MOST_ROWS],
        "n_beyond": max(0, len(rows) - _MOST_ROWS),
        "go_on": f"That is so: look at all {n_files}",
    }
    return Markup(drawn("add_walks.tree", given))


def _conditions(whole: WholeTree) -> list[tuple[str, str]]:
    """Return each condition of the tree with what was worn, as it is guessed or said."""
    worn: dict[str, set[str]] = {}
    for one in whole.tree.files:
        if "condition" in one.cells and not one.is_standing:
            said = (one.cells.get(key, "") for key in ("orthosis", "orthosis_side", "footwear"))
            worn.setdefault(one.cells["condition"], set()).add(" ".join(filter(None, said)))
    return [
        (name, " or ".join(sorted(filter(None, found))) or "not said")
        for name, found in worn.items()
    ]


def _lacks_side(one: TriedFile) -> bool:
    return one.is_braced and "orthosis_side" not in one.cells and "brace" not in one.cells


def _row(one: TriedFile) -> tuple[str, ...]:
    names = ("person", "visit", "date", "condition", "orthosis_side", "use")
    return tuple(one.cells.get(name, "") for name in names)

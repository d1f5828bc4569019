"""All visits of a dropped tree at once: who, when and what was worn, from folders and names.

In come the files that wait and what was said of their names, out come a table of what each would be
and the same plan as from a pattern on the command line.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import Any, Final

from dashboards.add_walks.files_table import PRESSED, press_html
from dashboards.add_walks.step_strip import files
from dashboards.add_walks.turn import Turn
from dashboards.add_walks.uploads import Received
from dashboards.parts.dash_private import Markup
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
    return Markup("".join(_shown(whole)))


def _shown(whole: WholeTree) -> Iterator[str]:
    cells = [one.cells for one in whole.tree.files]
    people = {each["person"] for each in cells if "person" in each}
    visits = {(each.get("person"), each.get("visit")) for each in cells}
    yield f"<h2>{files(len(cells))}: {len(people)} people, {count_words(len(visits), 'visit')}</h2>"
    for text in whole.patterns[:1] if len(whole.patterns) < 2 else []:
        yield '<div class="row map-names"><label>Folders and names are read as '
        yield f'<input type="text" size="48" value="{escape(text)}" {_value("tree pattern")}>'
        yield "</label></div>"
    if len(whole.patterns) > 1:
        yield f"<p>Read as {escape(' and '.join(whole.patterns))}.</p>"
    yield from _conditions(whole)
    for point in whole.open_points:
        yield f'<p class="watch">{escape(point)}</p>'
    yield f"<p>{_ELSE}</p>" if whole.open_points else ""
    n_new = len(people - whole.known)
    if n_new:
        yield f"<p>{n_new} of {len(people)} people are new to the study and will be added.</p>"
    yield from _table(whole)
    if not whole.open_points:
        words = f"That is so: look at all {files(len(cells))}"
        yield f'<div class="row">{press_html(words, {"act": "tree look"}, "main")}</div>'


def _value(act: str, **more: Any) -> str:
    return f'data-press="{PRESSED}" data-value="{escape(json.dumps({"act": act, **more}))}"'


def _conditions(whole: WholeTree) -> Iterator[str]:
    """Ask of each condition of the tree what was worn, with the guess filled in."""
    worn: dict[str, set[str]] = {}
    for one in whole.tree.files:
        if "condition" in one.cells and not one.is_standing:
            said = (one.cells.get(key, "") for key in ("orthosis", "orthosis_side", "footwear"))
            worn.setdefault(one.cells["condition"], set()).add(" ".join(filter(None, said)))
    yield '<div class="row map-names">' if worn else ""
    for name, found in worn.items():
        options = _options(_WORN, whole.worn.get(name, ""))
        guessed = " or ".join(sorted(filter(None, found))) or "not said"
        yield f"<label>{escape(name)}: {escape(guessed)} <select "
        yield f"{_value('tree worn', name=name)}>{options}</select></label>"
    yield "</div>" if worn else ""


def _options(choices: Mapping[str, str], now: str) -> str:
    return "".join(
        f'<option value="{escape(key)}"{" selected" if key == now else ""}>{escape(words)}</option>'
        for key, words in choices.items()
    )


def _table(whole: WholeTree) -> Iterator[str]:
    rows = Counter(map(_row, whole.tree.files))
    unsaid = {one.cells.get("person", "") for one in whole.tree.files if _lacks_side(one)}
    if unsaid := {*unsaid, *whole.sides} - {""}:
        yield '<div class="row map-names">The brace was on'
        for code in sorted(unsaid):
            options = _options(_SIDES, whole.sides.get(code, ""))
            label = f'aria-label="{escape(code)}: side of the brace"'
            yield f"<label>{escape(code)} <select {label} {_value('tree side', name=code)}>"
            yield f"{options}</select></label>"
        yield "</div>"
    yield '<table class="map-list"><thead><tr>'
    for head in ("person", "visit", "day", "condition", "brace on", "use", "files"):
        yield f'<th scope="col">{head}</th>'
    yield "</tr></thead><tbody>"
    for row, n in list(rows.items())[:_MOST_ROWS]:
        yield from _cells((*row, str(n)))
    yield "</tbody></table>"
    if len(rows) > _MOST_ROWS:
        yield f"<p>and {len(rows) - _MOST_ROWS} rows more</p>"


def _lacks_side(one: TriedFile) -> bool:
    return one.is_braced and "orthosis_side" not in one.cells and "brace" not in one.cells


def _row(one: TriedFile) -> tuple[str, ...]:
    names = ("person", "visit", "date", "condition", "orthosis_side", "use")
    return tuple(one.cells.get(name, "") for name in names)


def _cells(row: Iterable[str]) -> Iterator[str]:
    first, *others = row
    yield f'<tr><th scope="row">{escape(first) or "not said"}</th>'
    yield "".join(f"<td>{escape(cell)}</td>" for cell in others)
    yield "</tr>"

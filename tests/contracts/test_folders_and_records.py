"""Rules inside of a room: folders import one way, records of many numbers are built by name."""

import ast
import functools

import pytest

from tests.contracts.test_house_rules import (
    MODULES,
    ROOT,
    each_module,
    imports_of,
    nodes_of,
    room_of,
    tree_of,
)

FOLDERS = {
    "gaittrack.read": ("tables", "c3d_files", "marker_texts", "sheets", ""),
    "gaittrack.compare": (
        *("walked", "measurement_error", "typical_values", "intervals", "fair", "judged", ""),
    ),
    "gaittrack.study": ("", "people", "results", "corrections", "recordings", "archives", "upkeep"),
    "gaittrack.cohort": (
        *("people", "tables", "inference", "disclosure", "release", "kept", "asking", ""),
    ),
    "dashboards": ("parts", "shell", "a screen", ""),
}
"""Inside of a room: a folder imports only from itself and from folders on its left; "" is what lies
in the room itself."""
SCREENS_SEEN = {("compare", "walks")}
"""A screen imports no other one, but for these: (who, whom)."""


def folder_in(room, name):
    """Return the folder of a dotted module name inside of a room, and its place in the order."""
    order = FOLDERS[room]
    first, _, rest = name.removeprefix(room).removeprefix(".").partition(".")
    is_folder = (ROOT.joinpath(*room.split(".")) / first).is_dir() and first
    folder = first if is_folder else ""
    return folder, order.index(folder if folder in order else "a screen")


def backward(path, tree):
    """Return what a module imports against the order of the folders of its room."""
    own_name = ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
    found = []
    for room in (each for each in FOLDERS if f"{own_name}.".startswith(f"{each}.")):
        own, place = folder_in(room, own_name)
        for name, line in imports_of(tree):
            if not name.startswith(f"{room}."):
                continue
            other, its_place = folder_in(room, name)
            is_other_screen = place == its_place and own != other
            if its_place > place or (is_other_screen and (own, other) not in SCREENS_SEEN):
                found.append(f"line {line}: {own or room} imports {name}")
    return found


@each_module
def test_folders_of_a_room_import_one_way(path):
    """Inside of a study people come first and upkeep last; no screen knows another."""
    assert backward(path, tree_of(path)) == []


@pytest.mark.parametrize(
    ("place", "planted", "n_breaches"),
    [
        ("gaittrack/study/people/x.py", "from gaittrack.study.results.keeping import x", 1),
        ("gaittrack/study/tables.py", "from gaittrack.study.people.facts import x", 1),
        ("gaittrack/study/upkeep/x.py", "from gaittrack.study.recordings.adding import x", 0),
        ("dashboards/parts/x.py", "from dashboards.shell import bars", 1),
        ("dashboards/shell/x.py", "from dashboards.app import build_app", 1),
        ("dashboards/walks/x.py", "from dashboards.compare.screen import x", 1),
        ("dashboards/compare/x.py", "from dashboards.walks.screen import x", 0),
    ],
)
def test_a_planted_way_back_is_seen(place, planted, n_breaches):
    """The check itself finds an import to a folder on the right, or of another screen."""
    assert len(backward(ROOT / place, ast.parse(planted))) == n_breaches


def numbers_of(tree):
    """Yield (name, which of its fields are numbers) of every record class of a module."""
    for node in (each for each in nodes_of(tree) if isinstance(each, ast.ClassDef)):
        made_by = " ".join(ast.unparse(each) for each in (*node.decorator_list, *node.bases))
        if "dataclass" in made_by or "NamedTuple" in made_by:
            fields = [each for each in node.body if isinstance(each, ast.AnnAssign)]
            plain = [ast.unparse(each.annotation).split(" | ")[0] for each in fields]
            yield node.name, [each in ("float", "int") for each in plain]


MOST_NUMBERS_BY_PLACE = 3


@functools.cache
def records():
    """Return every record class: name → which of its fields are numbers."""
    return {name: numbers for path in MODULES for name, numbers in numbers_of(tree_of(path))}


def own_names(tree):
    """Return the names that a module defines or imports from this project."""
    defined = {node.name for node in tree.body if isinstance(node, ast.ClassDef)}
    taken = [node for node in nodes_of(tree) if isinstance(node, ast.ImportFrom)]
    ours = [node for node in taken if room_of(node.module) is not None]
    return defined | {alias.asname or alias.name for node in ours for alias in node.names}


def built_by_place(tree):
    """Return the calls that give a record more than three numbers by their place alone."""
    found, known = [], own_names(tree)
    for call in (each for each in nodes_of(tree) if isinstance(each, ast.Call)):
        name = ast.unparse(call.func)
        numbers = records().get(name, []) if name in known else []
        is_spread = any(isinstance(each, ast.Starred) for each in call.args)
        given = numbers if is_spread else numbers[: len(call.args)]
        if sum(given) > MOST_NUMBERS_BY_PLACE and call.args:
            found.append(f"line {call.lineno}: {name}")
    return found


@each_module
def test_records_of_many_numbers_are_built_by_name(path):
    """Two numbers that change places are not seen by anybody: more than three have their names."""
    assert built_by_place(tree_of(path)) == []


def test_planted_numbers_without_names_are_seen():
    """The check itself finds numbers by place, also spread ones."""
    planted = "from gaittrack.read.c3d_files.c3d_counts import Counts\n"
    planted += "Counts(1, 2, 3, 4)\nCounts(*many)\nCounts(1, 2, 3, word_bytes=4)\n"
    assert len(built_by_place(ast.parse(planted))) == 2

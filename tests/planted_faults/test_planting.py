"""The command that plants faults: which it knows, and that it sees what is and is not noticed."""

import os

import pytest

from tests.planted_faults import plant
from tests.planted_faults.faults import faults_in
from tests.planted_faults.reach import Reach

TEXT = '''"""Ü: 1 < 2."""
LIMIT: float = 0.5


def is_low(values: list[float], *, side="left") -> bool:
    """Say whether 1 of them is low."""
    if side == "left" and values:
        return not min(values) - 1 > LIMIT and len(values) > 9
    seen = [a for a, b in zip(values, values, strict=True) if np.isnan(b[:, 0])]
    return f"{len(values) + 1}" in ()
'''


def test_every_kind_of_fault_is_found_and_nothing_of_a_text():
    """Numbers, signs, comparisons, words for sides, first and last; no docstring, no f-string.

    Nor what changes nothing: a strict zip, the coordinate at which a place is hidden.
    """
    found = [(fault.line, fault.old, fault.new) for fault in faults_in(TEXT)]
    assert found.count((8, ">", "<=")) == 2 and found.count((8, ">", ">=")) == 1
    assert set(found) == {
        (2, "0.5", "1.0"),
        (5, '"left"', '"right"'),
        (7, "==", "!="),
        (7, '"left"', '"right"'),
        (7, "and", "or"),
        (8, "not", ""),
        (8, "min", "max"),
        (8, "-", "+"),
        (8, "1", "2"),
        (8, "and", "or"),
        (8, ">", "<="),
        (8, ">", ">="),
        (8, "9", "10"),
        (10, "in", "not in"),
    }


def test_a_fault_changes_its_place_only():
    """What is planted stands where the old stood, also behind letters of several bytes."""
    (fault,) = [one for one in faults_in(TEXT) if one.old == "0.5"]
    assert fault.planted(TEXT) == TEXT.replace("0.5", "1.0")


TREE = {
    "pyproject.toml": '[tool.pytest]\npythonpath = ["."]\naddopts = ["--import-mode=importlib"]\n',
    "gaittrack/__init__.py": "",
    "gaittrack/room/sums.py": (
        "import time\n\nSHARE = 0.5\n\n\ndef doubled(value):\n    return value + value\n\n\n"
        "def halved(value):\n    return value * SHARE\n\n\ndef steps(n):\n"
        "    while n > 0:\n        n = n - 1\n        time.sleep(0.01)\n    return n\n"
        "\n\ndef count(n):\n    while n > 0:\n        n = n - 2\n    return n\n"
    ),
    "tests/room/test_sums.py": (
        "from gaittrack.room.sums import count, doubled, halved, steps\n\n\n"
        "def test_doubled():\n    assert doubled(3) == 6\n\n\n"
        "def test_halved():\n    assert halved(0) == 0\n\n\n"
        "def test_steps():\n    assert steps(3) == 0\n\n\n"
        "def test_count():\n    assert count(4) == 0\n"
    ),
    "gaittrack/room/kept.py": (
        "from functools import cache\n\n\n@cache\ndef kept():\n    return {'a'}\n"
    ),
    "tests/room/test_kept.py": (
        "import subprocess, sys\n\nfrom gaittrack.room.kept import kept\n\n\n"
        "def test_kept():\n    assert kept()\n\n\ndef test_again():\n    assert kept()\n\n\n"
        "def test_apart():\n    own = 'from gaittrack.room.kept import kept; kept()'\n"
        "    assert subprocess.run([sys.executable, '-c', own]).returncode == 0\n"
    ),
}


@pytest.fixture
def tree(tmp_path, monkeypatch):
    """Give a small tree in place of the checkout."""
    for name, text in TREE.items():
        path = tmp_path / "tree" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)
    monkeypatch.setattr(plant, "ROOT", tmp_path / "tree")
    monkeypatch.setattr(plant, "TESTS", {"room": ("room",)})
    monkeypatch.setattr(plant, "COPIED", ("pyproject.toml", "gaittrack", "tests"))
    return tmp_path / "tree"


@pytest.mark.skipif(not hasattr(os, "fork"), reason="there is no fork")
def test_survivors_are_told_from_what_is_noticed_and_what_hangs(tree, capsys, monkeypatch):
    """A sum is tested, a half only at zero; a loop that never ends is ended, resting or not.

    Each test is seen to call what is cached, and one that starts a process may call anything.
    """
    drawn = {
        str(one.fault.line) + one.fault.old: one for one in plant.sampled(("room",), 99, 1, "")
    }
    with plant.copies(2) as trees:
        reaches = {"room": plant.watched(trees[0], "room")}
        tried = list(plant.try_all([drawn[key] for key in ("30.5", "7+", "11*")], trees, reaches))
        monkeypatch.setattr(plant, "LEAST_S", 1)
        tried += plant.try_all([drawn["16-"]], trees, reaches)
        reaches["room"].seconds["of another test"] = 1000.0
        tried += plant.try_all([drawn["23-"]], trees, reaches)
    calling = reaches["room"].tests_that_call("gaittrack/room/kept.py", 4)
    assert {test.partition("::")[2] for test in calling} == {
        "test_kept",
        "test_again",
        "test_apart",
    }
    became = {str(one.fault.line) + one.fault.old: one.became for one in tried}
    expected = {
        "30.5": "survived",
        "7+": "noticed",
        "11*": "survived",
        "16-": "hung",
        "23-": "hung",
    }
    assert became == expected
    assert (tree / "gaittrack/room/sums.py").read_text() == TREE["gaittrack/room/sums.py"]
    survivor = next(one for one in tried if one.became == "survived")
    listed = tree / "standing.md"
    listed.write_text(f"# Some\n\n- {survivor.key}: nobody is promised a half\n")
    monkeypatch.setattr(plant, "STANDING", listed)
    plant.report(tried, plant.standing())
    told = capsys.readouterr().out
    assert "room: 5 planted, 60 % noticed (2 hung), 2 survived, 1 of them stand" in told


def test_a_function_is_reached_by_its_tests_and_by_those_of_its_fixtures():
    """Of the function, not of its neighbour; the quickest file first."""
    reach = Reach()
    reach.of_test = {"slow.py::a": {("m.py", 1)}, "quick.py::b": {("m.py", 1), ("m.py", 5)}}
    reach.seconds = {"slow.py::a": 2.0, "quick.py::b": 1.0}
    assert reach.tests_that_call("m.py", 1) == ["quick.py::b", "slow.py::a"]
    assert reach.tests_that_call("m.py", 5) == ["quick.py::b"]
    assert reach.tests_that_call("m.py", None) == ["quick.py::b", "slow.py::a"]
    assert reach.tests_that_call("n.py", None) == []


def test_what_stands_is_in_the_list_with_a_reason():
    """Each line of the list names a module that is there, and says why."""
    lines = plant.STANDING.read_text(encoding="utf-8").splitlines()
    entries = [line for line in lines if line.startswith("- ")]
    assert len(plant.standing()) == len(entries)
    for entry in entries:
        key = next(key for key in plant.standing() if entry.startswith(f"- {key}"))
        assert len(entry.removeprefix(f"- {key}").strip(" :.")) > 10, entry
        assert (plant.ROOT / key.split("`")[1]).is_file(), entry

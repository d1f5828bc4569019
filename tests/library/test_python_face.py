"""``import gaittrack``: what it gives, and what it does not load."""

import ast
import doctest
import importlib
import re
import subprocess
import sys
from importlib.resources import files
from pathlib import Path

import pytest

import gaittrack

ROOT = Path(__file__).parents[2]
HEAVY = {"pandas", "scipy", "numpy", "dash", "plotly", "ezc3d", "sqlalchemy", "click", "dashboards"}


def run_python(code, *flags):
    """Run code in an interpreter of its own, from the root of the project."""
    command = [sys.executable, *flags, "-c", code]
    return subprocess.run(command, capture_output=True, text=True, check=True, cwd=ROOT)


def test_import_loads_nothing_heavy():
    """Neither tables nor filters nor databases, and no room of its own."""
    done = run_python("import gaittrack; dir(gaittrack)", "-X", "importtime")
    loaded = {line.rpartition("|")[2].strip() for line in done.stderr.splitlines()}
    assert "gaittrack" in loaded
    assert {name.split(".")[0] for name in loaded} & HEAVY == set()
    assert not any(name.startswith("gaittrack.") for name in loaded)


def test_every_name_is_there_and_listed():
    """What ``__all__`` says can be had, is told by ``dir``, and stars with a docstring."""
    assert set(gaittrack.__all__) <= set(dir(gaittrack))
    assert {"read_trial", "measure", "compare", "open_study"} <= set(gaittrack.__all__)
    for name in gaittrack.__all__:
        assert getattr(gaittrack, name).__doc__, name
    with pytest.raises(AttributeError, match="no attribute 'measures_of'"):
        gaittrack.measures_of  # noqa: B018


@pytest.mark.parametrize(
    "first",
    ["from gaittrack.compare.walked.walks import WalkRecord", "pass"],
)
def test_compare_is_the_function_whatever_was_loaded_before(first):
    """The room of the same name does not take its place."""
    code = f"{first}\nimport gaittrack\nfrom gaittrack import compare\n"
    code += "import gaittrack.compare.fair.condition\n"
    code += "print(compare is gaittrack.compare, gaittrack.compare.__name__, callable(compare))"
    assert run_python(code).stdout.split() == ["True", "compare", "True"]


def test_types_are_shipped():
    """A type checker may read the package."""
    assert (files("gaittrack") / "py.typed").is_file()
    assert '"gaittrack" = ["py.typed"]' in (ROOT / "pyproject.toml").read_text(encoding="utf-8")


def test_a_type_checker_sees_the_same_names():
    """What it reads, what is listed and what is loaded are one list."""
    tree = ast.parse((ROOT / "gaittrack" / "__init__.py").read_text(encoding="utf-8"))
    (block,) = [node for node in tree.body if isinstance(node, ast.If) and not node.orelse][:1]
    seen = {name.name: node.module for node in block.body for name in node.names}
    assert seen == {name: f"gaittrack.{room}" for name, room in gaittrack._ROOMS.items()}
    assert list(seen) and sorted(seen) == sorted(gaittrack.__all__)


def test_readme_in_python_word_for_word():
    """The six lines run as they stand, and give tables."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    (block,) = re.findall(r"```python\n(.*?)```", text, re.S)
    assert sum(line != "" for line in block.splitlines()) == 6
    code = block + "\nprint(len(walks.values()), len(found.changes()), len(repr(found)))\n"
    n_values, n_changes, n_shown = map(int, run_python(code).stdout.split())
    assert n_values > 100 and n_changes > 80 and n_shown < 1000


@pytest.mark.parametrize(
    "module", ["library.measurements", "library.comparisons", "library.studies", "read"]
)
def test_examples_of_docstrings_are_true(module, monkeypatch):
    """They run from the root of the project."""
    monkeypatch.chdir(ROOT)
    found = doctest.testmod(
        importlib.import_module(f"gaittrack.{module}"), optionflags=doctest.NORMALIZE_WHITESPACE
    )
    assert found.attempted > 1 and found.failed == 0

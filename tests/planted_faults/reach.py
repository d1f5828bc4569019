"""Which tests reach which functions: a pytest plugin that is told of calls while tests run.

In comes a copy of the tree, whose functions it makes tell that they are called; out comes, for each
test, the functions that it and its fixtures call, and how long it took.
"""

import ast
import builtins
import multiprocessing.process
import subprocess
import sys
import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from functools import wraps
from pathlib import Path
from typing import Any

import pytest

Function = tuple[str, int]
"""Path within the tree and the line a function begins at."""
STARTERS = ((subprocess.Popen, "__init__"), (multiprocessing.process.BaseProcess, "start"))
"""Whoever calls these has another process, in which nothing is seen."""
UNSEEN: Function = ("", 0)
TELL_NOBODY = """
import builtins
vars(builtins).setdefault("told_of_call", lambda *_: None)
"""
"""For another process."""


class Reach:
    """Watch one run of pytest."""

    def __init__(self) -> None:
        self.open: list[set[Function]] = []
        self.of_fixture: dict[object, set[Function]] = defaultdict(set)
        self.of_test: dict[str, set[Function]] = {}
        self.seconds: dict[str, float] = {}

    def seen(self, path: str, line: int) -> None:
        """Note a call."""
        if self.open:
            self.open[-1].add((path, line))

    def pytest_sessionstart(self) -> None:
        """Let the functions of the tree tell of calls, and whoever starts a process too."""
        builtins.told_of_call = self.seen  # type: ignore[attr-defined]
        for kind, name in STARTERS:
            setattr(kind, name, self._telling(getattr(kind, name)))

    def _telling(self, starts: Callable[..., Any]) -> Callable[..., Any]:
        @wraps(starts)
        def told(*given: Any, **named: Any) -> Any:
            self.seen(*UNSEEN)
            return starts(*given, **named)

        return told

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item):
        """Gather what a test and all its fixtures call, also those made for a test before."""
        own: set[Function] = set()
        self.open.append(own)
        forget_what_is_cached()
        start_s = time.perf_counter()
        try:
            return (yield)
        finally:
            self.open.pop()
            for definitions in item._fixtureinfo.name2fixturedefs.values():
                own = own.union(*(self.of_fixture[one] for one in definitions))
            self.of_test[item.nodeid] = own
            self.seconds[item.nodeid] = time.perf_counter() - start_s

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef):
        """Gather what a fixture calls apart from the test it is made for."""
        self.open.append(self.of_fixture[fixturedef])
        try:
            return (yield)
        finally:
            self.open.pop()

    def tests_that_call(self, path: str, line: int | None) -> list[str]:
        """Return the tests that may call a function, or any of a module; quick files first."""
        chosen = [
            test
            for test, functions in self.of_test.items()
            if UNSEEN in functions
            or ((path, line) in functions if line else any(path == p for p, _ in functions))
        ]
        spent = defaultdict(float)
        for test in chosen:
            spent[test.partition("::")[0]] += self.seconds[test]
        return sorted(chosen, key=lambda test: spent[test.partition("::")[0]])


def forget_what_is_cached() -> None:
    """Empty the caches of the package, so that a test is seen to call what a test before called."""
    for name in [name for name in sys.modules if name.partition(".")[0] == "gaittrack"]:
        for own in vars(sys.modules[name]).values():
            if getattr(own, "__module__", None) == name and hasattr(own, "cache_clear"):
                own.cache_clear()


def make_telling(tree: Path) -> None:
    """Make every function of the package in a tree tell that it is called."""
    for path in (tree / "gaittrack").rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        lines = text.splitlines(keepends=True)
        for at, column, begins in sorted(_beginnings(text), reverse=True):
            call = f"told_of_call({path.relative_to(tree).as_posix()!r}, {begins})\n"
            lines.insert(at - 1, " " * column + call)
        path.write_text("".join(lines), encoding="utf-8")
    with (tree / "gaittrack" / "__init__.py").open("a", encoding="utf-8") as file:
        file.write(TELL_NOBODY)


def _beginnings(text: str) -> Iterator[tuple[int, int, int]]:
    """Yield line and column of the first statement of each function, and where that begins."""
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef):
            own = node.body[1:] if ast.get_docstring(node) is not None else node.body
            if own and first_line(own[0]) > node.lineno:
                yield first_line(own[0]), own[0].col_offset, first_line(node)


def first_line(node: ast.stmt) -> int:
    """Return the line a statement begins at, with what decorates it."""
    return min([node.lineno, *(one.lineno for one in getattr(node, "decorator_list", ()))])

"""Which tests reach which functions: a pytest plugin that watches calls while tests run.

Out comes, for each test, the functions that it and its fixtures call, and how long it took.
"""

import multiprocessing.process
import subprocess
import sys
import threading
import time
from collections import defaultdict
from pathlib import Path

import pytest

Function = tuple[str, int]
"""Path within the tree and the line a function begins at."""
STARTERS = (subprocess.__file__, multiprocessing.process.__file__)
"""Whoever calls these has another process, in which nothing is seen."""
UNSEEN: Function = ("", 0)


class Reach:
    """Watch one run of pytest."""

    def __init__(self, tree: Path) -> None:
        self.begins = f"{tree}/gaittrack/"
        self.cut = len(f"{tree}/")
        self.open: list[set[Function]] = []
        self.of_fixture: dict[object, set[Function]] = defaultdict(set)
        self.of_test: dict[str, set[Function]] = {}
        self.seconds: dict[str, float] = {}

    def seen(self, frame, event, _):
        """Note a call; lines within it are of no interest."""
        code = frame.f_code
        if self.open and code.co_filename.startswith(self.begins):
            self.open[-1].add((code.co_filename[self.cut :], code.co_firstlineno))
        elif self.open and code.co_filename in STARTERS:
            self.open[-1].add(UNSEEN)

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item):
        """Gather what a test and all its fixtures call, also those made for a test before."""
        own: set[Function] = set()
        self.open.append(own)
        forget_what_is_cached()
        start_s = time.perf_counter()
        threading.settrace(self.seen)
        sys.settrace(self.seen)
        try:
            return (yield)
        finally:
            sys.settrace(None)
            threading.settrace(None)
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

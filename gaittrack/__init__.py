"""gaittrack: what a brace changes in a person's walking, measured.

Four functions in Python do what the commands do, with the same numbers::

    read_trial(path)        one recording, as it stands in its file
    measure(paths)          the measures of walks: values(), strides(), files(), refusals()
    compare(conditions)     what changed: changes(), values(), strides(), files()
    open_study(folder)      people, visits and stored walks: values(), strides(), compare()

What they give has tables of pandas as methods: long, one quantity per row with its unit beside it;
what is not defined is NaN with the reason. Nothing heavy is loaded before it is used.
"""

from __future__ import annotations

import sys
from importlib import import_module
from types import ModuleType
from typing import TYPE_CHECKING

__version__ = "0.9.0"

if TYPE_CHECKING:
    from gaittrack.compare.comparison import Comparison
    from gaittrack.errors import GaitTrackError, Problem
    from gaittrack.file_comparison import FileComparison
    from gaittrack.lab_map import LabMap
    from gaittrack.library.comparisons import compare
    from gaittrack.library.measurements import Measurements, measure
    from gaittrack.library.studies import OpenStudy, open_study
    from gaittrack.measured_walk import MeasuredWalk, RefusedFile
    from gaittrack.read import read_trial
    from gaittrack.study.results.comparing import StoredComparison
    from gaittrack.trial import Trial

__all__ = [
    "Comparison",
    "FileComparison",
    "GaitTrackError",
    "LabMap",
    "MeasuredWalk",
    "Measurements",
    "OpenStudy",
    "Problem",
    "RefusedFile",
    "StoredComparison",
    "Trial",
    "compare",
    "measure",
    "open_study",
    "read_trial",
]

_ROOMS = {
    "Comparison": "compare.comparison",
    "FileComparison": "file_comparison",
    "GaitTrackError": "errors",
    "LabMap": "lab_map",
    "MeasuredWalk": "measured_walk",
    "Measurements": "library.measurements",
    "OpenStudy": "library.studies",
    "Problem": "errors",
    "RefusedFile": "measured_walk",
    "StoredComparison": "study.results.comparing",
    "Trial": "trial",
    "compare": "library.comparisons",
    "measure": "library.measurements",
    "open_study": "library.studies",
    "read_trial": "read",
}


if not TYPE_CHECKING:  # a type checker reads the names above, and sees a slip in others

    def __getattr__(name: str) -> object:
        """Load a public name when it is first used."""
        if name not in _ROOMS:
            raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
        found = getattr(import_module(f"{__name__}.{_ROOMS[name]}"), name)
        globals()[name] = found
        return found


def __dir__() -> list[str]:
    """Return the public names, loaded or not."""
    return sorted([*__all__, *(name for name in globals() if name.startswith("__"))])


class _Face(ModuleType):
    """Keeps ``compare`` the function: loading the room of that name would put itself there."""

    def __setattr__(self, name: str, value: object) -> None:
        if not (name in _ROOMS and isinstance(value, ModuleType)):
            super().__setattr__(name, value)


sys.modules[__name__].__class__ = _Face

"""Outcomes that a study declares beforehand: one primary, others, and which change is important.

In comes a TOML file, or what was chosen, out comes what it declares::

    primary = "minimum_toe_clearance_mm"
    secondary = ["walking_speed_m_s"]

    [[important]]
    measure = "walking_speed_m_s"
    difference = 0.1
    source = "where that comes from"
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.errors import LayoutError
from gaittrack.lab_files import read_toml, refuse_wrong_keys

_LISTS: Final = ("secondary", "important")
_IMPORTANT: Final = ("measure", "difference", "source")


@dataclass(frozen=True, slots=True)
class ImportantChange:
    """The change of a measure that somebody calls important; its sign says which way.

    Attributes
    ----------
    source : str
        Who says so.
    """

    difference: float
    source: str


@dataclass(frozen=True, slots=True)
class DeclaredOutcomes:
    """What was declared: names of measures."""

    primary: str = ""
    secondary: tuple[str, ...] = ()
    important: Mapping[str, ImportantChange] = field(default_factory=dict)

    @property
    def in_words(self) -> str:
        """What is declared, in a few words."""
        more = f" and {len(self.secondary)} more" if self.secondary else ""
        return f"primary {self.primary}{more}"


def read_outcomes(path: Path) -> DeclaredOutcomes:
    """Read a file of declared outcomes.

    Raises
    ------
    LayoutError
        Not readable, or as :func:`outcomes_of`.
    """
    table = read_toml(path, "file of outcomes", "See `gaittrack study settings --help`.")
    return outcomes_of(table, path.name)


def outcomes_of(table: Mapping[str, Any], where: str) -> DeclaredOutcomes:
    """Return declared outcomes from a table of them.

    Raises
    ------
    LayoutError
        An unknown key or measure, one named twice, no size or no source.
    """
    refuse_wrong_keys(table, ("primary", *_LISTS), {"primary"}, where)
    secondary, rows = (table.get(name, []) for name in _LISTS)
    is_list = isinstance(secondary, list) and isinstance(rows, list)
    if not is_list or not all(isinstance(row, dict) for row in rows):
        raise LayoutError.of("outcomes_no_list", where=where)
    if table["primary"] == "":
        raise LayoutError.of("no_primary_outcome", where=where)
    named = [table["primary"], *secondary]
    for place, name in enumerate(named):
        _refuse_unknown(name, where)
        if name in named[:place]:
            raise LayoutError.of("outcome_named_twice", where=where, name=name)
    important = dict(_important(row, where) for row in rows)
    return DeclaredOutcomes(named[0], tuple(named[1:]), important)


def write_outcomes(declared: DeclaredOutcomes) -> str:
    """Return the file that :func:`read_outcomes` reads."""
    lines = [f'primary = "{declared.primary}"', f"secondary = {json.dumps(declared.secondary)}"]
    for name, change in declared.important.items():
        source = json.dumps(change.source, ensure_ascii=False)
        lines += ["[[important]]", f'measure = "{name}"', f"difference = {change.difference!r}"]
        lines += [f"source = {source}"]
    return "\n".join(lines) + "\n"


def _important(row: dict[str, Any], where: str) -> tuple[str, ImportantChange]:
    place = f"{where} [[important]]"
    refuse_wrong_keys(row, _IMPORTANT, set(_IMPORTANT), place)
    _refuse_unknown(row["measure"], place)
    size, source = row["difference"], str(row["source"]).strip()
    is_size = type(size) in (int, float) and math.isfinite(size) and size != 0
    if not is_size or not source:
        raise LayoutError.of("important_without_size", where=place, name=row["measure"])
    return row["measure"], ImportantChange(float(size), source)


def _refuse_unknown(name: Any, where: str) -> None:
    if not isinstance(name, str) or name not in MEASURE_BY_NAME:
        raise LayoutError.of("outcome_no_measure", where=where, name=str(name))

"""Other ways in which names of columns say their axis than a letter behind the name.

In come the names of a table's columns and its numbers; out go the columns of each point. A letter
may stand in front (``XHEEL``), or the columns of one axis together (all X, then all Y). Numbers
(``HEEL_1`` to ``HEEL_3``), or a name that is repeated, may as well count strides: these are taken
for coordinates where the points keep their distances as those of a body do, which angles never do.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from itertools import combinations

import numpy as np

from gaittrack.read.tables.column_names import axis_and_stem, read_column_name
from gaittrack.trial import FloatArray

MOSTLY = 0.8
"""Share of the named columns that must belong to points; our choice."""
FEWEST_POINTS = 3
RIGID = 0.08
"""Scatter of a distance, in shares of it, within one part of a body; our choice: skin moves."""
TRAVELS = 5.0
"""How many times farther than that scatter a point of a walker moves at least; our choice."""
RIGID_SHARE = 0.6
"""Share of the points that must keep their distance to another; our choice."""
_FIRST = re.compile(r"([XYZ])[\s_.:\-]*(\w.*)|([xyz])[\s_.:\-]*([^a-z\s].*)")
_NUMBERED = re.compile(r"(.*?[^\W_])[\s_.:\-]*[\[(]?([0-3])[\])]?")

Spelt = tuple[str, str]
"""Stem and axis; two empty texts for none."""


def _letter_first(name: str) -> Spelt:
    match = _FIRST.fullmatch(name)
    axis, stem = (each for each in match.groups() if each) if match else ("", "")
    return (stem, axis.lower()) if axis else ("", "")


def _letter_last(name: str) -> Spelt:
    axis, stem = axis_and_stem(name)
    return (stem, axis) if axis else ("", "")


def _number_last(name: str) -> Spelt:
    match = _NUMBERED.fullmatch(name)
    return (match[1].rstrip(" _.:-[("), match[2]) if match else ("", "")


_SPELT: Sequence[tuple[Callable[[str], Spelt], Sequence[str], bool]] = (
    (_letter_last, ("xyz",), False),
    (_letter_first, ("xyz",), False),
    (_number_last, ("123", "012"), True),
)
"""How a name is taken apart, the axes of a point, and whether they may be something else."""


def points_spelt_otherwise(
    names: Sequence[str], numbers: Callable[[], FloatArray]
) -> dict[str, tuple[int, int, int]]:
    """Return the columns of x, y and z of each point, by its label; none where nothing tells.

    Parameters
    ----------
    numbers : callable
        Gives the numbers of the table, shape (n_rows, n_columns); asked only in doubt.
    """
    roles = [read_column_name(name).role for name in names]
    if "percent" in roles:
        return {}
    lead = next((n for n, role in enumerate(roles) if role not in ("time", "frame")), len(roles))
    named = {column: names[column] for column in range(lead, len(names)) if names[column]}
    for spelling, axes, is_doubtful in _SPELT:
        spelt = {column: spelling(name) for column, name in named.items()}
        for each in axes:
            points = _complete(spelt, each, len(named))
            if points and not (is_doubtful and not keep_their_distances(points, numbers())):
                return points
    points = _repeated(named)
    return points if points and keep_their_distances(points, numbers()) else {}


def _complete(
    spelt: Mapping[int, Spelt], axes: str, n_named: int
) -> dict[str, tuple[int, int, int]]:
    """Return the points of which each axis is there once, when they are most of the columns."""
    found: dict[str, dict[str, int]] = {}
    for column, (stem, axis) in spelt.items():
        if axis and axis in axes:
            if axis in found.setdefault(stem, {}):
                return {}
            found[stem][axis] = column
    points = {
        stem: (places[axes[0]], places[axes[1]], places[axes[2]])
        for stem, places in found.items()
        if len(places) == len(axes)
    }
    is_most = len(points) >= FEWEST_POINTS and 3 * len(points) >= MOSTLY * n_named
    return points if is_most else {}


def _repeated(named: Mapping[int, str]) -> dict[str, tuple[int, int, int]]:
    """Return points whose name stands above three columns: A, A, A or A, A.1, A.2."""
    columns = list(named)
    points: dict[str, tuple[int, int, int]] = {}
    for place in range(0, len(columns) - 2, 3):
        one, two, three = columns[place : place + 3]
        label = named[one]
        beside = (named[two], named[three])
        if beside not in ((label, label), (f"{label}.1", f"{label}.2")) or label in points:
            return {}
        points[label] = (one, two, three)
    return points if len(points) >= FEWEST_POINTS else {}


def keep_their_distances(points: Mapping[str, Sequence[int]], values: FloatArray) -> bool:
    """Whether most points keep their distance to another while they travel."""
    places = [values[:, list(columns)] for columns in points.values()]
    travel = [float(np.linalg.norm(np.nanstd(xyz, axis=0))) if np.isfinite(xyz).any() else 0.0
              for xyz in places]  # fmt: skip
    firm: set[int] = set()
    for one, other in combinations(range(len(places)), 2):
        apart = np.linalg.norm(places[one] - places[other], axis=1)
        if np.isfinite(apart).sum() < FEWEST_POINTS:
            continue
        scatter, mean = float(np.nanstd(apart)), float(np.nanmean(apart))
        least = min(travel[one], travel[other])
        if scatter < RIGID * mean and least > TRAVELS * scatter:
            firm |= {one, other}
    return len(firm) >= RIGID_SHARE * len(places)

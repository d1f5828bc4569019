"""Force and centre of pressure that stand in a marker text table.

In come the points of a table; out go force plates at the marker rate, in newtons and metres.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from gaittrack.errors import Problem
from gaittrack.read.marker_texts.marker_header import PointColumns
from gaittrack.read.tables.time_base import TimeBase
from gaittrack.reasons import Reason
from gaittrack.trial import FloatArray, ForcePlate

UNLOADED_N = 10.0
"""Below this force the centre of pressure means nothing; our choice."""

_PLATE = r"(?:(?:fp|plate|forceplate|force plate)\s*(?P<plate>\d*)[\s_.:\-]*)?"
_FORCE = re.compile(
    _PLATE + r"(?:f|force|grf|ground reaction force)[\s_.:\-]*(?P<number>\d*)", re.I
)
_PRESSURE = re.compile(
    _PLATE + r"(?:cop|cp|cent(?:re|er) of pressure)[\s_.:\-]*(?P<number>\d*)", re.I
)
_LETTER_AND_NUMBER = re.compile(r"[fmt][\s_.:\-]*\d+", re.I)
_MOMENT = re.compile(_PLATE + r"(?:m|t|moment|free moment|torque)[\s_.:\-]*(?P<number>\d*)", re.I)


@dataclass(frozen=True, slots=True)
class Plates:
    """Force plates found, what was done and what a person should know."""

    plates: tuple[ForcePlate, ...] = ()
    steps: tuple[str, ...] = ()
    problems: tuple[Problem, ...] = ()


def plate_labels(points: Iterable[PointColumns]) -> frozenset[str]:
    """Return the labels that spell a force, a centre of pressure or a moment.

    ``F1`` or ``M2`` may also be a marker: they count only in a table with a centre of pressure.
    """
    labels = {point.label for point in points}
    pressures = {label for label in labels if _PRESSURE.fullmatch(label.strip())}
    others = {
        label
        for label in labels
        if _FORCE.fullmatch(label.strip()) or _MOMENT.fullmatch(label.strip())
    }
    if not pressures:
        others = {label for label in others if not _LETTER_AND_NUMBER.fullmatch(label.strip())}
    return frozenset(pressures | others)


def read_plates(
    points: Sequence[PointColumns], values: FloatArray, base: TimeBase, *, scale_m: float
) -> Plates:
    """Return the plates of a table.

    Parameters
    ----------
    values : ndarray, shape (n_rows, n_columns)
    scale_m : float
        Metres in the table's unit of length, also that of the centre of pressure.
    """
    labels = plate_labels(points)
    plate_points = [point for point in points if point.label in labels]
    forces = _by_number(plate_points, _FORCE)
    pressures = _by_number(plate_points, _PRESSURE)
    plates, steps, problems = [], [], []
    for place, (number, columns) in enumerate(sorted(forces.items()), 1):
        force = base.spread(values[:, columns])
        loaded = np.linalg.norm(np.nan_to_num(force), axis=1) >= UNLOADED_N
        if loaded.any() and _pushes_down(force[loaded]):
            force = -force
            problems.append(_turned(place))
        pressure = np.full_like(force, np.nan)
        if number in pressures:
            pressure = base.spread(values[:, pressures[number]]) * scale_m
            pressure[~loaded] = np.nan
        name = f"plate {place}"
        plates.append(ForcePlate(force, pressure, np.full((4, 3), np.nan), base.rate_hz, name))
        steps.append(f"{name}: force as in the table, no baseline taken off")
    return Plates(tuple(plates), tuple(steps), tuple(problems))


def _by_number(points: Sequence[PointColumns], kind: re.Pattern[str]) -> dict[str, list[int]]:
    found: dict[str, list[int]] = {}
    for point in points:
        match = kind.fullmatch(point.label.strip())
        if match and len(point.columns) == 3:
            found.setdefault(match["plate"] or match["number"] or "", list(point.columns))
    return found


def _pushes_down(force: FloatArray) -> bool:
    """Whether the force along its main axis is negative: the foot's on the floor."""
    mean = np.nanmean(force, axis=0)
    return bool(mean[np.argmax(np.abs(mean))] < 0)


def _turned(place: int) -> Problem:
    return Problem("warning", Reason("force_turned"), f"plate {place}")

"""A laboratory's own typical curves: mean and standard deviation of people over the cycle.

In comes its file of reference values, out come curves by angle. Like a range, a curve is silent at
speeds, and for ages, that its people did not have.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any, Final, NamedTuple

from gaittrack.compare.typical_values.typical import (
    ACTION,
    CURVES,
    FILE_OF_VALUES,
    Feet,
    OwnRange,
    ages_of,
    hold_on,
    read_typical_ranges,
    refuse_unknown_feet,
)
from gaittrack.errors import LayoutError
from gaittrack.lab_files import read_toml, refuse_wrong_keys
from gaittrack.vocabulary import JOINTS, Joint

N_POINTS: Final = 101
"""One for each per cent of the cycle, 0 and 100 included."""
_NEEDED: Final = ("mean", "sd", "source")
_REACH: Final = (("lowest_speed_m_s", "highest_speed_m_s"), ("youngest_years", "oldest_years"))


@dataclass(frozen=True, slots=True)
class TypicalCurve:
    """One angle of typical walkers over the cycle.

    Attributes
    ----------
    mean, sd : tuple of float
        In degrees, at each per cent; signs as in ``vocabulary.JOINT_MEANING``.
    lowest_speed_m_s, highest_speed_m_s : float
        Speeds it holds for.
    youngest_years, oldest_years : float
        Ages it holds for.
    """

    joint: Joint
    mean: tuple[float, ...]
    sd: tuple[float, ...]
    source: str
    lowest_speed_m_s: float = 0.0
    highest_speed_m_s: float = math.inf
    youngest_years: float = 0.0
    oldest_years: float = math.inf
    feet: Feet = ""

    def holds_at(self, speed_m_s: float) -> bool:
        """Whether it holds at a speed; at an unknown one, only if it holds at any."""
        return _holds(self.lowest_speed_m_s, self.highest_speed_m_s, (speed_m_s,))

    def holds_for(self, age_band: str, age_years: float | None = None) -> bool:
        """Whether it holds for an age, or all of a band; for no known age, only if for any."""
        ages = ages_of(age_band, age_years) or (math.nan,)
        return _holds(self.youngest_years, self.oldest_years, ages)

    @property
    def bounds(self) -> tuple[list[float], list[float]]:
        """Mean less and plus two standard deviations, in degrees."""
        pairs = list(zip(self.mean, self.sd, strict=True))
        return [mean - 2 * sd for mean, sd in pairs], [mean + 2 * sd for mean, sd in pairs]

    @property
    def words(self) -> str:
        """What it is, of whom, and where it holds."""
        speeds = _between(self.lowest_speed_m_s, self.highest_speed_m_s, "m/s")
        ages = _between(self.youngest_years, self.oldest_years, "years")
        told = "; ".join(filter(None, (self.source, self.feet, speeds, ages)))
        return f"mean ± 2 SD of people: {told}"


class OwnTypical(NamedTuple):
    """All that a laboratory's file of reference values says."""

    ranges: dict[str, OwnRange]
    curves: tuple[TypicalCurve, ...]


def read_own_typical(path: Path) -> OwnTypical:
    """Read a laboratory's own reference values: ranges, curves, or both.

    Parameters
    ----------
    path : Path
        TOML as for :func:`.typical.read_typical_ranges`, and a table
        ``[curves.ANGLE]`` for each angle of ``vocabulary.JOINTS``: ``mean`` and ``sd`` with 101
        numbers each, in degrees from 0 to 100 % of the cycle, ``source`` and, if known,
        ``lowest_speed_m_s, highest_speed_m_s, youngest_years, oldest_years`` and ``feet``.

    Raises
    ------
    LayoutError
        As for the ranges; or an unknown angle, another number of values, one that is not a finite
        number, or a standard deviation that is not above 0.
    """
    ranges = read_typical_ranges(path)
    tables = read_toml(path, FILE_OF_VALUES, ACTION).get(CURVES, {})
    curves = _table(tables, f"{path.name} [{CURVES}]")
    read = (_curve(name, row, f"{path.name} [{CURVES}.{name}]") for name, row in curves.items())
    return OwnTypical(ranges, tuple(read))


def curves_at(
    curves: Iterable[TypicalCurve], walked: Iterable[tuple[float, bool | None]]
) -> dict[Joint, TypicalCurve]:
    """Return the curves that hold wherever somebody walked, by angle.

    Parameters
    ----------
    walked : iterable of (float, bool or None)
        Speed in m/s, and whether barefoot.
    """
    every = list(walked)
    return {
        each.joint: each
        for each in curves
        if all(each.holds_at(speed) and hold_on(each.feet, bare) for speed, bare in every)
    }


def _curve(name: str, row: Any, where: str) -> TypicalCurve:
    joint = next((joint for joint in JOINTS if joint == name), None)
    if joint is None:
        raise LayoutError.of("not_angle", where=where, angle=name, angles=", ".join(JOINTS))
    allowed = [item.name for item in fields(TypicalCurve) if item.name != "joint"]
    refuse_wrong_keys(_table(row, where), allowed, _NEEDED, where)
    mean, sd = (_points(row, name, where) for name in ("mean", "sd"))
    for percent, value in enumerate(sd):
        if value <= 0:
            raise LayoutError.of("sd_not_above_0", where=where, value=value, percent=percent)
    refuse_unknown_feet(row.get("feet", ""), where)
    if not all(_is_number(row[key]) for pair in _REACH for key in pair if key in row):
        raise LayoutError.of("bound_not_number", where=where)
    found = TypicalCurve(**{**row, "joint": joint, "mean": mean, "sd": sd})
    if any(getattr(found, low) > getattr(found, high) for low, high in _REACH):
        raise LayoutError.of("lower_bound_above_upper", where=where)
    return found


def _points(row: Mapping[str, Any], name: str, where: str) -> tuple[float, ...]:
    values = row[name] if isinstance(row[name], list) else [row[name]]
    if len(values) != N_POINTS:
        raise LayoutError.of("curve_of_other_length", where=where, name=name, n=len(values))
    for percent, value in enumerate(values):
        if not _is_number(value):
            raise LayoutError.of(
                "point_not_number", where=where, name=name, value=value, percent=percent
            )
    return tuple(map(float, values))


def _is_number(value: Any) -> bool:
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    return is_number and math.isfinite(value)


def _table(value: Any, where: str) -> dict[str, Any]:
    if not isinstance(value, dict):
        raise LayoutError.of("no_table", where=where)
    return value


def _holds(low: float, high: float, values: Iterable[float]) -> bool:
    holds_always = low <= 0 and math.isinf(high)
    return all(holds_always if math.isnan(each) else low <= each <= high for each in values)


def _between(low: float, high: float, unit: str) -> str:
    if math.isinf(high):
        return f"from {low:g} {unit}" if low > 0 else ""
    return f"{low:g} to {high:g} {unit}"

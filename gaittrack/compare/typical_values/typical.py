"""Typical ranges of adults and children: mean and two standard deviations of people.

In come a population, or a laboratory's own reference file, out come ranges by measure. A range
answers one question only: did a value move towards it or away from it. It is silent at speeds, and
for ages, that its people did not have.
"""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any, Final, Literal, get_args

from gaittrack.compare.measurement_error.marker_errors import SPEED_MEASURE
from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.errors import LayoutError
from gaittrack.lab_files import read_toml, refuse_unknown, refuse_wrong_keys

Population = Literal["adult", "adult_18_59", "adult_60_69", "adult_70", "child"]
"""``adult``: of an age that is not known; what goes by age then has no range."""
POPULATIONS: Final[tuple[Population, ...]] = get_args(Population)
ADULT_YEARS: Final = 18
_FROM_YEARS: Final[tuple[tuple[float, Population], ...]] = (
    (70, "adult_70"),
    (60, "adult_60_69"),
    (ADULT_YEARS, "adult_18_59"),
    (0, "child"),
)
_ANY_SPEED: Final = (0.0, 10.0)
_OLDEST_YEARS: Final = 150.0
Feet = Literal["in shoes", "barefoot", ""]
"""On what typical walkers stood; empty: it is not known, or does not matter."""
FEET: Final[tuple[Feet, ...]] = get_args(Feet)
CURVES: Final = "curves"
"""Name of the tables that ``typical_curves`` reads from a laboratory's file."""
FILE_OF_VALUES: Final = "file of reference values"
_WORDS: Final = ("measure", "source", "feet")
ACTION: Final = "Give a TOML file with [[typical]] or [curves.ANGLE] tables."


@dataclass(frozen=True, slots=True)
class TypicalRange:
    """Where typical walkers lie.

    Attributes
    ----------
    low, high : float
        Mean less and plus two standard deviations of people, in the unit of the measure.
    lowest_speed_m_s, highest_speed_m_s : float
        Speeds the range holds for.
    """

    measure: str
    low: float
    high: float
    source: str
    lowest_speed_m_s: float = _ANY_SPEED[0]
    highest_speed_m_s: float = _ANY_SPEED[1]

    def distance(self, value: float) -> float:
        """Return how far a value lies outside the range; 0 inside."""
        return max(self.low - value, value - self.high, 0.0)

    def holds_at(self, speed_m_s: float) -> bool:
        """Whether the range holds at a speed; of an unknown one, only if it holds at any."""
        if math.isnan(speed_m_s):
            return (self.lowest_speed_m_s, self.highest_speed_m_s) == _ANY_SPEED
        return self.lowest_speed_m_s <= speed_m_s <= self.highest_speed_m_s

    def holds_on(self, is_barefoot: bool | None) -> bool:
        """Whether the range holds on these feet; published ones do not say."""
        return True


@dataclass(frozen=True, slots=True)
class OwnRange(TypicalRange):
    """A range of a laboratory's own file, which may say for whom it holds.

    Attributes
    ----------
    youngest_years, oldest_years : float
        Ages of its people.
    """

    youngest_years: float = 0.0
    oldest_years: float = _OLDEST_YEARS
    feet: Feet = ""

    def holds_on(self, is_barefoot: bool | None) -> bool:
        """Whether it holds on these feet; on unknown ones, only if on any."""
        return hold_on(self.feet, is_barefoot)

    def holds_for(self, age_band: str, age_years: float | None = None) -> bool:
        """Whether it holds for an age, or all of a band; for no known age, only if for any."""
        ages = ages_of(age_band, age_years)
        if ages is None:
            return (self.youngest_years, self.oldest_years) == (0, _OLDEST_YEARS)
        return all(self.youngest_years <= each <= self.oldest_years for each in ages)


def hold_on(feet: Feet, is_barefoot: bool | None) -> bool:
    """Return whether what was found on some feet holds on others."""
    return feet == "" or (is_barefoot is not None and (feet == "barefoot") == is_barefoot)


def refuse_unknown_feet(feet: object, where: str) -> None:
    """Refuse a word that is not one of ``FEET``.

    Raises
    ------
    LayoutError
    """
    if feet not in FEET:
        raise LayoutError.of(
            "unknown_feet", where=where, feet=feet, known=" or ".join(filter(None, FEET))
        )


def population_of(age_band: str, age_years: float | None = None) -> Population:
    """Return which typical ranges to hold somebody against.

    Parameters
    ----------
    age_band : str
        ``10-14``; other words say nothing.
    age_years : float, optional
        Counts where it is known.

    Returns
    -------
    Population
        By the age. ``child`` also where the beginning of the band is below 18 years; ``adult``
        where a band holds adults of several populations, or no age is known.
    """
    ages = ages_of(age_band, age_years)
    if ages is None:
        return "adult"
    one, other = (next(name for least, name in _FROM_YEARS if years >= least) for years in ages)
    return one if one in (other, "child") else "adult"


def ages_of(age_band: str, age_years: float | None) -> tuple[float, float] | None:
    """Return the least and the greatest age that somebody may have; None when nothing says it."""
    if age_years is not None:
        return age_years, age_years
    found = re.fullmatch(r"\s*(\d+)\s*[-\u2013]\s*(\d+)\s*", age_band)
    return (float(found[1]), float(found[2])) if found else None


def typical_ranges(population: Population) -> dict[str, TypicalRange]:
    """Return the built-in ranges.

    Parameters
    ----------
    population : Population
        ``child``: from four years; joint angles only, since distances and times follow leg length.
        ``adult``: neither speed nor the parts of the cycle, which go by age.
    """
    if population not in POPULATIONS:
        raise ValueError(f"population must be one of {POPULATIONS}, got {population!r}")
    told = _built_in()
    ending = told["children"] if population == "child" else ""
    return {
        measure: _of_people(measure, mean, sd, source.format(**told["sources"]) + ending, *up_to)
        for measure, rows in told["ranges"].items()
        for of, mean, sd, source, *up_to in rows
        if population in told["populations"].get(of, [of])
    }


def _of_people(
    measure: str, mean: float, sd: float, source: str, up_to: Sequence[float] = ()
) -> TypicalRange:
    mean_above, sd_above = up_to or (mean, sd)
    is_speed = measure == SPEED_MEASURE
    slowest, fastest = _ANY_SPEED if is_speed else _built_in()["asymptomatic_speed_m_s"]
    return TypicalRange(
        measure,
        low=mean - 2 * sd,
        high=mean_above + 2 * sd_above,
        source=f"mean ± 2 SD of people: {source}",
        lowest_speed_m_s=slowest,
        highest_speed_m_s=fastest,
    )


@cache
def _built_in() -> dict[str, Any]:
    text = (files("gaittrack.compare.typical_values") / "typical.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def read_typical_ranges(path: Path) -> dict[str, OwnRange]:
    """Read a laboratory's own reference values, which replace the built-in ones.

    Parameters
    ----------
    path : Path
        TOML with a table ``[[typical]]`` for each measure: ``measure, low, high, source`` and, if
        known, ``lowest_speed_m_s, highest_speed_m_s, youngest_years, oldest_years`` and ``feet``.

    Raises
    ------
    LayoutError
        Not readable, an unknown or missing key, an unknown measure, or low above high; neither
        ranges nor curves.
    """
    table = read_toml(path, FILE_OF_VALUES, ACTION)
    refuse_unknown(table, ("typical", CURVES), path.name)
    rows = table.get("typical", [])
    found = [_range(row, f"{path.name} [[typical]] {n}") for n, row in enumerate(rows, 1)]
    if not found and not table.get(CURVES):
        raise LayoutError.of("no_typical_table", where=path.name)
    return {each.measure: each for each in found}


def _range(row: Mapping[str, Any], where: str) -> OwnRange:
    names = [item.name for item in fields(OwnRange)]
    refuse_wrong_keys(row, names, names[:4], where)
    if str(row["measure"]) not in MEASURE_BY_NAME:
        raise LayoutError.of(
            "not_measure",
            where=where,
            measure=row["measure"],
            measure_by_name=", ".join(MEASURE_BY_NAME),
        )
    refuse_unknown_feet(row.get("feet", ""), where)
    numbers = [row[name] for name in names if name in row and name not in _WORDS]
    if any(isinstance(each, bool) or not isinstance(each, int | float) for each in numbers):
        raise LayoutError.of("bound_not_number", where=where)
    found = OwnRange(**row)
    pairs = ((found.low, found.high), (found.lowest_speed_m_s, found.highest_speed_m_s))
    if not all(low <= high for low, high in (*pairs, (found.youngest_years, found.oldest_years))):
        raise LayoutError.of("lower_bound_above_upper", where=where)
    return found

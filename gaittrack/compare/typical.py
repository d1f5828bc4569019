"""Typical ranges of adults and children: mean and two standard deviations of people.

In come a population, or a laboratory's own reference file, out come ranges by measure. A range
answers one question only: did a value move towards it or away from it. It is silent at speeds, and
for ages, that its people did not have.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any, Final, Literal, get_args

from gaittrack.compare.walks import MEASURE_BY_NAME
from gaittrack.errors import LayoutError
from gaittrack.lab_files import read_toml, refuse_wrong_keys

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
    first = last = age_years
    found = re.fullmatch(r"\s*(\d+)\s*[-\u2013]\s*(\d+)\s*", age_band)
    if age_years is None and found:
        first, last = float(found[1]), float(found[2])
    if first is None or last is None:
        return "adult"
    one, other = (
        next(name for least, name in _FROM_YEARS if years >= least) for years in (first, last)
    )
    return one if one in (other, "child") else "adult"


ASYMPTOMATIC_SPEED_M_S: Final = (1.04, 1.60)
"""Range of asymptomatic walkers, doi:10.1038/s41597-019-0124-4."""
_MEMORY: Final = "of the order of handbooks, from memory: to be derived from open recordings"
_CHILD: Final = "; children from 4 years: joint angles near adult by 3.5-4 years, Sutherland 1997"
_ADULTS_40: Final = "40 adults, jkema.org 9(2):208"
_WIDTH: Final = "14.0 (3.1) % of leg length, here of 0.90 m, J Neuroeng Rehabil 2012;9:69, table 1"
_SPEEDS_OF: Final = "Almarwani, Kasovic 2021, Mobbs 2025"
_SPEED: Final[dict[Population, tuple[float, float, str]]] = {
    "adult_18_59": (
        *(1.29 - 2 * 0.19, 1.43 + 2 * 0.27),
        f"from 40 of 27 years, 1.29 (0.19), to men of 31-40 years, 1.43 (0.27), {_SPEEDS_OF}",
    ),
    "adult_60_69": (
        *(1.24 - 2 * 0.28, 1.24 + 2 * 0.28),
        f"565 people from 60 years, 1.24 (0.28), {_SPEEDS_OF}",
    ),
    "adult_70": (
        *(1.07 - 2 * 0.26, 1.07 + 2 * 0.26),
        f"111 people of 77 years on average, 1.07 (0.26), {_SPEEDS_OF}",
    ),
}
"""Low, high (m/s) and source."""
_STANCE: Final[dict[Population, tuple[float, float]]] = {
    "adult_18_59": (61.0, 1.8),
    "adult_60_69": (61.0, 1.8),
    "adult_70": (63.0, 2.2),
}
"""Mean and standard deviation of people, per cent of the cycle."""
_ANGLES: Final[dict[str, tuple[float, float]]] = {
    "peak_hip_flexion_thigh_vertical_deg": (25.0, 4.0),
    "mid_swing_dorsiflexion_deg": (1.0, 3.5),
    "dorsiflexion_at_contact_deg": (0.0, 3.5),
    "loading_knee_flexion_peak_deg": (16.0, 5.0),
    "push_off_ankle_deg": (-17.0, 6.0),
    "peak_swing_knee_flexion_deg": (62.5, 5.0),
}
"""Mean and standard deviation of people; all from memory."""
_ADULT_ONLY: Final[dict[str, tuple[float, float, str]]] = {
    "stride_length_m": (1.357, 0.123, _ADULTS_40),
    "step_length_m": (1.357 / 2, 0.123 / 2, f"half a stride, {_ADULTS_40}"),
    "stride_time_s": (1.02, 0.06, _ADULTS_40),
    "cadence_steps_min": (117.6, 7.0, f"two steps per stride time, {_ADULTS_40}"),
    "step_width_mm": (126.0, 28.0, _WIDTH),
}


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
    ending = _CHILD if population == "child" else ""
    found = [_of_people(name, *each, _MEMORY + ending) for name, each in _ANGLES.items()]
    if population != "child":
        found += [_of_people(name, *each) for name, each in _ADULT_ONLY.items()]
    if population in _STANCE:
        mean, sd = _STANCE[population]
        found.append(_of_people("stance_percent", mean, sd, _MEMORY))
        found.append(_of_people("swing_percent", 100 - mean, sd, _MEMORY))
    if population in _SPEED:
        low, high, source = _SPEED[population]
        # Speed itself is typical or not whatever the speed walked.
        told = f"mean +/- 2 SD of people: {source}"
        found.append(TypicalRange("walking_speed_m_s", low=low, high=high, source=told))
    return {each.measure: each for each in found}


def _of_people(measure: str, mean: float, sd: float, source: str) -> TypicalRange:
    told = f"mean +/- 2 SD of people: {source}"
    lowest, highest = ASYMPTOMATIC_SPEED_M_S
    return TypicalRange(
        measure,
        low=mean - 2 * sd,
        high=mean + 2 * sd,
        source=told,
        lowest_speed_m_s=lowest,
        highest_speed_m_s=highest,
    )


def read_typical_ranges(path: Path) -> dict[str, TypicalRange]:
    """Read a laboratory's own reference values, which replace the built-in ones.

    Parameters
    ----------
    path : Path
        TOML with a table ``[[typical]]`` for each measure: ``measure, low, high, source`` and, if
        known, ``lowest_speed_m_s, highest_speed_m_s``.

    Raises
    ------
    LayoutError
        Not readable, an unknown or missing key, an unknown measure, or low above high.
    """
    action = "Give a TOML file with [[typical]] tables."
    table = read_toml(path, "file of reference values", action)
    rows = table.get("typical", [])
    found = [_range(row, f"{path.name} [[typical]] {n}") for n, row in enumerate(rows, 1)]
    if not found:
        raise LayoutError.of("no_typical_table", where=path.name)
    return {each.measure: each for each in found}


def _range(row: Mapping[str, Any], where: str) -> TypicalRange:
    names = [item.name for item in fields(TypicalRange)]
    refuse_wrong_keys(row, names, names[:4], where)
    if row["measure"] not in MEASURE_BY_NAME:
        raise LayoutError.of(
            "not_measure",
            where=where,
            measure=row["measure"],
            measure_by_name=", ".join(MEASURE_BY_NAME),
        )
    numbers = [row[name] for name in names if name in row and name not in ("measure", "source")]
    if any(isinstance(each, bool) or not isinstance(each, int | float) for each in numbers):
        raise LayoutError.of("bound_not_number", where=where)
    found = TypicalRange(**row)
    if not found.low <= found.high or not found.lowest_speed_m_s <= found.highest_speed_m_s:
        raise LayoutError.of("lower_bound_above_upper", where=where)
    return found

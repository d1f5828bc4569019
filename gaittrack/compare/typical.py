"""Typical ranges of adults and children, each with its source.

In comes a population, or a laboratory's own reference file, out come ranges by measure. A range
answers one question only: did a value move towards it or away from it. Every one of the built-in
ranges is of walking at a comfortable adult speed; no source was found that gives them by speed, so
the speed stands beside them.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any, Final, Literal

from gaittrack.compare.walks import MEASURE_BY_NAME
from gaittrack.errors import LayoutError

Population = Literal["adult", "child"]
ADULT_YEARS: Final = 18


@dataclass(frozen=True, slots=True)
class TypicalRange:
    """Where typical walkers lie.

    Attributes
    ----------
    low, high : float
        In the unit of the measure.
    lowest_speed_m_s, highest_speed_m_s : float
        Speeds the range holds for.
    """

    measure: str
    low: float
    high: float
    source: str
    lowest_speed_m_s: float = 0.0
    highest_speed_m_s: float = 10.0

    def distance(self, value: float) -> float:
        """Return how far a value lies outside the range; 0 inside."""
        return max(self.low - value, value - self.high, 0.0)

    def holds_at(self, speed_m_s: float) -> bool:
        """Whether the range holds at a speed; False for an unknown one."""
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
        ``child`` when the age, or the beginning of the band, is below 18 years; else ``adult``. A
        band that holds both is held against what is the same for both, the joint angles.
    """
    if age_years is None:
        found = re.fullmatch(r"\s*(\d+)\s*[-\u2013]\s*\d+\s*", age_band)
        age_years = float(found[1]) if found else float(ADULT_YEARS)
    return "child" if age_years < ADULT_YEARS else "adult"


ASYMPTOMATIC_SPEED_M_S: Final = (1.04, 1.60)
"""Range of asymptomatic walkers, doi:10.1038/s41597-019-0124-4."""
PHASE_TOLERANCE_DEG: Final = 5.0
"""Half-width put around single phase-table angles, which come without scatter; own choice, of the
size of the between-session error of Wilken 2012."""
_PHASE = "phase table of eight phases as taught ({}), +/- 5 deg put around it"
_ADULTS_40 = "mean +/- 2 SD of 40 adults, jkema.org 9(2):208"
_MURRAY = "women's and men's mean, Murray 1964 and 1970 as tabulated"
_PERRY = "Perry and Burnfield as quoted, at 1.37 m/s; +/- 4.2 % (timing error, Kesar 2011)"
_CHILD = "; children from 4 years: joint angles near adult by 3.5-4 years, Sutherland 1997"

_PHASE_DEG: Final[dict[str, tuple[float, float, str]]] = {
    "peak_hip_flexion_thigh_vertical_deg": (25, 25, "mid swing"),
    "mid_swing_dorsiflexion_deg": (0, 0, "mid swing"),
    "dorsiflexion_at_contact_deg": (0, 0, "initial contact"),
    "knee_flexion_at_contact_deg": (0, 5, "initial contact"),
    "loading_knee_flexion_peak_deg": (20, 20, "loading response"),
    "peak_stance_dorsiflexion_deg": (10, 10, "terminal stance"),
    "push_off_ankle_deg": (-15, -15, "pre-swing"),
    "peak_swing_knee_flexion_deg": (60, 70, "initial swing"),
}
_ADULT_ONLY: Final[dict[str, tuple[float, float, str]]] = {
    "walking_speed_m_s": (1.10, 1.58, _ADULTS_40),
    "stride_length_m": (1.11, 1.60, _ADULTS_40),
    "stride_time_s": (0.90, 1.14, _ADULTS_40),
    "cadence_steps_min": (105.0, 133.0, f"two steps per stride time, {_ADULTS_40}"),
    "step_length_m": (0.66, 0.79, _MURRAY),
    "step_width_mm": (71.0, 81.0, _MURRAY),
    "stance_percent": (57.8, 66.2, _PERRY),
    "swing_percent": (33.8, 42.2, _PERRY),
}


def typical_ranges(population: Population) -> dict[str, TypicalRange]:
    """Return the built-in ranges.

    Parameters
    ----------
    population : {"adult", "child"}
        ``child``: from four years; joint angles only, since distances and times follow leg length.
    """
    if population not in ("adult", "child"):
        raise ValueError(f"population must be adult or child, got {population!r}")
    low, high = ASYMPTOMATIC_SPEED_M_S
    ending = _CHILD if population == "child" else ""
    ranges = {
        name: TypicalRange(
            measure=name,
            low=first - PHASE_TOLERANCE_DEG,
            high=last + PHASE_TOLERANCE_DEG,
            source=_PHASE.format(phase) + ending,
            lowest_speed_m_s=low,
            highest_speed_m_s=high,
        )
        for name, (first, last, phase) in _PHASE_DEG.items()
    }
    if population == "child":
        return ranges
    # Speed itself, and what makes it up, is typical or not whatever the speed walked.
    timing = ("stance_percent", "swing_percent", "step_width_mm")
    for name, (first, last, source) in _ADULT_ONLY.items():
        speeds = (low, high) if name in timing else (0.0, 10.0)
        ranges[name] = TypicalRange(
            measure=name,
            low=first,
            high=last,
            source=source,
            lowest_speed_m_s=speeds[0],
            highest_speed_m_s=speeds[1],
        )
    return ranges


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
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise LayoutError(
            f"The file of reference values cannot be read: {error}.",
            where=str(path),
            action="Give a TOML file with [[typical]] tables.",
        ) from error
    rows = table.get("typical", [])
    found = [_range(row, f"{path.name} [[typical]] {n}") for n, row in enumerate(rows, 1)]
    if not found:
        raise LayoutError("No [[typical]] table.", where=path.name, action="Add at least one.")
    return {each.measure: each for each in found}


def _range(row: Mapping[str, Any], where: str) -> TypicalRange:
    names = [item.name for item in fields(TypicalRange)]
    wrong = sorted((set(row) - set(names)) | (set(names[:4]) - set(row)))
    if wrong:
        raise LayoutError(
            f"Unknown or missing: {', '.join(wrong)}.",
            where=where,
            action=f"Keys are: {', '.join(names)}.",
        )
    if row["measure"] not in MEASURE_BY_NAME:
        raise LayoutError(
            f"{row['measure']!r} is not a measure.",
            where=where,
            action=f"Measures are: {', '.join(MEASURE_BY_NAME)}.",
        )
    numbers = [row[name] for name in names if name in row and name not in ("measure", "source")]
    if any(isinstance(each, bool) or not isinstance(each, int | float) for each in numbers):
        raise LayoutError("A bound is not a number.", where=where, action="Give numbers.")
    found = TypicalRange(**row)
    if not found.low <= found.high or not found.lowest_speed_m_s <= found.highest_speed_m_s:
        raise LayoutError("A lower bound is above its upper.", where=where, action="Swap them.")
    return found

"""What is known of a person at a visit, as bands and words of closed lists.

In comes a row of the study's visits, out come height, mass and time since onset in bands for the
table ``bodies``, passive ranges rounded and examination in words for ``visits``; free text never.
Whoever meets a person sees or hears the bands, so they count among what people are told apart by;
grades of an examination are known to those who examined and do not count.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import pandas as pd

from gaittrack.cohort.closed_words import told
from gaittrack.compare.condition import NOT_RECORDED
from gaittrack.study.people.description import STABILITY

GRADES: Final = ("0", "1", "2", "3", "4", "5")
"""Manual muscle grades; a sign + or - behind the number is left out."""
BANDS: Final[dict[str, tuple[float, ...]]] = {
    "height_cm": (0, 100, 120, 140, 150, 160, 170, 180, 190),
    "mass_kg": (0, 20, 40, 50, 60, 70, 80, 90, 100, 120),
    "months_since_onset": (0, 3, 6, 12, 24, 60, 120),
}
"""Lower ends of the bands; own choice, wide enough that a band seldom tells a person apart."""
ANGLES: Final = ("passive_dorsiflexion_knee_straight_deg", "passive_dorsiflexion_knee_bent_deg")
ANGLE_STEP_DEG: Final = 5
"""A goniometer is read to about 5 degrees: common practice, no source."""
STRENGTHS: Final = ("quadriceps_strength", "dorsiflexor_strength")
STORED: Final = (
    *("height_cm", "mass_kg", "months_since_onset", *STRENGTHS, "tone", "clonus"),
    *(*ANGLES, "correctable_to_neutral", "mediolateral_stability"),
)
"""Columns of a visit that are exported; comfort, skin and wear are free text and are not."""


def bands_of(name: str) -> tuple[str, ...]:
    """Return all bands of a number, ``100-119`` and so on, the last one open."""
    starts = BANDS[name]
    closed = [f"{low:g}-{high - 1:g}" for low, high in zip(starts[:-1], starts[1:], strict=True)]
    return (*closed, f"{starts[-1]:g}+")


def visit_facts(row: Mapping[str, Any]) -> dict[str, Any]:
    """Return the facts of a visit as an export shows them.

    Parameters
    ----------
    row : mapping
        Columns ``STORED``.

    Returns
    -------
    dict
        The same names.
    """
    found: dict[str, Any] = {name: _band(name, row[name]) for name in BANDS}
    found |= {name: _grade(row[name]) for name in STRENGTHS}
    found |= {name: told(row[name], name) for name in ("tone", "clonus")}
    found |= {name: _rounded(row[name]) for name in ANGLES}
    correctable = row["correctable_to_neutral"]
    found["correctable_to_neutral"] = None if _is_missing(correctable) else bool(correctable)
    stability = row["mediolateral_stability"]
    found["mediolateral_stability"] = stability if stability in STABILITY else NOT_RECORDED
    return found


def _band(name: str, value: Any) -> str:
    if _is_missing(value) or value < 0:
        return NOT_RECORDED
    return bands_of(name)[sum(bool(value >= start) for start in BANDS[name]) - 1]


def _grade(value: Any) -> str:
    text = value.strip()[:1] if isinstance(value, str) else ""
    return text if text in GRADES and text else NOT_RECORDED


def _rounded(value: Any) -> float | None:
    return None if _is_missing(value) else float(ANGLE_STEP_DEG * round(value / ANGLE_STEP_DEG))


def _is_missing(value: Any) -> bool:
    return bool(value is None or pd.isna(value))

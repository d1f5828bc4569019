"""Metres, centimetres or millimetres: decided from the header and from the size of a body.

In come coordinates and what the header says; out goes the factor to metres. A header that would
make the body a dwarf or a giant is overruled, and that is recorded.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from gaittrack.errors import DataError, Problem
from gaittrack.reasons import Reason
from gaittrack.trial import FloatArray

METRES_IN: Mapping[str, float] = {"m": 1.0, "cm": 0.01, "mm": 0.001}
"""Units that the size of a body may tell."""
SAID_IN: Mapping[str, float] = {**METRES_IN, "dm": 0.1, "in": 0.0254, "ft": 0.3048}
"""Units that a header may say: an inch is near a centimetre, so that size alone tells neither."""
SMALLEST_M, LARGEST_M = 0.12, 2.6
"""Extent of the markers at one instant: from one foot to a tall person with raised arms; ours."""
SMALLEST_LEG_M = 0.3
"""Extent of six markers or more: a small child's leg at least; our choice."""
MANY_MARKERS = 6
FRAMES_LOOKED_AT = 200


@dataclass(frozen=True, slots=True)
class LengthUnit:
    """The unit, how it was found, and what a person should know about it."""

    unit: str
    step: str
    problems: tuple[Problem, ...] = ()


def find_length_unit(
    markers: Mapping[str, FloatArray], *, where: str, said: str, told: str | None
) -> LengthUnit:
    """Find the unit of coordinates.

    Parameters
    ----------
    markers : mapping of label to ndarray, shape (n_frames, 3)
        In the unit of the file.
    said : one of ``SAID_IN``, or ""
        What the header says.
    told : {"m", "cm", "mm"} or None
        What a map says; it comes first.

    Raises
    ------
    DataError
        No unit makes a body of it, or two do and the header is silent; half are never seen.
    """
    if told:
        return LengthUnit(told, f"coordinates in {told}, as told")
    extent = body_extent(markers)
    smallest = SMALLEST_LEG_M if len(markers) >= MANY_MARKERS else SMALLEST_M
    fitting = [unit for unit, m in METRES_IN.items() if smallest <= extent * m <= LARGEST_M]
    fits_said = said in SAID_IN and smallest <= extent * SAID_IN[said] <= LARGEST_M
    if said and (fits_said or not np.isfinite(extent)):
        return LengthUnit(said, f"coordinates in {said}, as the header says")
    if not np.isfinite(extent):
        raise DataError.of("half_of_markers_never_seen", where=where)
    if len(fitting) == 1:
        problem = _overruled(said, fitting[0], extent, where)
        return LengthUnit(fitting[0], f"coordinates in {fitting[0]}, by body size", (problem,))
    raise DataError.of(
        "unit_of_markers_not_known",
        where=where,
        extent=extent,
        fitting=" or ".join(fitting) if fitting else "neither m nor cm nor mm",
    )


def body_extent(markers: Mapping[str, FloatArray]) -> float:
    """Return the median, over frames, of the diagonal of the box around all markers."""
    stack = np.stack(list(markers.values()))
    frames = np.linspace(0, stack.shape[1] - 1, FRAMES_LOOKED_AT).astype(int)
    sample = stack[:, np.unique(frames)]
    seen = np.isfinite(sample).all(axis=2).sum(axis=0) >= max(2, len(stack) // 2)
    if not seen.any():
        return float("nan")
    sample = sample[:, seen]
    sides = np.nanmax(sample, axis=0) - np.nanmin(sample, axis=0)
    return float(np.median(np.linalg.norm(sides, axis=1)))


def _overruled(said: str, unit: str, extent: float, where: str) -> Problem:
    size_m = extent * METRES_IN[unit]
    if said:
        return Problem(
            "warning",
            Reason(
                "unit_overruled",
                said=said,
                said_m=float(extent * SAID_IN[said]),
                unit=unit,
                size_m=round(float(size_m), 2),
            ),
            where,
        )
    return Problem(
        "info", Reason("no_unit_of_length", unit=unit, size_m=round(float(size_m), 2)), where
    )

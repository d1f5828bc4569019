"""Decide which unit a C3D file's coordinates are in.

In come the marker coordinates as stored and what POINT:UNITS says; out goes the factor to metres.
The written unit is held against the size of a body, since files exist that say one unit and hold
another.
"""

from __future__ import annotations

import math

import numpy as np

from gaittrack.errors import HeaderError, Problem
from gaittrack.reasons import Reason
from gaittrack.trial import FloatArray

METRES_PER: dict[str, float] = {"m": 1.0, "cm": 0.01, "mm": 0.001}
SPELLED: dict[str, float] = {
    **METRES_PER,
    "metre": 1.0,
    "metres": 1.0,
    "meter": 1.0,
    "meters": 1.0,
    "centimetres": 0.01,
    "centimeters": 0.01,
    "millimetres": 0.001,
    "millimeters": 0.001,
    "millimetre": 0.001,
    "millimeter": 0.001,
    "dm": 0.1,
    **dict.fromkeys(("in", "inch", "inches"), 0.0254),
    **dict.fromkeys(("ft", "foot", "feet"), 0.3048),
}
BODY_EXTENT_M = (0.25, 2.6)
"""Extent of one frame's marker cloud of a person that can be believed (one leg of a child; an
adult with raised arms), m; our choice."""


def metres_per_unit(
    points: FloatArray, unit: str, where: str
) -> tuple[float, str, tuple[Problem, ...]]:
    """Return the factor to metres.

    The unit written is taken where it gives a body's size or nothing can be told. Where it gives
    no body's size and exactly one other unit does, that one is taken, with a recorded step and a
    warning: a file that says "cm" and holds metres is read right.

    Parameters
    ----------
    points : ndarray, shape (n_frames, n_markers, 3)
        As stored, NaN where missing.
    unit : str
        POINT:UNITS, or "".
    where : str
        File name for messages.

    Raises
    ------
    HeaderError
        The unit is missing or unknown and the size of the marker cloud fits none.
    """
    extent = cloud_extent(points)
    written = SPELLED.get(unit.strip().lower())
    fitting = [name for name, factor in METRES_PER.items() if _is_body(extent * factor)]
    if written is not None and (_is_body(extent * written) or len(fitting) != 1):
        return written, f"coordinates to metres from {unit.strip()!r}", ()
    if len(fitting) != 1:
        raise HeaderError.of(
            "unit_coordinates_their_size_fits", where=where, unit=unit.strip(), extent=extent
        )
    found = fitting[0]
    spelt = unit.strip()
    said = Reason("unit_says", unit=spelt) if spelt else Reason("unit_says_nothing")
    problem = Problem(
        "warning",
        Reason("unit_by_body_size", said=said, extent=float(extent), unit=found),
        "POINT:UNITS",
    )
    return METRES_PER[found], f"coordinates to metres from {found!r}, by body size", (problem,)


def cloud_extent(points: FloatArray) -> float:
    """Return the largest side of the box around one frame's markers, median over some frames.

    Markers far from the others do not count: of each side the 5th to 95th percentile is taken when
    there are many.

    Parameters
    ----------
    points : ndarray, shape (n_frames, n_markers, 3)

    Returns
    -------
    float
        In the unit of the points; NaN when fewer than two markers are ever seen together.
    """
    seen = np.isfinite(points[..., 0]).sum(axis=1)
    if not seen.size or seen.max() < 2:
        return math.nan
    frames = np.flatnonzero(seen == seen.max())
    chosen = points[frames[:: max(len(frames) // 50, 1)]]
    chosen = chosen[:, np.isfinite(chosen).all(axis=(0, 2))]
    ends = (5, 95) if chosen.shape[1] >= 20 else (0, 100)
    if chosen.shape[1] < 2:
        return math.nan
    low, high = np.percentile(chosen, ends, axis=1)
    return float(np.median((high - low).max(axis=1)))


def _is_body(extent_m: float) -> bool:
    low, high = BODY_EXTENT_M
    return low <= extent_m <= high

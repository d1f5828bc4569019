"""How far a value moves when markers are taken off and put on again.

In come standard deviations, out comes a :class:`Placement` of two conditions, and what it adds to
an interval. From a laboratory's repeat visits comes a placement of its own, with the uncertainty
that few people leave in it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from gaittrack.late import special
from gaittrack.trial import FloatArray


@dataclass(frozen=True, slots=True)
class Placement:
    """Scatter of putting the markers on, in the unit of the measure.

    Attributes
    ----------
    own, reference : float
        Standard deviation of one placement in the condition and in the reference; 0 where nothing
        was touched.
    degrees : float
        Degrees of freedom of that standard deviation; infinite where it is taken as known.
    walk_error : float
        Scatter of the walks that was taken out of it: of a mean of k walks, s / sqrt(k).
    """

    own: float
    reference: float
    degrees: float = math.inf
    walk_error: float = 0.0

    def half_width(self, alpha: float | FloatArray) -> FloatArray:
        """Return how far two placements drive a difference apart, at confidence 1 - alpha.

        The t quantile belongs to the whole scatter of the visits, the normal one to the walks in
        it; by simulation the t quantile on the rest alone covers less (``tests/calibration``).
        """
        if not (self.own or self.reference or self.walk_error):
            return np.zeros(np.shape(alpha))
        return _driven_apart(self._variance, self._walks, self.degrees, alpha)

    @property
    def _variance(self) -> float:
        return self.own**2 + self.reference**2

    @property
    def _walks(self) -> float:
        return 2 * self.walk_error**2

    @property
    def error(self) -> float:
        """The smallest difference that exceeds it: 2.77 tau, where tau is one and well known."""
        return float(self.half_width(0.05))


def half_widths_of(placements: Sequence[Placement]) -> Callable[[Any], FloatArray]:
    """Return what gives ``half_width`` of each of some placements.

    Returns
    -------
    callable
        Of an alpha, or of one for each.
    """
    told = [(one._variance, one._walks, one.degrees) for one in placements]
    variance, walks, degrees = np.array(told).T
    return lambda alpha: _driven_apart(variance, walks, degrees, alpha)


def _driven_apart(variance: Any, walks: Any, degrees: Any, alpha: Any) -> FloatArray:
    tail = 1 - np.asarray(alpha) / 2
    t = special.stdtrit(degrees, tail)
    inside = t * t * (variance + walks)
    if np.any(walks):
        z = special.ndtri(tail)
        inside = inside - z * z * walks
    return np.asarray(np.sqrt(np.maximum(inside, 0)), dtype=np.float64)


UNTOUCHED: Final = Placement(0.0, 0.0)
"""No marker was moved between the conditions."""


def placement_of_visits(sem: float, degrees: float, walk_error: float = 0.0) -> Placement:
    """Return the placement that repeat visits show: tau² = SEM² - s²/k.

    Parameters
    ----------
    sem : float
        Standard error of measurement between visits.
    degrees : float
        Of ``sem``: (persons - 1) * (visits - 1).
    walk_error : float
        Scatter of a visit's mean by its walks, s / sqrt(k). 0 when the walks of the visits were not
        kept: then they count in the placement too, and the interval is wider than need be.

    Returns
    -------
    Placement
        0 where the walks alone explain the visits.
    """
    if not (sem >= 0 and degrees > 0 and walk_error >= 0):
        raise ValueError(
            f"sem, degrees and walk_error must be 0 or more, got {sem}, {degrees}, {walk_error}"
        )
    tau = math.sqrt(max(sem**2 - walk_error**2, 0.0))
    error = min(walk_error, sem)
    return Placement(own=tau, reference=tau, degrees=degrees, walk_error=error)

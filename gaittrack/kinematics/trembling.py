"""How much the noise of markers makes a rate of an angle tremble.

In come the points an angle is made of and the noise of each marker, out comes the standard
deviation that noise alone gives the rate, and which rates are too small beside it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final

import numpy as np

from gaittrack.kinematics.smoothing import RATE_CUTOFF_HZ, can_filter
from gaittrack.quick_numpy import median_of
from gaittrack.reasons import Reason
from gaittrack.trial import FloatArray
from gaittrack.vocabulary import SIDES, Joint, Side

LEAST_NOISE_DEG_S: Final = 25.0
NOISE_SHARE: Final = 0.15
"""Standard deviation, and share of the rate, past both of which it is not trusted. Noise lifts a
peak by about one standard deviation: 25 deg/s is the least error of a rate with markers left on,
its larger error 20 % of the rate; own choice, on seven recordings with 1 to 4 mm added."""
_FOOT: Final = ("heel", "forefoot")
_SHANK: Final = ("knee_centre", "ankle_centre")
_THIGH: Final = ("hip_centre", "knee_centre")
_SEGMENTS_OF: Final[Mapping[Joint, tuple[tuple[str, str], ...]]] = {
    "ankle": (_FOOT, _SHANK),
    "foot_pitch": (_FOOT,),
    "knee": (_SHANK, _THIGH),
}


def rate_noise_deg_s(
    points: Mapping[str, FloatArray],
    parts: Mapping[str, tuple[str, ...]],
    noise_m: Mapping[str, float],
    rate_hz: float,
) -> dict[tuple[Side, Joint], float]:
    """Return the standard deviation that noise gives each rate; NaN where it is not known.

    Parameters
    ----------
    points : mapping of point key to ndarray, shape (n_frames, 3)
        Metres.
    noise_m : mapping of landmark to float
        SD of one coordinate from frame to frame.

    Notes
    -----
    White noise of an angle, low-passed and differentiated: its variance times
    8 pi² f³ / (3 frame rate), f the cut-off or, without one, half the frame rate.
    """
    top_hz = RATE_CUTOFF_HZ if can_filter(RATE_CUTOFF_HZ, rate_hz) else rate_hz / 2
    gain = math.sqrt(8 * math.pi**2 * top_hz**3 / (3 * rate_hz))
    found: dict[tuple[Side, Joint], float] = {}
    for side in SIDES:
        for joint, segments in _SEGMENTS_OF.items():
            ends = [(f"{side}_{one}", f"{side}_{two}") for one, two in segments]
            if all(key in points for pair in ends for key in pair):
                angles = [_angle_noise(points, parts, noise_m, *pair) for pair in ends]
                found[side, joint] = gain * math.degrees(math.hypot(*angles))
    return found


def _angle_noise(
    points: Mapping[str, FloatArray],
    parts: Mapping[str, tuple[str, ...]],
    noise_m: Mapping[str, float],
    one: str,
    two: str,
) -> float:
    """Return the SD of a segment's slope, in radians."""
    apart = points[one] - points[two]
    lengths = np.sqrt(np.einsum("ij,ij->i", apart, apart))
    lengths = lengths[~np.isnan(lengths)]
    across = math.hypot(*(_noise_of(key, parts, noise_m) for key in (one, two)))
    return across / median_of(lengths) if len(lengths) else math.nan


def _noise_of(
    point: str, parts: Mapping[str, tuple[str, ...]], noise_m: Mapping[str, float]
) -> float:
    """Return the noise of a point: of several landmarks, that of their mean."""
    known = [noise_m.get(key, math.nan) for key in parts.get(point, (point,))]
    return math.hypot(*known) / len(known)


def why_noise(noise_deg_s: float, rate_deg_s: float) -> Reason | None:
    """Return that a rate is not told apart from noise; None where it is, or noise is not known."""
    if not noise_deg_s > max(LEAST_NOISE_DEG_S, NOISE_SHARE * abs(rate_deg_s)):
        return None
    return Reason("markers_tremble", by_deg_s=round(noise_deg_s))

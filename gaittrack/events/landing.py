"""When a foot that ends its swing has landed.

In come a foot and one of its swings, out comes its landing. An end of the foot lands near its place
and its height of the stance that follows, where it is stopped from falling; an end that is not
stopped clearly, where it has come all the way down. The foot lands with the first of its ends.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from dataclasses import dataclass, replace
from operator import attrgetter
from typing import Final, Literal

import numpy as np

from gaittrack.events.foot_stretch import End, FootStretch
from gaittrack.events.impacts import Impact
from gaittrack.events.swings import Swing
from gaittrack.kinematics.sagittal_angles import FORWARD, UP
from gaittrack.quick_numpy import median_of
from gaittrack.trial import BoolArray, FloatArray

Method = Literal["impact", "height"]
_FRAME: Final = attrgetter("frame")

NEAR_M = 0.035
"""How far before its place an end may be when it lands: a heel marker turns about the heel's edge
for another 15-25 mm in recorded walks; own choice."""
HIGH_M = 0.012
"""How high above its level an end may be stopped: heels sink by up to 10 mm; own choice."""
LIKELY_HIGH_M = {True: 0.015, False: 0.005}
"""The higher above its level, the less a stop is a landing: by a factor of e for this where the
heel leads, which may sink, and where not, since such a foot may hang; own choice, made-up walks."""
LIKELY_FAR_M = 0.02
"""The same of its way to its place; own choice: the foot is braked in the air before it lands."""
HEEL_LEADS_M = 0.012
"""How much higher than the heel, above their levels, the front is when the heel leads; own choice:
4 deg of an adult's foot."""
DOWN_M = 0.003
"""Height above its level at which an end that was not stopped clearly is down; own choice."""
LATE_S = {True: 0.12, False: 0.05}
"""How long after it is down an end may still be stopped, where the heel leads and where not: a
heel that leads lies a few millimetres lower with the toes up than in stance."""
TOGETHER_S = 0.03
"""Ends that land within this time land together: the middle counts; own choice, from flat contacts
in made-up walks."""
HEEL_LAG_S = 0.003
"""By how much the peak of a leading heel's acceleration trails 20 N on a plate: the heel begins to
load before it is stopped; -1 (IQR 9) ms over 11 recordings of several laboratories, 8 ms over four
others."""
FAR_LIKELIER = 2.0
"""So much likelier a peak must be than the highest one of the same stop to be the landing; own
choice, from made-up walks: below that scatter decides."""
RIVAL_SHARE = 0.5
"""A stop at least this likely beside the likeliest one may be the landing as well; own choice."""
HIGHER_SHARE, MUCH_HIGHER = 0.4, 2.0
"""The same beside a likelier peak of the same stop, of one so many times as high: at 60 Hz a heel
that goes on sinking has landed there; own choice, from made-up walks: it costs no good contact."""
APART_SHARE, APART_S = 0.14, 0.03
"""… where it lies further away than this share of the swing, and than this; own choice: both from
made-up walks whose contacts are known."""
HANGS_M, THERE_M = 0.004, 0.012
"""… if the end is stopped higher than this first, for it is not down then; and, where it is stopped
before it lands, this near to its place, for else it is braked on its way; own choice, as above."""
LOOK_AFTER_S = 0.2
"""… and not later than this; own choice: what comes then is the end that lands second."""


@dataclass(frozen=True, slots=True)
class Landing:
    """When a foot landed.

    Attributes
    ----------
    frame : float
        Of the stretch, to a fraction.
    rival_frame : float
        When else it may have landed, nearly as likely; NaN where never.
    leads : bool
        Whether it is that of a heel clearly lower than the front.
    """

    frame: float
    method: Method
    rival_frame: float
    leads: bool


@dataclass(frozen=True, eq=False, slots=True)
class _Lowering:
    """One end of the foot from ``first`` on, the middle of a swing.

    Attributes
    ----------
    above_m : ndarray, shape (n,)
        Height above its level in the stance that follows.
    ahead_m : ndarray, shape (n,)
        How far its place in that stance lies ahead.
    there : ndarray of bool, shape (n,)
        Where it is slow and near its place.
    leads : ndarray of bool, shape (n,)
        Where it is the heel and clearly lower than the front.
    """

    end: End
    first: int
    above_m: FloatArray
    ahead_m: FloatArray
    there: BoolArray
    leads: BoolArray


def find_landing(foot: FootStretch, swing: Swing, stop: int, latest: float) -> Landing | None:
    """Return the landing that ends a swing.

    Parameters
    ----------
    stop : int
        Frame in which the foot sets out again.
    latest : float
        Frame before which it must have landed.

    Returns
    -------
    Landing or None
        None when no end of the foot is seen to come down.
    """
    window = slice(swing.middle, stop)
    apart = max(APART_SHARE * (swing.stop - swing.start), APART_S * foot.rate_hz)
    lowerings = _with_leads(
        [found for end in foot.ends if (found := _lowering(foot, end, window)) is not None]
    )
    landings = [
        landing
        for each in lowerings
        if (landing := _landing(foot, each, latest, apart)) is not None
    ]
    if not landings:
        return None
    first = min(landings, key=lambda landing: landing.frame)
    if first.leads:
        return first
    margin = TOGETHER_S * foot.rate_hz
    together = [each.frame for each in landings if each.frame <= first.frame + margin]
    rival_frame = first.rival_frame if len(together) == 1 else np.nan
    return replace(first, frame=median_of(np.array(together)), rival_frame=rival_frame)


def _lowering(foot: FootStretch, end: End, window: slice) -> _Lowering | None:
    """Return how an end comes down; None when it does not come to rest."""
    slow = foot.slow[end][window]
    if not slow.any():
        return None
    points = foot.ends[end][window]
    place, level = (median_of(points[slow, axis]) for axis in (FORWARD, UP))
    ahead = place - points[:, FORWARD]
    there = slow & (ahead < NEAR_M)
    return _Lowering(end, window.start, points[:, UP] - level, ahead, there, np.zeros_like(there))


def _with_leads(lowerings: list[_Lowering]) -> list[_Lowering]:
    """Say where the heel is clearly lower than the front."""
    if len(lowerings) < 2:
        return lowerings
    rear, front = lowerings
    return [replace(rear, leads=front.above_m - rear.above_m > HEEL_LEADS_M), front]


def _landing(foot: FootStretch, lowering: _Lowering, latest: float, apart: float) -> Landing | None:
    down = np.flatnonzero(lowering.there & (lowering.above_m < DOWN_M))
    frame = float(lowering.first + down[0]) if len(down) else np.nan
    stopped = _stopped(foot, lowering, frame, latest)
    rival_frame = np.nan
    if stopped is not None:
        lag_s = HEEL_LAG_S if lowering.leads[stopped.frame - lowering.first] else 0.0
        frame = stopped.exact_frame - lag_s * foot.rate_hz
        rival_frame = _rival_frame(foot, lowering, stopped, apart, latest)
    if not frame < latest:
        return None
    leads = bool(lowering.leads[max(int(frame) - lowering.first, 0)])
    return Landing(frame, "height" if stopped is None else "impact", rival_frame, leads)


def _stopped(
    foot: FootStretch, lowering: _Lowering, down_frame: float, latest: float
) -> Impact | None:
    """Return where an end is most likely stopped by the floor; None when nowhere."""
    first = lowering.first
    stop = min(first + len(lowering.there), latest)
    if not np.isnan(down_frame):
        late_s = LATE_S[bool(lowering.leads[int(down_frame) - first])]
        stop = min(stop, down_frame + late_s * foot.rate_hz + 1)
    near = lowering.leads & (lowering.ahead_m < NEAR_M)
    allowed = (lowering.there | near) & (lowering.above_m < HIGH_M)
    stops: dict[int, list[Impact]] = {}
    for impact in _impacts_within(foot, lowering, stop):
        if allowed[impact.frame - first]:
            stops.setdefault(impact.began, []).append(impact)
    peaks = [_peak(impacts, lowering) for impacts in stops.values()]
    return max(peaks, key=lambda impact: _likelihood(impact, lowering), default=None)


def _impacts_within(foot: FootStretch, lowering: _Lowering, stop: float) -> list[Impact]:
    """Return those of an end from the middle of the swing until before a frame."""
    impacts = foot.impacts[lowering.end]
    first, last = (bisect_left(impacts, frame, key=_FRAME) for frame in (lowering.first, stop))
    return impacts[first:last]


def _peak(impacts: list[Impact], lowering: _Lowering) -> Impact:
    """Return the peak of one stop: the highest, unless another is far more likely."""
    highest = max(impacts, key=lambda impact: impact.height_m_s2)
    likeliest = max(impacts, key=lambda impact: _likelihood(impact, lowering))
    is_far = _likelihood(likeliest, lowering) > FAR_LIKELIER * _likelihood(highest, lowering)
    return likeliest if is_far else highest


def _rival_frame(
    foot: FootStretch, lowering: _Lowering, stopped: Impact, apart: float, latest: float
) -> float:
    """Return when the end is stopped apart from its landing and nearly as likely; NaN: never."""
    last = lowering.first + len(lowering.there) - 1
    until = min(last, latest, stopped.frame + LOOK_AFTER_S * foot.rate_hz)
    rivals = [
        impact
        for impact in _impacts_within(foot, lowering, math.floor(until) + 1)
        if abs(impact.exact_frame - stopped.exact_frame) > apart
        and _is_rival(impact, lowering, stopped)
    ]
    likeliest = max(rivals, key=lambda impact: _likelihood(impact, lowering), default=None)
    return np.nan if likeliest is None else likeliest.exact_frame


def _is_rival(impact: Impact, lowering: _Lowering, stopped: Impact) -> bool:
    share = _likelihood(impact, lowering) / _likelihood(stopped, lowering)
    earlier = min(impact, stopped, key=lambda each: each.frame)
    if share >= RIVAL_SHARE and _hangs(earlier, lowering, stopped):
        return True
    return share >= HIGHER_SHARE and _is_higher_peak(impact, lowering, stopped)


def _is_higher_peak(impact: Impact, lowering: _Lowering, stopped: Impact) -> bool:
    """Whether an impact is a far higher peak of the same stop, near its place, above its level."""
    frame = impact.frame - lowering.first
    is_same_stop = impact.began == stopped.began
    is_higher = is_same_stop and impact.height_m_s2 > MUCH_HIGHER * stopped.height_m_s2
    is_near = bool(lowering.ahead_m[frame] < NEAR_M)
    return is_higher and is_near and HANGS_M < float(lowering.above_m[frame]) < HIGH_M


def _hangs(earlier: Impact, lowering: _Lowering, stopped: Impact) -> bool:
    """Whether the earlier of two stops may be that of a foot that hangs over its place."""
    frame = earlier.frame - lowering.first
    is_there = earlier is stopped or bool(lowering.ahead_m[frame] < THERE_M)
    return is_there and HANGS_M < float(lowering.above_m[frame]) < HIGH_M


def _likelihood(impact: Impact, lowering: _Lowering) -> float:
    frame = impact.frame - lowering.first
    above = max(float(lowering.above_m[frame]), 0.0)
    ahead = max(float(lowering.ahead_m[frame]), 0.0)
    high_m = LIKELY_HIGH_M[bool(lowering.leads[frame])]
    return impact.fall_stopped_m_s * float(np.exp(-above / high_m - ahead / LIKELY_FAR_M))

"""When a foot that ends its swing has landed.

In come a foot and its swings, out come its landings. An end of the foot lands near its place
and its height of the stance that follows, where it is stopped from falling; an end that is not
stopped clearly, where it has come all the way down. The foot lands with the first of its ends.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from operator import attrgetter
from typing import Final, Literal, NamedTuple

import numpy as np

from gaittrack.events.foot_stretch import End, FootStretch
from gaittrack.events.impacts import Impact
from gaittrack.events.swings import Swing
from gaittrack.kinematics.sagittal_angles import FORWARD, UP
from gaittrack.quick_numpy import median_of, medians_of_runs
from gaittrack.trial import BoolArray, FloatArray

Method = Literal["impact", "height"]
_FRAME: Final = attrgetter("impact.frame")
_LIKELIHOOD: Final = attrgetter("likelihood")

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
    """One end of the foot, from the middle of each swing until the foot sets out again.

    Elsewhere, and where it does not come to rest, NaN and False.

    Attributes
    ----------
    above_m : ndarray, shape (n_frames,)
        Height above its level in the stance that follows.
    ahead_m : ndarray, shape (n_frames,)
        How far its place in that stance lies ahead.
    there : ndarray of bool, shape (n_frames,)
        Where it is slow and near its place.
    leads : ndarray of bool, shape (n_frames,)
        Where it is the heel and clearly lower than the front.
    """

    above_m: FloatArray
    ahead_m: FloatArray
    there: BoolArray
    leads: BoolArray


class _Stop(NamedTuple):
    """An impact of an end, how likely it is its landing, and where the end is then."""

    impact: Impact
    likelihood: float
    above_m: float
    ahead_m: float
    is_allowed: bool
    """Whether the end is near its place and its level."""


@dataclass(frozen=True, eq=False, slots=True)
class _End:
    """What one end of the foot does in the whole stretch; stops and frames in order."""

    rate_hz: float
    leads: BoolArray
    down: list[int]
    """Frames in which it is down."""
    stops: list[_Stop]


def find_landings(
    foot: FootStretch, swings: Sequence[Swing], stops: Sequence[int], latest: Sequence[float]
) -> list[Landing | None]:
    """Return the landing that ends each swing.

    Parameters
    ----------
    swings : sequence of Swing
        In time order.
    stops : sequence of int
        Frame in which the foot sets out again, of each swing.
    latest : sequence of float
        Frame before which it must have landed, of each swing.

    Returns
    -------
    list of Landing or None
        None where no end of the foot is seen to come down.
    """
    windows = [(swing.middle, stop) for swing, stop in zip(swings, stops, strict=True)]
    lowerings = {end: _lowering(foot, end, windows) for end in foot.ends}
    ends = [_end(foot, end, lowering, lowerings) for end, lowering in lowerings.items()]
    found: list[Landing | None] = []
    for swing, window, until in zip(swings, windows, latest, strict=True):
        apart = max(APART_SHARE * (swing.stop - swing.start), APART_S * foot.rate_hz)
        of_ends = [_landing(end, window, until, apart) for end in ends]
        found.append(_first([landing for landing in of_ends if landing is not None], foot.rate_hz))
    return found


def _first(landings: list[Landing], rate_hz: float) -> Landing | None:
    """Return the landing of the foot: that of the first of its ends."""
    if not landings:
        return None
    first = min(landings, key=lambda landing: landing.frame)
    if first.leads:
        return first
    margin = TOGETHER_S * rate_hz
    together = [each.frame for each in landings if each.frame <= first.frame + margin]
    rival_frame = first.rival_frame if len(together) == 1 else np.nan
    return replace(first, frame=median_of(np.array(together)), rival_frame=rival_frame)


def _lowering(foot: FootStretch, end: End, windows: Sequence[tuple[int, int]]) -> _Lowering:
    """Return how an end comes down in each window."""
    slow, points = foot.slow[end], foot.ends[end]
    frames = np.flatnonzero(slow)
    spans = np.searchsorted(frames, np.array(windows, dtype=np.intp).reshape(-1, 2))
    is_at_rest = spans[:, 1] > spans[:, 0]
    rests = medians_of_runs(points[frames], spans[is_at_rest])
    rest = np.full(points.shape, np.nan)
    for place, at in zip(rests, np.flatnonzero(is_at_rest).tolist(), strict=True):
        rest[slice(*windows[at])] = place
    ahead = rest[:, FORWARD] - points[:, FORWARD]
    there = slow & (ahead < NEAR_M)
    return _Lowering(points[:, UP] - rest[:, UP], ahead, there, np.zeros_like(there))


def _end(
    foot: FootStretch, end: End, lowering: _Lowering, lowerings: Mapping[End, _Lowering]
) -> _End:
    if end == "rear" and "front" in lowerings:
        leads = lowerings["front"].above_m - lowering.above_m > HEEL_LEADS_M
        lowering = replace(lowering, leads=leads)
    down = np.flatnonzero(lowering.there & (lowering.above_m < DOWN_M)).tolist()
    return _End(foot.rate_hz, lowering.leads, down, _stops(foot.impacts[end], lowering))


def _stops(impacts: Sequence[Impact], lowering: _Lowering) -> list[_Stop]:
    frames = np.array([impact.frame for impact in impacts], dtype=np.intp)
    above, ahead = lowering.above_m[frames], lowering.ahead_m[frames]
    there, leads = lowering.there[frames], lowering.leads[frames]
    is_allowed = (there | (leads & (ahead < NEAR_M))) & (above < HIGH_M)
    likelihood = _likelihood(impacts, above, ahead, leads)
    columns = (likelihood, above, ahead, is_allowed)
    return list(map(_Stop, impacts, *(column.tolist() for column in columns)))


def _likelihood(
    impacts: Sequence[Impact], above_m: FloatArray, ahead_m: FloatArray, leads: BoolArray
) -> FloatArray:
    """Return how likely impacts are the landing: no probability, a number to compare."""
    fall_m_s = np.array([impact.fall_stopped_m_s for impact in impacts], dtype=np.float64)
    high_m = np.where(leads, LIKELY_HIGH_M[True], LIKELY_HIGH_M[False])
    above, ahead = np.maximum(above_m, 0.0), np.maximum(ahead_m, 0.0)
    likelihood: FloatArray = fall_m_s * np.exp(-above / high_m - ahead / LIKELY_FAR_M)
    return likelihood


def _landing(end: _End, window: tuple[int, int], latest: float, apart: float) -> Landing | None:
    first, stop = window
    down = bisect_left(end.down, first)
    is_down = down < len(end.down) and end.down[down] < stop
    frame = float(end.down[down]) if is_down else math.nan
    stopped = _stopped(end, window, frame, latest)
    rival_frame = math.nan
    if stopped is not None:
        lag_s = HEEL_LAG_S if end.leads[stopped.impact.frame] else 0.0
        frame = stopped.impact.exact_frame - lag_s * end.rate_hz
        rival_frame = _rival_frame(end, window, stopped, apart, latest)
    if not frame < latest:
        return None
    leads = bool(end.leads[max(int(frame), first)])
    return Landing(frame, "height" if stopped is None else "impact", rival_frame, leads)


def _stopped(end: _End, window: tuple[int, int], down_frame: float, latest: float) -> _Stop | None:
    """Return where an end is most likely stopped by the floor; None when nowhere."""
    first, last = window
    until = min(last, latest)
    if not math.isnan(down_frame):
        late_s = LATE_S[bool(end.leads[int(down_frame)])]
        until = min(until, down_frame + late_s * end.rate_hz + 1)
    peaks: dict[int, list[_Stop]] = {}
    for stop in _stops_within(end, first, until):
        if stop.is_allowed:
            peaks.setdefault(stop.impact.began, []).append(stop)
    return max(map(_peak, peaks.values()), key=_LIKELIHOOD, default=None)


def _stops_within(end: _End, first: int, until: float) -> list[_Stop]:
    """Return those from a frame on until before another."""
    start, stop = (bisect_left(end.stops, frame, key=_FRAME) for frame in (first, until))
    return end.stops[start:stop]


def _peak(stops: list[_Stop]) -> _Stop:
    """Return the peak of one stop: the highest, unless another is far more likely."""
    highest = max(stops, key=lambda stop: stop.impact.height_m_s2)
    likeliest = max(stops, key=_LIKELIHOOD)
    is_far = likeliest.likelihood > FAR_LIKELIER * highest.likelihood
    return likeliest if is_far else highest


def _rival_frame(
    end: _End, window: tuple[int, int], stopped: _Stop, apart: float, latest: float
) -> float:
    """Return when the end is stopped apart from its landing and nearly as likely; NaN: never."""
    first, last = window
    until = min(last - 1, latest, stopped.impact.frame + LOOK_AFTER_S * end.rate_hz)
    rivals = [
        stop
        for stop in _stops_within(end, first, math.floor(until) + 1)
        if abs(stop.impact.exact_frame - stopped.impact.exact_frame) > apart
        and _is_rival(stop, stopped)
    ]
    likeliest = max(rivals, key=_LIKELIHOOD, default=None)
    return math.nan if likeliest is None else likeliest.impact.exact_frame


def _is_rival(stop: _Stop, stopped: _Stop) -> bool:
    share = stop.likelihood / stopped.likelihood
    earlier = min(stop, stopped, key=_FRAME)
    if share >= RIVAL_SHARE and _hangs(earlier, stopped):
        return True
    return share >= HIGHER_SHARE and _is_higher_peak(stop, stopped)


def _is_higher_peak(stop: _Stop, stopped: _Stop) -> bool:
    """Whether an impact is a far higher peak of the same stop, near its place, above its level."""
    is_same_stop = stop.impact.began == stopped.impact.began
    is_higher = stop.impact.height_m_s2 > MUCH_HIGHER * stopped.impact.height_m_s2
    is_near = stop.ahead_m < NEAR_M
    return is_same_stop and is_higher and is_near and HANGS_M < stop.above_m < HIGH_M


def _hangs(earlier: _Stop, stopped: _Stop) -> bool:
    """Whether the earlier of two stops may be that of a foot that hangs over its place."""
    is_there = earlier is stopped or earlier.ahead_m < THERE_M
    return is_there and HANGS_M < earlier.above_m < HIGH_M

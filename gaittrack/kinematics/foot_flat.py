"""When a foot lies flat, and what its zero is.

In come heel and forefoot of one foot, out come the frames in which it is flat and its neutral: the
pitch and heights that count as 0. A standing trial gives them when there is one; else the foot-flat
of the walk does; a foot that only ever stands on its forefoot has none.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from gaittrack.kinematics.motion import FootNeutral
from gaittrack.kinematics.sagittal_angles import UP, raw_foot_pitch
from gaittrack.kinematics.smoothing import velocity
from gaittrack.quick_numpy import lengths_of, mean_of, median_of, quantiles_of
from gaittrack.reasons import Reason
from gaittrack.trial import BoolArray, FloatArray
from gaittrack.vocabulary import SIDES, Side, opposite

STILL_M_S = 0.12
"""Speed below which a foot marker stands still; own choice, as real recordings show it."""
LEVEL_M = 0.012
"""How far above its floor height a marker of a flat foot may be."""
OTHER_FOOT_M = 0.025
"""How far a heel's floor height may lie above the other foot's; own choice: more than markers
differ between feet, less than a heel held up."""
STEEPEST_FLAT_DEG = 20.0
"""Steepest heel-above-forefoot slope of the two markers that is taken for a flat foot without a
standing trial; own choice: marker heights differ by a few centimetres over a foot's length."""
_FLOOR_QUANTILE = 0.1
_FEWEST_FRAMES = 3


def still_frames(heel: FloatArray, forefoot: FloatArray, *, rate_hz: float) -> BoolArray:
    """Return the frames in which both ends of the foot stand still (shape (n_frames,))."""
    slow = [lengths_of(velocity(point, rate_hz)) < STILL_M_S for point in (heel, forefoot)]
    still: BoolArray = slow[0] & slow[1]
    return still


def find_neutral(
    points: Mapping[str, FloatArray], *, rate_hz: float, standing: Mapping[Side, FootNeutral]
) -> tuple[dict[Side, FootNeutral], dict[Side, BoolArray]]:
    """Find each foot's neutral and the frames in which it is flat.

    Parameters
    ----------
    points : mapping of point key to ndarray, shape (n_frames, 3)
        Walker's axes, low-passed; belt travel added.
    standing : mapping of side to FootNeutral
        From a standing trial; empty when there is none.

    Returns
    -------
    foot_flat : dict of side to ndarray of bool, shape (n_frames,)
    """
    feet = {
        side: (points[f"{side}_heel"], points[f"{side}_forefoot"])
        for side in SIDES
        if f"{side}_heel" in points and f"{side}_forefoot" in points
    }
    still = {side: still_frames(*foot, rate_hz=rate_hz) for side, foot in feet.items()}
    floors = {side: _floor_heights(feet[side], still[side]) for side in feet}
    neutral: dict[Side, FootNeutral] = {}
    flat: dict[Side, BoolArray] = {}
    for side, (heel, forefoot) in feet.items():
        given = standing.get(side)
        heel_floor, forefoot_floor = floors[side]
        if given is not None and given.source == "standing trial":
            heel_floor, forefoot_floor = given.heel_height_m, given.forefoot_height_m
        level = (heel[:, UP] < heel_floor + LEVEL_M) & (forefoot[:, UP] < forefoot_floor + LEVEL_M)
        flat[side] = still[side] & level
        if given is not None and given.source == "standing trial":
            neutral[side] = given
        else:
            neutral[side] = _neutral_of_walk(heel, forefoot, flat[side], floors, side)
        if neutral[side].source == "none":
            flat[side] = np.zeros_like(flat[side])
    return neutral, flat


def _floor_heights(foot: tuple[FloatArray, FloatArray], still: BoolArray) -> tuple[float, float]:
    if still.sum() < _FEWEST_FRAMES:
        return np.nan, np.nan
    (heel,), (forefoot,) = (quantiles_of(point[still, UP], _FLOOR_QUANTILE) for point in foot)
    return heel, forefoot


def _neutral_of_walk(
    heel: FloatArray,
    forefoot: FloatArray,
    flat: BoolArray,
    floors: Mapping[Side, tuple[float, float]],
    side: Side,
) -> FootNeutral:
    if flat.sum() < _FEWEST_FRAMES:
        return _no_neutral(Reason("foot_never_flat"))
    pitch = median_of(raw_foot_pitch(heel[flat], forefoot[flat]))
    other_heel = floors.get(opposite(side), (np.nan, np.nan))[0]
    own_heel = floors[side][0]
    if pitch < -STEEPEST_FLAT_DEG or own_heel - other_heel > OTHER_FOOT_M:
        return _no_neutral(Reason("foot_on_forefoot"))
    return FootNeutral(
        foot_pitch_deg=pitch,
        heel_height_m=mean_of(heel[flat, UP]),
        forefoot_height_m=mean_of(forefoot[flat, UP]),
        source="foot-flat",
    )


def _no_neutral(reason: Reason) -> FootNeutral:
    return FootNeutral(np.nan, np.nan, np.nan, "none", reason)


def standing_neutral(
    points: Mapping[str, FloatArray], *, rate_hz: float
) -> dict[Side, FootNeutral]:
    """Take each foot's neutral from a standing trial.

    Parameters
    ----------
    points : mapping of point key to ndarray, shape (n_frames, 3)
        Of the standing trial, walker's axes.

    Returns
    -------
    dict of side to FootNeutral
        Only feet that were seen and stood still.
    """
    found: dict[Side, FootNeutral] = {}
    for side in SIDES:
        heel, forefoot = points.get(f"{side}_heel"), points.get(f"{side}_forefoot")
        if heel is None or forefoot is None:
            continue
        still = still_frames(heel, forefoot, rate_hz=rate_hz)
        if still.sum() >= _FEWEST_FRAMES:
            found[side] = FootNeutral(
                foot_pitch_deg=median_of(raw_foot_pitch(heel[still], forefoot[still])),
                heel_height_m=median_of(heel[still, UP]),
                forefoot_height_m=median_of(forefoot[still, UP]),
                source="standing trial",
            )
    return found

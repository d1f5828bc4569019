"""Joint centres, foot points and the pelvis, from the landmarks there are.

In come landmark positions in walker's axes (forward, left, up), out come the points that angles,
events and measures are taken from, each with the landmarks it depends on.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping

import numpy as np

from gaittrack.trial import FloatArray
from gaittrack.vocabulary import SIDES, Side

_FOREFOOT_CHOICE = (
    ("metatarsal_1", "metatarsal_5"),
    ("metatarsal_5",),
    ("metatarsal_2",),
    ("metatarsal_1",),
    ("toe",),
)
_TOE_CHOICE = (("toe",), *_FOREFOOT_CHOICE[:-1])

HIP_BACK_PER_DEPTH, HIP_BACK_M = 0.24, 0.0099
HIP_DOWN_PER_WIDTH, HIP_DOWN_M = 0.30, 0.0109
HIP_OUT_PER_WIDTH, HIP_OUT_M = 0.33, 0.0073
"""Hip joint centre from pelvic width and depth: Harrington et al. 2007, J Biomech 40:595,
doi:10.1016/j.jbiomech.2006.02.003, general equations (from memory)."""

Parts = dict[str, tuple[str, ...]]
_LEG_CHOICES: dict[str, tuple[tuple[str, ...], ...]] = {
    "knee_centre": (("knee", "knee_medial"), ("knee",), ("fibula_head",)),
    "ankle_centre": (("ankle", "ankle_medial"), ("ankle",)),
    "forefoot": _FOREFOOT_CHOICE,
    "toe_point": _TOE_CHOICE,
}
_PELVIS = ("left_asis", "right_asis", "left_psis", "right_psis", "sacrum")
_HIPS = ("left_hip", "right_hip")


def point_parts(landmarks: Collection[str]) -> Parts:
    """Return point → landmarks it is made of, for every point that can be made.

    Parameters
    ----------
    landmarks : collection of landmark keys
        What the trial has.

    Returns
    -------
    dict of str to tuple of str
        ``pelvis``, and per side ``hip_centre``, ``knee_centre``, ``ankle_centre``, ``forefoot``,
        ``toe_point``; keys carry the side (``left_knee_centre``).
    """
    parts: Parts = {}
    pelvis = tuple(key for key in _PELVIS if key in landmarks)
    hips = tuple(key for key in _HIPS if key in landmarks)
    for chosen in (pelvis, hips):
        if chosen:
            parts["pelvis"] = chosen
            break
    for side in SIDES:
        parts |= _leg_parts(landmarks, side)
    return parts


def possible_parts(point: str) -> frozenset[str]:
    """Return every landmark that a point may be made of; a landmark is made of itself."""
    side, _, name = point.partition("_")
    if name in _LEG_CHOICES:
        return frozenset(f"{side}_{part}" for option in _LEG_CHOICES[name] for part in option)
    if name == "hip_centre":
        return frozenset({f"{side}_hip", *_PELVIS})
    return frozenset({*_PELVIS, *_HIPS} if point == "pelvis" else {point})


def _leg_parts(landmarks: Collection[str], side: Side) -> Parts:
    parts: Parts = {}
    for point, options in _LEG_CHOICES.items():
        for names in options:
            keys = tuple(f"{side}_{name}" for name in names)
            if all(key in landmarks for key in keys):
                parts[f"{side}_{point}"] = keys
                break
    hip = _hip_parts(landmarks, side)
    return parts | ({f"{side}_hip_centre": hip} if hip else {})


def _hip_parts(landmarks: Collection[str], side: Side) -> tuple[str, ...]:
    if f"{side}_hip" in landmarks:
        return (f"{side}_hip",)
    front = ("left_asis", "right_asis")
    for back in (("sacrum",), ("left_psis", "right_psis")):
        if all(key in landmarks for key in front + back):
            return front + back
    return ()


def body_points(landmarks: Mapping[str, FloatArray], parts: Parts) -> dict[str, FloatArray]:
    """Compute the points of ``parts``.

    Parameters
    ----------
    landmarks : mapping of landmark to ndarray, shape (n_frames, 3)
        Forward, left, up in metres.
    parts : dict
        From :func:`point_parts`.

    Returns
    -------
    dict of str to ndarray, shape (n_frames, 3)
    """
    points = {}
    for point, keys in parts.items():
        if point.endswith("hip_centre") and len(keys) > 1:
            points[point] = hip_joint_centre(landmarks, keys, left=point.startswith("left"))
        else:
            points[point] = _mean([landmarks[key] for key in keys])
    return points


def _mean(arrays: list[FloatArray]) -> FloatArray:
    return arrays[0] if len(arrays) == 1 else sum(arrays[1:], arrays[0]) / len(arrays)


def hip_joint_centre(
    landmarks: Mapping[str, FloatArray], keys: tuple[str, ...], *, left: bool
) -> FloatArray:
    """Estimate a hip joint centre from the pelvis markers.

    Parameters
    ----------
    landmarks : mapping of landmark to ndarray, shape (n_frames, 3)
    keys : tuple of str
        Both ``asis`` landmarks, then the sacrum or both ``psis``.

    Returns
    -------
    ndarray, shape (n_frames, 3)

    Notes
    -----
    Source: the general equations of Harrington et al. 2007 (see the constants above), in a pelvis
    frame with its origin midway between the anterior spines.
    """
    left_front, right_front = landmarks[keys[0]], landmarks[keys[1]]
    front = (left_front + right_front) / 2
    back = _mean([landmarks[key] for key in keys[2:]])
    outward, widths = _unit(left_front - right_front)
    ahead, depths = _unit(front - back)
    width, depth = float(np.nanmedian(widths)), float(np.nanmedian(depths))
    upward, _ = _unit(np.cross(ahead, outward))
    ahead = np.cross(outward, upward)
    side = 1.0 if left else -1.0
    return (
        front
        - ahead * (HIP_BACK_PER_DEPTH * depth + HIP_BACK_M)
        - upward * (HIP_DOWN_PER_WIDTH * width + HIP_DOWN_M)
        + side * outward * (HIP_OUT_PER_WIDTH * width + HIP_OUT_M)
    )


def _unit(vector: FloatArray) -> tuple[FloatArray, FloatArray]:
    length = np.linalg.norm(vector, axis=1)
    return vector / np.where(length > 0, length, np.nan)[:, None], length

"""Which angles the angle measures use: the file's own where it has them.

In come a trial and the angles computed from its markers, out come the chosen angles, where each is
from, and how much the two disagree.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from gaittrack.errors import Problem
from gaittrack.kinematics.motion import AngleOrigin
from gaittrack.reasons import Reason
from gaittrack.trial import BoolArray, Signal
from gaittrack.vocabulary import Joint, Side

_FEWEST_FRAMES = 10
DOUBT_CORRELATION = 0.2
"""Correlation with the marker angle below which the file's is not the same angle; own choice."""
_LEAST_SPREAD_DEG = 2.0
"""Standard deviation that both must have before a correlation says anything; own choice."""


@dataclass(frozen=True, eq=False, slots=True)
class ChosenAngles:
    """Angles in use, their origin, and what a person should know about them."""

    angles: Mapping[tuple[Side, Joint], Signal]
    origin: Mapping[tuple[Side, Joint], AngleOrigin]
    problems: tuple[Problem, ...]


def choose_angles(
    file_angles: Mapping[tuple[Side, Joint], Signal],
    marker_angles: Mapping[tuple[Side, Joint], Signal],
    *,
    straight: BoolArray | None = None,
) -> ChosenAngles:
    """Choose the file's own angle where there is one, else the one from markers.

    A file's angle that moves otherwise than the marker angle (other sign, side or plane) is not
    used, with a warning.

    Parameters
    ----------
    file_angles : mapping of (side, joint) to Signal
        The trial's own, in degrees.
    marker_angles : mapping of (side, joint) to Signal
        Degrees, at 6 Hz.
    straight : ndarray of bool, shape (n_frames,), optional
        Frames of straight passes, the only ones compared: marker angles hold for the direction of
        a pass, not for a turn.

    Returns
    -------
    ChosenAngles
        With one problem per angle that exists twice, telling the disagreement.
    """
    used, problems = dict(file_angles), []
    for key in file_angles:
        if key not in marker_angles:
            continue
        is_same, problem = _compared(key, file_angles[key], marker_angles[key], straight)
        if not is_same:
            del used[key]
        if problem is not None:
            problems.append(problem)
    angles = {**marker_angles, **used}
    origin: dict[tuple[Side, Joint], AngleOrigin] = {
        key: "file" if key in used else "markers" for key in angles
    }
    return ChosenAngles(angles, origin, tuple(problems))


def _compared(
    key: tuple[Side, Joint], own: Signal, markers: Signal, straight: BoolArray | None
) -> tuple[bool, Problem | None]:
    """Return whether both can be the same angle, and what a person should know."""
    both = ~np.isnan(own.values) & ~np.isnan(markers.values)
    if straight is not None and straight.any():
        both &= straight
    if both.sum() < _FEWEST_FRAMES:
        return True, None
    first, second = own.values[both], markers.values[both]
    difference = first - second
    spread = first.std() * second.std()
    correlation = (
        float(np.mean((first - first.mean()) * (second - second.mean())) / spread)
        if (spread > 0)
        else 0.0
    )
    apart = {
        "angle": key[1],
        "mean_deg": round(float(difference.mean()), 1),
        "sd_deg": round(float(difference.std()), 1),
        "correlation": round(correlation, 2),
    }
    if correlation < DOUBT_CORRELATION and min(first.std(), second.std()) > _LEAST_SPREAD_DEG:
        return False, Problem("warning", Reason("file_angle_is_another", **apart), key[0])
    return True, Problem("info", Reason("file_angle_is_used", **apart), key[0])

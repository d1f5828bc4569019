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
from gaittrack.trial import Signal, Trial
from gaittrack.vocabulary import Joint, Side

_FEWEST_FRAMES = 10
SIGN_DOUBT_CORRELATION = -0.3
"""Correlation with the marker angle below which the file's sign is doubted; own choice."""


@dataclass(frozen=True, eq=False, slots=True)
class ChosenAngles:
    """Angles in use, their origin, and what a person should know about them."""

    angles: Mapping[tuple[Side, Joint], Signal]
    origin: Mapping[tuple[Side, Joint], AngleOrigin]
    problems: tuple[Problem, ...]


def choose_angles(trial: Trial, marker_angles: Mapping[tuple[Side, Joint], Signal]) -> ChosenAngles:
    """Choose the file's own angle where there is one, else the one from markers.

    Parameters
    ----------
    trial : Trial
    marker_angles : mapping of (side, joint) to Signal
        Degrees, at 6 Hz.

    Returns
    -------
    ChosenAngles
        With one problem per angle that exists twice, telling the disagreement.
    """
    angles = {**marker_angles, **trial.angles}
    origin: dict[tuple[Side, Joint], AngleOrigin] = {
        key: "file" if key in trial.angles else "markers" for key in angles
    }
    twice = [key for key in trial.angles if key in marker_angles]
    problems = [_disagreement(key, trial.angles[key], marker_angles[key]) for key in twice]
    return ChosenAngles(angles, origin, tuple(problem for problem in problems if problem))


def _disagreement(key: tuple[Side, Joint], own: Signal, markers: Signal) -> Problem | None:
    both = ~np.isnan(own.values) & ~np.isnan(markers.values)
    if both.sum() < _FEWEST_FRAMES:
        return None
    first, second = own.values[both], markers.values[both]
    difference = first - second
    spread = first.std() * second.std()
    correlation = (
        float(np.mean((first - first.mean()) * (second - second.mean())) / spread)
        if (spread > 0)
        else 0.0
    )
    words = (
        f"The file's own {key[1].replace('_', ' ')} angle minus the one from markers: "
        f"mean {difference.mean():+.1f}, SD {difference.std():.1f} deg, correlation "
        f"{correlation:.2f}."
    )
    if correlation < SIGN_DOUBT_CORRELATION:
        return Problem("warning", words, key[0], "Check the sign of the file's angle.")
    return Problem("info", words, key[0], "The file's own is used, as its laboratory made it.")

"""Whether somebody stands still in a recording: what it is, whatever it is called."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Final

import numpy as np

from gaittrack.errors import GaitTrackError
from gaittrack.lab_map import LabMap
from gaittrack.read import read_trial
from gaittrack.trial import Trial

_STILL_M: Final = 0.15
"""How far markers move while somebody stands, arms aside; a step moves those of a leg by three
times as much. Own choice."""
_SHARE: Final = 90.0
"""Per cent of the markers that stay so; the rest may be hands, or a marker that jumps. On a belt a
third of them, those of the legs, move."""


_SHORTEST_S: Final = 0.75
"""In less than this somebody who walks hardly moves; own choice."""


def still_and_day(path: Path, *, maps: Sequence[LabMap] = ()) -> tuple[bool | None, str]:
    """Tell whether somebody stands still in a recording, and the day that the file says.

    Returns
    -------
    still : bool or None
        None where it cannot be read, or does not tell.
    day : str
        In ISO form; empty where it says none.
    """
    try:
        trial = read_trial(path, lab_map=maps)
    except GaitTrackError:
        return None, ""
    return is_still(trial), trial.provenance.day


def is_still(trial: Trial) -> bool | None:
    """Tell whether somebody stands still; None where there are no markers, or too few frames."""
    moved = [
        float(np.linalg.norm(np.ptp(seen, axis=0)))
        for xyz in trial.markers.values()
        if len(seen := xyz[~np.isnan(xyz[:, 0])])
    ]
    if not moved or trial.duration_s < _SHORTEST_S:
        return None
    return float(np.percentile(moved, _SHARE)) < _STILL_M

"""The curves of every walk of a visit, as they are stored: to see at a glance which is unlike.

In comes a connection, out come the strides' curves of one joint by walk and side; nothing is
measured.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np
from sqlalchemy import Connection, select

from gaittrack.study.checksums import DamagedResultError
from gaittrack.study.results.packing import stored_walks
from gaittrack.study.tables import CONDITION, RESULT, TRIAL
from gaittrack.trial import FloatArray
from gaittrack.vocabulary import Joint, Side

_JOINTS: Final[tuple[Joint, ...]] = ("ankle", "knee", "hip_thigh_vertical", "hip_pelvis_thigh")
"""The first that any walk of the visit has is shown of all."""
CurvesOfWalks = Mapping[int, Mapping[Side, FloatArray]]
"""Row number of a trial to side to strides, shape (n_strides, 101), degrees."""


def visit_curves(connection: Connection, visit_id: int) -> tuple[Joint, CurvesOfWalks]:
    """Return which joint is shown, and its curves of the kept strides of each walk.

    A walk whose result is damaged, or was refused, has none.
    """
    query = (
        select(TRIAL, RESULT)
        .select_from(CONDITION.join(TRIAL).join(RESULT))
        .where(CONDITION.c.visit_id == visit_id, TRIAL.c.kind == "walk")
    )
    found: dict[Joint, dict[int, dict[Side, list[FloatArray]]]] = {}
    for row in connection.execute(query).mappings():
        try:
            walks = stored_walks(dict(row), dict(row), condition="", session="", measures=())
        except DamagedResultError:
            continue
        for walk in walks:
            for (side, joint), curves in walk.curves.items():
                of_trial = found.setdefault(joint, {}).setdefault(row["id"], {})
                of_trial.setdefault(side, []).append(curves)
    joint = next((each for each in _JOINTS if each in found), _JOINTS[0])
    return joint, {
        trial: {side: np.concatenate(own) for side, own in sides.items()}
        for trial, sides in found.get(joint, {}).items()
    }

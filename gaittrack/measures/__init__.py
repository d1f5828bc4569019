"""What is measured on each gait cycle.

In come a motion and its cycles, out come rows: one per measure and kept cycle, each a number or
"not defined" with its reason. ``MEASURES`` is the whole list, in the order it is printed; a further
measure is one file and one line here. ``walk_values`` turns the rows of one walk into its values.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Final, NamedTuple

import numpy as np
import pandas as pd

from gaittrack.cycles import Cycle
from gaittrack.kinematics.motion import Motion
from gaittrack.measures import (
    ankle_freedom,
    compensations,
    first_contact,
    hip_flexion,
    knee_in_stance,
    loading_response_plantarflexion,
    swing_dorsiflexion,
    toe_clearance,
    walking,
)
from gaittrack.measures.cycle_view import CycleView
from gaittrack.measures.measure import Measure, compute_value
from gaittrack.measures.possible import why_impossible
from gaittrack.measures.recording import NOT_TRUSTED, Origin, PreparedMotion
from gaittrack.reasons import Reason
from gaittrack.vocabulary import Joint, Side

_RATE_UNIT: Final = "deg/s"
MEASURES: Final[tuple[Measure, ...]] = (
    loading_response_plantarflexion.PEAK_RATE,
    swing_dorsiflexion.PEAK_SWING_DORSIFLEXION,
    toe_clearance.MINIMUM_TOE_CLEARANCE,
    hip_flexion.PEAK_HIP_FLEXION_PELVIS_THIGH,
    hip_flexion.PEAK_HIP_FLEXION_THIGH_VERTICAL,
    loading_response_plantarflexion.MEAN_RATE,
    loading_response_plantarflexion.FOOT_TO_FLOOR_RATE,
    loading_response_plantarflexion.FOOT_LOWERING_TIME,
    loading_response_plantarflexion.HEEL_CONTACT_SHARE,
    swing_dorsiflexion.MID_SWING_DORSIFLEXION,
    swing_dorsiflexion.DORSIFLEXION_AT_TOE_CLEARANCE,
    swing_dorsiflexion.DORSIFLEXION_AT_CONTACT,
    swing_dorsiflexion.MID_SWING_FOOT_PITCH,
    toe_clearance.TOE_HEIGHT_UNDER_HIP,
    toe_clearance.MINIMUM_FOREFOOT_CLEARANCE,
    toe_clearance.MID_SWING_MINIMUM_SHARE,
    first_contact.FOOT_PITCH_AT_CONTACT,
    first_contact.KNEE_FLEXION_AT_CONTACT,
    knee_in_stance.LOADING_KNEE_FLEXION,
    knee_in_stance.KNEE_YIELD_IN_LOADING,
    knee_in_stance.LOADING_KNEE_FLEXION_RATE,
    knee_in_stance.STANCE_KNEE_MINIMUM,
    ankle_freedom.PEAK_STANCE_DORSIFLEXION,
    ankle_freedom.PUSH_OFF_ANKLE,
    ankle_freedom.PUSH_OFF_RANGE,
    ankle_freedom.STANCE_ANKLE_RANGE,
    ankle_freedom.SHANK_LEAN_AT_MID_STANCE,
    ankle_freedom.HEEL_RISE_TIME,
    hip_flexion.PEAK_SWING_KNEE_FLEXION,
    compensations.PELVIC_HIKE,
    compensations.CIRCUMDUCTION,
    compensations.OPPOSITE_VAULTING,
    compensations.OPPOSITE_HEEL_RISE,
    walking.WALKING_SPEED,
    walking.CADENCE,
    walking.STRIDE_LENGTH,
    walking.STRIDE_TIME,
    walking.STEP_LENGTH,
    walking.STEP_TIME,
    walking.STEP_WIDTH,
    walking.STANCE_SHARE,
    walking.SWING_SHARE,
    walking.DOUBLE_SUPPORT,
    walking.STEP_TIME_ASYMMETRY,
    walking.STEP_LENGTH_ASYMMETRY,
)
"""Every measure, headline four first."""


class Row(NamedTuple):
    """One measure of one cycle.

    Attributes
    ----------
    measure : str
        Name of the measure; it ends in the unit.
    cycle : str
        Id of the cycle.
    value : float
        NaN when not defined.
    unit : str
        UCUM code.
    reason : Reason or None
        Why it is not defined; None for a number.
    labels : tuple of Reason
        What a reader of the number must know.
    made_of : frozenset of str
        Names of all that was read for it; see ``ingredients``.
    origins : frozenset of Origin
        What it is made of that could have been made otherwise: the landmarks of its points, file
        or markers, the source of a foot's zero.
    """

    measure: str
    side: Side
    cycle: str
    value: float
    unit: str
    reason: Reason | None
    labels: tuple[Reason, ...]
    made_of: frozenset[str] = frozenset()
    origins: frozenset[Origin] = frozenset()


def measure_cycles(
    motion: Motion, cycles: Iterable[Cycle], *, measures: Sequence[Measure] = MEASURES
) -> list[Row]:
    """Measure every kept cycle.

    Parameters
    ----------
    cycles : iterable of Cycle
        Rejected cycles give no rows; their reasons stand in the cycles.

    Returns
    -------
    list of Row
        Cycle by cycle, measures in the order given.
    """
    recording = PreparedMotion(motion)
    rows = []
    for cycle in cycles:
        if not cycle.is_kept:
            continue
        view = CycleView(recording, cycle)
        for measure in measures:
            view.start_reading()
            found = compute_value(measure, view)
            row = Row(
                *(measure.name, cycle.side, cycle.id, found.value, measure.unit, found.reason),
                *(found.labels, *view.what_was_read()),
            )
            why = why_impossible(measure.name, found.value)
            rows.append(row if why is None else _not_trusted(row, why))
    return _without_trembling(rows, recording)


def _without_trembling(rows: list[Row], recording: PreparedMotion) -> list[Row]:
    """Take away the rates of a side that noise makes, of all strides or of none.

    Stride by stride, those would be left that noise made fastest.
    """
    rates: dict[tuple[str, Side], list[Row]] = {}
    for row in rows:
        if row.unit == _RATE_UNIT and row.reason is None:
            rates.setdefault((row.measure, row.side), []).append(row)
    spoiled = {
        key: why
        for key, own in rates.items()
        if (why := recording.why_noise(own[0].made_of, float(np.median([r.value for r in own]))))
    }
    if not spoiled:
        return rows
    return [
        _not_trusted(row, spoiled[row.measure, row.side])
        if row.reason is None and (row.measure, row.side) in spoiled
        else row
        for row in rows
    ]


def _not_trusted(row: Row, why: Reason) -> Row:
    reason = Reason(NOT_TRUSTED, why=why)
    return row._replace(value=math.nan, reason=reason, labels=(), origins=frozenset())


def angle_origins(motion: Motion) -> dict[tuple[Joint, Side], frozenset[Origin]]:
    """Return what each angle of a recording is made of."""
    recording = PreparedMotion(motion)
    return {(joint, side): recording.angle(side, joint).origins for side, joint in motion.angles}


def walk_values(rows: Iterable[Row], *, measures: Sequence[Measure] = MEASURES) -> pd.DataFrame:
    """Summarise the strides of one walk.

    Parameters
    ----------
    rows : iterable of Row
        Of one walk only.
    measures : sequence of Measure
        Those the rows were made with; each says whether its walk value is mean or median.

    Returns
    -------
    DataFrame
        One row per measure and side: ``measure, side, unit, value`` (NaN when no stride is
        defined), ``n_defined, n_not_defined, n_not_trusted``, ``reasons`` (dict of Reason to
        number of strides) and ``labels`` (tuple of all that occurred).
    """
    summary = {measure.name: measure.walk_value for measure in measures}
    groups: dict[tuple[str, Side], list[Row]] = {}
    for row in rows:
        groups.setdefault((row.measure, row.side), []).append(row)
    return pd.DataFrame(
        [_walk_row(group, summary[name]) for (name, _), group in groups.items()],
        columns=_WALK_COLUMNS,
    )


_WALK_COLUMNS = [
    "measure",
    "side",
    "unit",
    "value",
    "n_defined",
    "n_not_defined",
    "n_not_trusted",
    "reasons",
    "labels",
]


def _walk_row(rows: list[Row], summary: str) -> tuple[object, ...]:
    values = [row.value for row in rows if row.reason is None]
    average = np.median if summary == "median" else np.mean
    value = float(average(values)) if values else float("nan")
    reasons = dict(Counter(row.reason for row in rows if row.reason is not None))
    labels = tuple(dict.fromkeys(label for row in rows for label in row.labels))
    first = rows[0]
    n_not_trusted = sum(n for reason, n in reasons.items() if reason.code == NOT_TRUSTED)
    counts = (len(values), len(rows) - len(values) - n_not_trusted, n_not_trusted)
    return (first.measure, first.side, first.unit, value, *counts, reasons, labels)

"""How much the walks of a study scatter within a condition, measure by measure.

In comes a connection, out come pooled standard deviations from walk to walk, read from the stored
walk values without unpacking any result.
"""

from __future__ import annotations

import math
from collections.abc import Collection

from sqlalchemy import Connection, func, select

from gaittrack.compare.intervals.smallest_change import FromWalkToWalk
from gaittrack.study.tables import RESULT, TRIAL, TRIAL_MEAN


def walk_scatters(connection: Connection, measures: Collection[str]) -> dict[str, FromWalkToWalk]:
    """Return the scatter from walk to walk within conditions and sides, pooled over all of them.

    Parameters
    ----------
    measures : collection of str
        Names of those that are wanted.

    Returns
    -------
    dict of measure to FromWalkToWalk
        Only measures that some condition has two walks of which differ.
    """
    value = TRIAL_MEAN.c.value
    count, total = func.count(value), func.sum(value)
    query = (
        select(TRIAL_MEAN.c.measure, count, total, func.sum(value * value))
        .select_from(TRIAL.join(TRIAL_MEAN).join(RESULT, RESULT.c.trial_id == TRIAL.c.id))
        .where(TRIAL.c.kind == "walk", RESULT.c.refusal == "", value.is_not(None))
        .where(TRIAL_MEAN.c.measure.in_(list(measures)))
        .group_by(TRIAL.c.condition_id, TRIAL_MEAN.c.side, TRIAL_MEAN.c.measure)
    )
    squares: dict[str, float] = {}
    degrees: dict[str, int] = {}
    sums: dict[str, tuple[float, int]] = {}
    for measure, n, whole, of_squares in connection.execute(query):
        squares[measure] = squares.get(measure, 0.0) + max(of_squares - whole * whole / n, 0.0)
        degrees[measure] = degrees.get(measure, 0) + n - 1
        before = sums.get(measure, (0.0, 0))
        sums[measure] = before[0] + whole, before[1] + n
    return {
        measure: FromWalkToWalk(
            math.sqrt(squares[measure] / n), degrees=n, mean=sums[measure][0] / sums[measure][1]
        )
        for measure, n in degrees.items()
        if n and squares[measure] > 0
    }

"""How walks of a study scatter: within conditions and legs, not between them."""

import numpy as np
import pytest
from sqlalchemy import select, update

from gaittrack.study.results.walk_scatter import walk_scatters
from gaittrack.study.tables import RESULT, TRIAL, TRIAL_MEAN

TOE, SPEED = "minimum_toe_clearance_mm", "walking_speed_m_s"


def test_scatter_is_pooled_within_conditions_and_legs(study):
    """By hand from the stored walk values; a refused walk, or one without a value, counts not."""
    with study.write() as connection:
        refused, empty = connection.execute(
            select(TRIAL.c.id).where(TRIAL.c.kind == "walk").order_by(TRIAL.c.id.desc()).limit(2)
        ).scalars()
        connection.execute(update(RESULT).where(RESULT.c.trial_id == refused).values(refusal="x"))
        own = TRIAL_MEAN.c.trial_id == empty
        connection.execute(update(TRIAL_MEAN).where(own).values(value=None))
        found = walk_scatters(connection, [TOE])
        query = select(TRIAL.c.condition_id, TRIAL_MEAN.c.side, TRIAL_MEAN.c.value)
        rows = connection.execute(
            query.join_from(TRIAL, TRIAL_MEAN).where(
                TRIAL_MEAN.c.measure == TOE, TRIAL.c.id.not_in((refused, empty))
            )
        ).all()
    groups = {}
    for condition, side, value in rows:
        groups.setdefault((condition, side), []).append(value)
    pairs = [own for own in groups.values() if len(own) == 2]
    assert list(found) == [TOE] and found[TOE].degrees == len(pairs) == 6
    assert found[TOE].sd == pytest.approx(np.sqrt(np.mean([np.var(own, ddof=1) for own in pairs])))
    assert found[TOE].mean == pytest.approx(
        np.mean([each for own in groups.values() for each in own])
    )

"""Made-up walks for the tests of the comparison."""

import hashlib

import numpy as np
import pandas as pd

from gaittrack.compare.walks import STRIDE_COLUMNS, WalkRecord
from gaittrack.measures import MEASURES

UNITS = {measure.name: measure.unit for measure in MEASURES}
SWING = "peak_swing_dorsiflexion_deg"
RATE = "loading_response_plantarflexion_rate_deg_s"
CLEARANCE = "minimum_toe_clearance_mm"


def walk(
    condition,
    number,
    values,
    *,
    side="left",
    contact="heel",
    speed=1.0,
    n_strides=6,
    scatter=1.0,
    reasons=None,
    labels=None,
    curves=None,
    **facts,
):
    """Make one walk: ``values`` maps measure to its mean; ``reasons`` maps measure to a reason."""
    key = hashlib.sha256(f"{condition}{number}{side}".encode()).hexdigest()
    rng = np.random.default_rng(int(key[:8], 16))
    rows = []
    for stride in range(n_strides):
        kind = contact[stride % len(contact)] if isinstance(contact, list) else contact
        for name, mean in values.items():
            value = mean + scatter * rng.normal()
            found = (reasons or {}).get(name, "")
            if callable(found):
                found = found(stride)
            rows.append(
                (
                    name,
                    side,
                    f"{side}-{stride:02d}",
                    np.nan if found else value,
                    UNITS[name],
                    found,
                    (labels or {}).get(name, ()) if not found else (),
                    speed,
                    kind,
                )
            )
    given = {
        "rate_hz": 200.0,
        "event_source": "force",
        "neutral_source": "standing trial",
        "angle_origin": "markers",
        "smoothing": "6 Hz",
        "is_treadmill": False,
        "mean_speed_m_s": speed,
        **facts,
    }
    return WalkRecord(
        walk_id=f"{condition}-{number}",
        sha256=key,
        condition=condition,
        file_name=f"{condition}{number}.c3d",
        rows=pd.DataFrame(rows, columns=list(STRIDE_COLUMNS)),
        curves=curves or {},
        **given,
    )


def walks(condition, values, *, n=4, **more):
    """Make several walks of one condition."""
    return [walk(condition, number, values, **more) for number in range(n)]


def row_of(comparison, measure, side="left", condition="brace"):
    """Return the one row of a measure."""
    (found,) = [
        row
        for row in comparison.rows
        if (row.measure, row.side, row.condition) == (measure, side, condition)
    ]
    return found

"""Made-up walks for the tests of the comparison."""

import hashlib

import numpy as np

from gaittrack.compare.walked.walks import WalkRecord, cut_strides

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
    lines = []
    for stride in range(n_strides):
        line = []
        for name, mean in values.items():
            value = mean + scatter * rng.normal()
            found = (reasons or {}).get(name)
            if callable(found):
                found = found(stride)
            said = (labels or {}).get(name, ()) if not found else ()
            line.append((np.nan if found else value, found, said))
        lines.append(line)
    kinds = contact if isinstance(contact, list) else [contact]
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
        **strides(list(values), lines, side=side, speed=speed, contacts=kinds),
        curves=curves or {},
        **given,
    )


def strides(names, lines, *, side, speed, contacts):
    """Make the strides of one side: ``lines`` holds value, reason and labels of each measure."""
    places = range(len(lines))
    values, reasons, labels = (
        np.fromiter((cell[at] for line in lines for cell in line), dtype=kind).reshape(
            len(lines), len(names)
        )
        for at, kind in enumerate((float, object, object))
    )
    return {
        "cycles": {side: tuple(f"{side}-{place:02d}" for place in places)},
        "contacts": {side: tuple(contacts[place % len(contacts)] for place in places)},
        "tables": cut_strides(
            names,
            [side] * len(lines),
            values=values,
            reasons=reasons,
            labels=labels,
            speeds_m_s=np.full(len(lines), speed),
        ),
    }


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

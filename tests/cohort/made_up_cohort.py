"""A made-up cohort for the tests of the export; no person stands behind it."""

import hashlib

import numpy as np
import pandas as pd

from gaittrack import __version__
from gaittrack.cohort.people.source import (
    EXCLUSION_COLUMNS,
    PEOPLE_COLUMNS,
    VISIT_COLUMNS,
    CohortSource,
    CohortWalk,
    LeftOut,
)
from gaittrack.compare.fair.condition import Condition
from gaittrack.compare.walked.walks import WalkRecord
from gaittrack.reasons import Reason
from tests.compare.made_up_walks import strides

SWING = "peak_swing_dorsiflexion_deg"
RATE = "loading_response_plantarflexion_rate_deg_s"
SPEED = "walking_speed_m_s"


def record(person, visit, condition, number, level, *, side="left", n_strides=5, **more):
    """Make one walk with swing dorsiflexion about ``level``, speed, and no first rocker."""
    key = hashlib.sha256(f"{person}{visit}{condition}{number}".encode()).hexdigest()
    rng = np.random.default_rng(int(key[:8], 16))
    lines = [
        (
            (level + rng.normal(), None, ()),
            (1.0 + 0.02 * rng.normal(), None, ()),
            (np.nan, Reason("no_first_rocker", contact="forefoot"), ()),
        )
        for _ in range(n_strides)
    ]
    names = (SWING, SPEED, RATE)
    facts = {
        "walk_id": f"{person} {visit} {condition} {number}",
        "sha256": key,
        "condition": condition,
        "file_name": f"{person}-{condition}-{number}.c3d",
        "rate_hz": 200.0,
        "event_source": "force and markers",
        "neutral_source": "standing trial",
        "angle_origin": "markers",
        "smoothing": "6 Hz",
        "is_treadmill": False,
        "mean_speed_m_s": 1.0,
        "curves": {(side, "ankle"): rng.normal(size=(n_strides, 101))},
        **more,
    }
    own = strides(names, lines, side=side, speed=1.0, contacts=["forefoot"])
    return WalkRecord(**own, **facts)


def cohort(n_people=12, *, n_visits=1, n_walks=3, change=6.0, effects=None, person_fields=None):
    """Make people who walk without and with a brace; dorsiflexion rises by about ``change``."""
    rng = np.random.default_rng(7)
    people, visits, conditions, walks, exclusions = [], [], {}, [], []
    rejected = {}
    for number in range(n_people):
        person = f"MRN-{number:03d}"
        fields = {"sex": "female", "cause": "stroke", "affected_side": "left"}
        people.append({"person": person, **fields, **(person_fields or {})})
        own = 3.0 * rng.normal()
        gain = change + rng.normal() if effects is None else effects[number]
        for visit in range(n_visits):
            code = f"visit-{visit + 1}"
            day = f"2024-0{visit + 3}-17"
            visits.append(
                {
                    "person": person,
                    "visit": code,
                    "date": day,
                    "days_since_first_visit": None,
                    "age_years": 52.4,
                    "age_band": None,
                }
            )
            worn = {
                "without": Condition("without", orthosis="none", footwear="lace-up shoe"),
                "with": Condition(
                    "with",
                    orthosis="ankle-foot orthosis",
                    orthosis_class="dorsal-leaf",
                    orthosis_side="left",
                    orthosis_mass_g=95,
                    footwear="lace-up shoe",
                    markers_replaced=True,
                    days_worn=21.0,
                ),
            }
            for name, level in (("without", own), ("with", own + gain)):
                conditions[person, code, name] = worn[name]
                for trial in range(n_walks):
                    made = record(person, code, name, trial, level)
                    walks.append(CohortWalk(person, code, made, __version__))
                rejected[person, code, name] = (
                    LeftOut("left", (Reason("no_toe_off_inside"),), code, 1),
                )
            exclusions.append((person, code, "with", "left", "exclude_stride", False))
    return CohortSource(
        people=pd.DataFrame(people, columns=list(PEOPLE_COLUMNS)),
        visits=pd.DataFrame(visits, columns=list(VISIT_COLUMNS)),
        conditions=conditions,
        walks=tuple(walks),
        rejected=rejected,
        exclusions=pd.DataFrame(exclusions, columns=list(EXCLUSION_COLUMNS)),
    )

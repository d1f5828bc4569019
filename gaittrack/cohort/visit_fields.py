"""The data dictionary of what is known of a person at a visit.

Nothing comes in, out go the fields of the tables ``visits`` and ``bodies`` after their keys.
"""

from __future__ import annotations

from typing import Final

from gaittrack.cohort.closed_words import VISIT_KIND
from gaittrack.cohort.field import Field, words_of
from gaittrack.cohort.visit_facts import (
    ANGLE_STEP_DEG,
    ANGLES,
    GRADES,
    STRENGTHS,
    TONE,
    YES_NO,
    bands_of,
)
from gaittrack.compare.condition import NOT_RECORDED
from gaittrack.study.people.description import STABILITY

VISIT_FIELDS: Final = (
    Field("kind", "string", "What the visit was for", levels=words_of(VISIT_KIND)),
    *(
        Field(
            name,
            "string",
            f"{name.replace('_', ' ')}: manual grade without + and -",
            levels=(*GRADES, NOT_RECORDED),
        )
        for name in STRENGTHS
    ),
    Field("tone", "string", "Muscle tone at the ankle", levels=words_of(TONE)),
    Field("clonus", "string", "Ankle clonus", levels=words_of(YES_NO)),
    *(
        Field(name, "number", f"{name[:-4].replace('_', ' ')}, to {ANGLE_STEP_DEG} degrees", "deg")
        for name in ANGLES
    ),
    Field("correctable_to_neutral", "boolean", "Whether the foot can be brought to neutral"),
    Field(
        "mediolateral_stability",
        "string",
        "Whether the ankle tilts sideways under load, as examined in stance; of the affected leg, "
        "of the less stable one where both are. Varus: the heel inward, valgus: outward",
        levels=(*STABILITY, NOT_RECORDED),
    ),
)

BODY_FIELDS: Final = tuple(
    Field(name, "string", f"{words}, in bands", unit, levels=(*bands_of(name), NOT_RECORDED))
    for name, words, unit in (
        ("height_cm", "Body height", "cm"),
        ("mass_kg", "Body mass", "kg"),
        ("months_since_onset", "Time since the drop foot began", "mo"),
    )
)
"""Fields of the table ``bodies``."""

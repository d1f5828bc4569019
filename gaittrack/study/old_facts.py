"""Facts of people and visits of a study until version 5, brought to the registry.

In come the columns of older tables, out come facts as they are stored now. A word that is one of
its list becomes that; any other stays as it was written, and is asked about. What was examined of
"the" leg counts for the affected one; where nobody can tell which that is, it becomes a note.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from gaittrack.record.closed_lists import word_of
from gaittrack.record.legs import affected_legs
from gaittrack.record.registry import CONDITION, FACTS, LEG, Fact, leg_name
from gaittrack.record.wording import fact_label, value_words

PERSON_COLUMNS: Final = ("sex", "cause", "affected_side")
VISIT_COLUMNS: Final = (
    *("kind", "age_years", "age_band", "height_cm", "mass_kg", "months_since_onset"),
    *("quadriceps_strength", "dorsiflexor_strength", "tone", "clonus"),
    *("passive_dorsiflexion_knee_straight_deg", "passive_dorsiflexion_knee_bent_deg"),
    *("correctable_to_neutral", "mediolateral_stability", "comfort", "skin", "wear"),
)
NOTES: Final = "visit_notes"
NOTE_OF_MIGRATION: Final = (
    "What was examined counts for the affected leg, for both where both are affected; where nobody "
    "can tell, it is a note of the visit. Words of no closed list are kept as they were written: "
    "gaittrack study words lists them."
)


def person_facts(row: Mapping[str, Any]) -> dict[str, Any]:
    """Return the facts of a person from the columns of an older study."""
    return {
        name: _value(FACTS["person"][name], row[name])
        for name in PERSON_COLUMNS
        if row[name] is not None
    }


def visit_facts(row: Mapping[str, Any], affected_side: object) -> dict[str, Any]:
    """Return the facts of a visit from the columns of an older study."""
    told = {name: row[name] for name in VISIT_COLUMNS if row[name] is not None}
    found, untold = {}, []
    for name, given in told.items():
        value = _value(LEG.get(name) or FACTS["visit"][name], given)
        legs = affected_legs(affected_side, name) if name in LEG else ()
        if name not in LEG:
            found[name] = value
        elif legs:
            found |= {leg_name(side, name): value for side in legs}
        else:
            untold.append(f"{fact_label(LEG[name])}: {value_words(value)}")
    if untold:
        found[NOTES] = f"Of a leg that was not named: {'; '.join(untold)}."
    return found


def condition_facts(told: Mapping[str, Any]) -> dict[str, Any]:
    """Return what was worn with the words of the lists."""
    return {name: _value(CONDITION[name], value) for name, value in told.items()}


def _value(fact: Fact, value: Any) -> Any:
    if fact.kind == "yes/no":
        return bool(value)
    return word_of(value, fact.list) or value if fact.list else value

"""What differs between the settings in which a brace was worn: one number or order, or several.

In come the recorded facts of conditions, out comes which of brace, setting and shoe differ. Only
where one alone differs, and it is a number or the word of an ordered list that is known of all, can
anything be laid against it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from gaittrack.record.closed_lists import LISTS
from gaittrack.record.registry import CONDITION, OF_BRACE, Fact
from gaittrack.record.wording import said_of

_OF_SHOE_AND_WALK: Final = (
    *("footwear", "footwear_size", "heel_height_mm", "fore_sole_height_mm"),
    *("heel_sole_differential_mm", "sole_stiffness", "sole_rocker", "heel_modification"),
    *("insole", "foot_orthosis", "shank_to_vertical_deg", "same_footwear"),
    *("walking_aid", "hand_support", "speed_instruction", "surface"),
)
_WHY_AND_WHEN: Final = (
    *("orthosis_adjusted_on", "orthosis_change", "orthosis_change_reason", "orthosis_reason"),
    *("orthosis_objective", "orthosis_notes", "orthosis_tuned"),
    *("orthosis_made_on", "orthosis_fitted_on", "orthosis_ended_on", "orthosis_ended_why"),
)
"""What is said of a change and is none."""
_COUNTED: Final = (
    "brace",
    *(f.name for f in CONDITION.values() if f.of in OF_BRACE and f.name not in _WHY_AND_WHEN),
    *_OF_SHOE_AND_WALK,
)
_HEELS: Final = ("heel_height_mm", "fore_sole_height_mm", "heel_sole_differential_mm")
_FOLLOWS: Final[Mapping[str, tuple[str, ...]]] = {
    "heel_sole_differential_mm": _HEELS[:2],
    "shank_to_vertical_deg": (*_HEELS, "insole", "orthosis_ankle_angle_deg"),
}
"""What changes of itself with another fact, which then is the one that was changed."""
_ORDERED: Final = ("trim_lines", "foot_plate", "flexibility")
"""Lists whose words are in an order."""


@dataclass(frozen=True, slots=True)
class SettingChange:
    """What differs between conditions.

    Attributes
    ----------
    facts : tuple of Fact
        Those of which two values at least are recorded; empty where none is.
    places : tuple of float
        Of each condition the number of the one fact, or its place in an order; empty where several
        differ, or it is no number, or it is not recorded of all.
    said : tuple of str
        The same in words.
    unsure : tuple of Fact
        What is recorded of some conditions only: it may have changed as well.
    """

    facts: tuple[Fact, ...]
    places: tuple[float, ...]
    said: tuple[str, ...]
    unsure: tuple[Fact, ...]


def setting_change(worn: Sequence[Mapping[str, Any]]) -> SettingChange:
    """Return what differs between conditions.

    Parameters
    ----------
    worn : sequence of mapping
        Facts of each condition; None or absent where not recorded.
    """
    told = {name: [facts.get(name) for facts in worn] for name in _COUNTED}
    known = {name: {str(each) for each in own if each is not None} for name, own in told.items()}
    differ = [name for name, values in known.items() if len(values) > 1]
    own = [name for name in differ if not set(_FOLLOWS.get(name, ())) & set(differ)]
    facts = tuple(CONDITION[name] for name in own)
    unsure = [name for name in known if name not in differ and known[name] and None in told[name]]
    values = told[own[0]] if len(own) == 1 else []
    places = tuple(place for value in values if (place := _place(facts[0], value)) is not None)
    said = tuple(said_of(facts[0], value) for value in values)
    is_known = len(places) == len(worn)
    return SettingChange(
        facts, places if is_known else (), said, tuple(CONDITION[name] for name in unsure)
    )


def _place(fact: Fact, value: Any) -> float | None:
    """Return where a value stands: a number, or a word of an ordered list."""
    if value is None:
        return None
    if fact.kind in ("number", "whole"):
        return float(value)
    words = LISTS[fact.list] if fact.list in _ORDERED else ()
    return float(words.index(value)) if value in words else None

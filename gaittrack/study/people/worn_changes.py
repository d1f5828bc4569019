"""What changed in brace, footwear and walking aid from visit to visit.

In come the visits of a person and what was worn in each condition, out come the changes, so that
they stand as marks beside the measures. Only what is recorded at both visits can be a change.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from gaittrack.compare.fair.condition import Condition
from gaittrack.record.registry import CONDITION
from gaittrack.record.wording import full_label, value_words

NEW: Final = "new condition"
_STARTS: Final = (
    ("brace", ("orthosis", "other_orthosis", "brace", "setting")),
    (
        "footwear",
        ("footwear", "heel_", "fore_sole", "sole_", "insole", "foot_orthosis", "shank_to"),
    ),
    ("walking aid", ("walking_aid", "hand_support")),
)
_NO_CHANGE: Final = ("orthosis_wear_h_per_day", "orthosis_weeks_of_use")
"""They grow by themselves."""
KINDS: Final[dict[str, str]] = {
    name: kind
    for name in CONDITION
    for kind, starts in _STARTS
    if name.startswith(starts) and name not in _NO_CHANGE
}
"""Field of a condition → kind of the change."""


@dataclass(frozen=True, slots=True)
class WornChange:
    """One change of one condition.

    Attributes
    ----------
    visit, condition : str
        Where it is seen first.
    kind : str
        ``brace``, ``footwear``, ``walking aid`` or ``new condition``.
    text : str
        What it was and what it is.
    """

    visit: str
    condition: str
    kind: str
    text: str


def worn_changes(
    visits: Sequence[str], worn: Mapping[tuple[str, str], Condition]
) -> tuple[WornChange, ...]:
    """Return what changed in what was worn.

    Parameters
    ----------
    visits : sequence of str
        In the order of time.

    Returns
    -------
    tuple of WornChange
        In the order of time. A field is compared with the last visit at which it was recorded.
    """
    found: list[WornChange] = []
    known: dict[str, dict[str, str]] = {}
    for place, visit in enumerate(visits):
        for (at, code), condition in worn.items():
            if at != visit:
                continue
            if code not in known and place:
                found.append(WornChange(visit, code, NEW, "walked for the first time"))
            before = known.setdefault(code, {})
            now = dict(_recorded(condition))
            found += _differences(visit, code, before, now)
            before.update(now)
    return tuple(found)


def _recorded(condition: Condition) -> Iterator[tuple[str, str]]:
    for name, value in condition.facts.items():
        if name in KINDS:
            yield name, value_words(value)


def _differences(
    visit: str, code: str, before: Mapping[str, str], now: Mapping[str, str]
) -> Iterator[WornChange]:
    for name, said in now.items():
        if name in before and before[name] != said:
            words = f"{full_label(CONDITION[name])}: {before[name]} → {said}"
            yield WornChange(visit, code, KINDS[name], words)

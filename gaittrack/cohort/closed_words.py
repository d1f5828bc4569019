"""Closed lists that stand in the place of free text in an export.

In comes text as somebody typed it, out comes a word of a list, ``other`` or "not recorded"; never
the text itself.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Final

Levels = Mapping[str, tuple[str, ...]]
"""Word of the export → beginnings of words that mean it."""

OTHER: Final = "other"

SEX: Final[Levels] = {"female": ("female", "woman"), "male": ("male", "man")}
SIDE: Final[Levels] = {"left": ("left",), "right": ("right",), "both": ("both", "bilateral")}
CAUSE: Final[Levels] = {
    "stroke": ("stroke", "hemipar", "hemipleg"),
    "multiple sclerosis": ("multiple sclerosis",),
    "cerebral palsy": ("cerebral palsy",),
    "spinal cord injury": ("spinal cord", "parapar"),
    "brain injury": ("brain",),
    "hereditary neuropathy": ("hereditary", "charcot"),
    "peripheral nerve palsy": ("peripheral nerve", "peroneal", "fibular", "sciatic", "nerve"),
    "lumbar nerve root": ("radicul", "lumbar", "nerve root", "l4", "l5"),
    "other neuropathy": ("neuropath", "polyneuropath"),
    "muscle disease": ("dystroph", "myopath"),
}
VISIT_KIND: Final[Levels] = {
    "baseline": ("baseline", "first", "initial"),
    "fitting": ("fitting", "fitted", "delivery", "adjust"),
    "follow-up": ("follow", "control", "review", "later"),
}
ORTHOSIS: Final[Levels] = {
    "none": ("none", "no", "without"),
    "ankle-foot orthosis": ("ankle-foot", "ankle foot", "afo", "brace"),
}
ORTHOSIS_CLASS: Final[Levels] = {
    "dorsal-leaf": ("dorsal", "posterior leaf", "leaf"),
    "ground-reaction": ("ground",),
    "jointed": ("jointed", "hinged", "articulated"),
    "flexible": ("flexible", "elastic"),
    "solid": ("solid", "rigid"),
}
MAKE: Final[Levels] = {"custom": ("custom", "bespoke"), "ready-made": ("ready", "prefab")}
MATERIAL: Final[Levels] = {
    "carbon fibre": ("carbon",),
    "glass fibre": ("glass",),
    "thermoplastic": ("thermoplast", "polyprop", "polyeth", "plastic"),
    "metal": ("metal", "steel", "alumin", "titan"),
    "textile or leather": ("textile", "leather", "neoprene", "fabric"),
}
FOOTWEAR: Final[Levels] = {
    "barefoot": ("barefoot", "none", "no shoe"),
    "boot": ("boot",),
    "sandal": ("sandal", "slipper"),
    "shoe": ("shoe", "trainer", "sneaker"),
}
AID: Final[Levels] = {
    "none": ("none", "no", "without"),
    "cane": ("cane", "stick"),
    "crutch": ("crutch",),
    "walker": ("walker", "rollator", "frame"),
}
SUPPORT: Final[Levels] = {
    "none": ("none", "no", "without"),
    "rail": ("rail", "bar"),
    "person": ("person", "therapist", "hand held"),
}
SPEED_INSTRUCTION: Final[Levels] = {
    "comfortable": ("comfort", "self", "usual", "normal", "preferred"),
    "fast": ("fast", "quick"),
    "slow": ("slow",),
    "fixed": ("fixed", "belt", "matched"),
}
SURFACE: Final[Levels] = {
    "treadmill": ("treadmill",),
    "level floor": ("floor", "level", "overground", "walkway"),
}
CORRECTION: Final[Levels] = {
    "event moved": ("move_event",),
    "event added": ("add_event",),
    "event deleted": ("delete_event",),
    "stride excluded": ("exclude_stride",),
    "sides swapped": ("swap_sides",),
    "found right": ("looked_at",),
}


def level_of(text: object, levels: Levels) -> str | None:
    """Return the word of a closed list that stands for a text.

    Returns
    -------
    str or None
        None when nothing is recorded; ``other`` when no word of the list is meant.
    """
    if not isinstance(text, str) or not text.strip():
        return None
    said = text.strip().lower()
    for level, beginnings in levels.items():
        if said == level or any(_begins_a_word(said, each) for each in beginnings):
            return level
    return OTHER


def _begins_a_word(said: str, beginning: str) -> bool:
    whole = r"\b" if len(beginning) <= 3 or beginning in ("male", "none") else ""
    return re.search(rf"\b{re.escape(beginning)}{whole}", said) is not None

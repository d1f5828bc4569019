"""Closed lists that stand in the place of free text in an export.

In comes text as somebody typed it, out comes a word of a list, ``other`` or "not recorded"; never
the text itself.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from importlib.resources import files
from typing import Any, Final

from gaittrack.compare.condition import NOT_RECORDED

OTHER: Final = "other"


def _read_lists() -> dict[str, Any]:
    path = files("gaittrack.cohort") / "closed_words.toml"
    return tomllib.loads(path.read_text(encoding="utf-8"))


LISTS: Final[Mapping[str, Mapping[str, Sequence[str]]]] = _read_lists()
"""Name of a list → word of the export → beginnings of words that mean it."""
LIST_OF_CONDITION: Final = {"orthosis_side": "side", "footwear_other_side": "footwear"} | {
    name: name
    for name in (
        *("orthosis", "orthosis_class", "orthosis_make", "orthosis_material", "footwear"),
        *("walking_aid", "hand_support", "speed_instruction", "surface"),
    )
}
"""Text fields of a condition that an export keeps, as words of a list; numbers and yes/no are kept
as they are, all other text is left out."""


def level_of(text: object, name: str) -> str | None:
    """Return the word of a closed list that stands for a text.

    Parameters
    ----------
    name : str
        Of a list of ``LISTS``.

    Returns
    -------
    str or None
        None when nothing is recorded; ``other`` when no word of the list is meant.
    """
    if not isinstance(text, str) or not text.strip():
        return None
    said = text.strip().lower()
    for level, beginnings in LISTS[name].items():
        if said == level or any(_begins_a_word(said, each) for each in beginnings):
            return level
    return OTHER


def told(text: object, name: str) -> str:
    """Return the word of a closed list that stands for a text, or "not recorded"."""
    return level_of(text, name) or NOT_RECORDED


def _begins_a_word(said: str, beginning: str) -> bool:
    whole = r"\b" if len(beginning) <= 3 or beginning in ("male", "none") else ""
    return re.search(rf"\b{re.escape(beginning)}{whole}", said) is not None

"""Closed lists, and which word of a list somebody's word is.

In comes text, out comes a word of a list or nothing. A word counts as a whole and exactly, case
aside: neither its beginning nor a word within a sentence, for "no hinge" is no "none".
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import lru_cache
from importlib.resources import files
from typing import Any, Final

OTHER: Final = "other"
"""What a word is, of a list that asks about words it does not know, as long as nobody said which
of its own it means."""
NOT_TESTED: Final = "not tested"
"""An answer of every examination; what is missing was not recorded."""

NOT_DONE: Final = ("unable", "unsafe", "refused", "not asked")
"""Answers in the place of a test's numbers: they are data, never 0 and never missing."""


def _read() -> tuple[dict[str, tuple[str, ...]], dict[str, dict[str, str]]]:
    text = (files("gaittrack.record") / "lists.toml").read_text(encoding="utf-8")
    table: dict[str, Any] = tomllib.loads(text)
    same = table.pop("same")
    return {name: tuple(words) for name, words in table.items()}, same


LISTS, SAME = _read()
"""List to its words; list to whole words that mean one of them."""
_FOLDED: Final[Mapping[str, Mapping[str, str]]] = {
    name: {said.casefold(): word for said, word in SAME.get(name, {}).items()}
    | {word.casefold(): word for word in words}
    for name, words in LISTS.items()
}


def word_of(text: object, name: str) -> str | None:
    """Return the word of a list that a text is; None when it is none of them.

    Examples
    --------
    >>> word_of("Stroke", "cause")
    'stroke'
    >>> word_of("no stroke", "cause") is None
    True
    """
    if not isinstance(text, str):
        return None
    return _FOLDED[name].get(" ".join(text.split()).casefold())


def level_of(text: object, name: str) -> str | None:
    """Return what stands for a text in an export.

    Returns
    -------
    str or None
        None when nothing is recorded; ``other`` for what is no word of the list.
    """
    return _level_of(text, name) if isinstance(text, str) else None


@lru_cache(maxsize=4096)  # the same few words again and again, many thousand times in a cohort
def _level_of(text: str, name: str) -> str | None:
    if not text.strip():
        return None
    if text.strip().casefold() == NOT_TESTED:
        return NOT_TESTED
    return word_of(text, name) or OTHER

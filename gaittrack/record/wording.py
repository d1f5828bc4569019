"""What facts and their values are called; the words of a value in each language.

In come facts and stored values, out come labels, hints and words. A word of a list that a language
has no words for is said as it is stored.
"""

from __future__ import annotations

import re
from typing import Final

from gaittrack import words
from gaittrack.record.registry import Fact

NOT_RECORDED: Final = "not recorded"
_BAND: Final = re.compile(r"(?<=^\d)-(?=\d+$)|(?<=^\d\d)-(?=\d+$)")
_UNITS: Final = {
    "deg": "°",
    "N.m/deg": "N m/°",
    "a": "years",
    "mo": "months",
    "1": "",
    "d": "",
    "wk": "",
    "h/d": "",
}
"""UCUM to what stands in brackets behind a label; other units stand there as they are."""


def fact_label(fact: Fact) -> str:
    """Return what a fact is called, without the leg, its unit in brackets.

    Examples
    --------
    >>> from gaittrack.record.registry import FACTS
    >>> fact_label(FACTS["visit"]["height_cm"])
    'height (cm)'
    """
    label = words.entry("facts", fact.plain, words.ENGLISH)["label"]
    unit = _UNITS.get(fact.unit, fact.unit)
    return f"{label} ({unit})" if unit else str(label)


def full_label(fact: Fact) -> str:
    """Return what a fact is called, with the leg."""
    return fact_label(fact) + (f", {value_words(fact.side)}" if fact.side else "")


def hint_of(fact: Fact) -> str:
    """Return what to say beside the field of a fact; empty for nothing."""
    return str(words.entry("facts", fact.plain, words.ENGLISH).get("hint", ""))


def error_of(fact: Fact) -> str:
    """Return what is known of the measurement error of a fact; empty for nothing."""
    return f"Measurement error: {fact.error}." if fact.error else ""


def value_words(value: object, language: str = words.ENGLISH) -> str:
    """Return a recorded value in words, ``not recorded`` where there is none."""
    if value is None:
        return _word(NOT_RECORDED, language)
    if isinstance(value, bool):
        return _word("yes" if value else "no", language)
    if isinstance(value, float):
        return f"{value:g}"
    return _BAND.sub("–", _word(str(value), language))


def said_of(fact: Fact, value: object) -> str:
    """Return the value of a fact in words; a note is said as it was written."""
    return str(value) if fact.kind == "note" and value is not None else value_words(value)


def _word(word: str, language: str) -> str:
    return str(words.entry("values", word, language) or word)

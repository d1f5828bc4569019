"""What of a recorded fact leaves the laboratory: a word of its list, a band, a rounded number.

In comes a value as it is stored, out comes what an export shows of it; text of a note, and a word
that is in no list, never. Whoever meets a person sees or hears the bands, so they count among what
people are told apart by; grades of an examination are known to those who examined and do not count.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import pandas as pd

from gaittrack.record.checking import check_fact, repeats_of
from gaittrack.record.closed_lists import level_of
from gaittrack.record.registry import (
    CONDITION,
    FACTS,
    LEG,
    Fact,
    band_words,
    ladder_words,
)
from gaittrack.record.wording import NOT_RECORDED


def _leaving(facts: Mapping[str, Fact]) -> dict[str, Fact]:
    return {name: fact for name, fact in facts.items() if fact.leaves != "never"}


OF_PERSON: Final = _leaving(FACTS["person"])
OF_VISIT: Final = {
    name: fact
    for name, fact in _leaving(FACTS["visit"]).items()
    if not fact.side and fact.kind != "ratings"
}
OF_RATING: Final = {n: fact for n, fact in FACTS["visit"].items() if fact.kind == "ratings"}
OF_LEG: Final = _leaving(LEG)
OF_CONDITION: Final = _leaving(CONDITION)
OF_AIM: Final = _leaving(FACTS["aim"])
OF_BRACE: Final = {part: _leaving(FACTS[part]) for part in ("brace", "setting")}
"""Facts that an export has, by name; of a leg by the plain one."""
STORED: Final = tuple(_leaving(FACTS["visit"]))
"""What is stored of a visit and leaves."""
BANDS: Final = {name: fact for name, fact in OF_VISIT.items() if fact.bands}
"""Of the body: in a table of its own, for they tell people apart."""
BANDED_IN_EXPORTS: Final = {
    name: fact for name, fact in OF_CONDITION.items() if fact.leaves == "banded in exports"
}
"""Numbers inside of the laboratory, bands in an export."""
_AGES: Final = FACTS["visit"]["age_band"].words
AGE_STARTS: Final = tuple(float(band.rstrip("+").partition("-")[0]) for band in _AGES)
AGE_WORDS: Final = ladder_words(AGE_STARTS)
WITHHELD: Final = "withheld"
"""Stands where a word would single somebody out."""


def leaving(fact: Fact, value: Any) -> Any:
    """Return what an export shows of a value.

    Returns
    -------
    value
        A word for what has words, ``not recorded`` if missing; a number or yes and no, None if
        missing or not tested. None for levels of aims too: they leave by the aims' numbers.
    """
    is_banded = fact.leaves == "banded" and bool(fact.bands)
    if value is None:
        return NOT_RECORDED if is_banded or fact.list else None
    if is_banded:
        return band_of(value, fact.bands)
    if fact.list:
        return level_of(value, fact.list) or NOT_RECORDED
    if fact.kind == "ratings" or _is_missing(value):
        return None
    if fact.kind == "repeats":  # made anew from their numbers, or why there are none
        return str(check_fact(fact, value, ""))
    if isinstance(value, str):
        return None
    if fact.kind == "yes/no":
        return bool(value)
    return float(fact.step * round(value / fact.step)) if fact.step else value


def columns_of(fact: Fact, left: Any) -> dict[str, Any]:
    """Return the columns of a fact by name, from what :func:`leaving` left of it.

    Returns
    -------
    dict
        Repeats of a test are their mean, their number, and what was answered.
    """
    if fact.kind != "repeats":
        return {fact.plain: left}
    repeats = repeats_of(left)
    return {
        fact.plain: sum(repeats) / len(repeats) if repeats else None,
        f"{fact.plain}_repeats": len(repeats) or None,
        f"{fact.plain}_answer": "done" if repeats else left or NOT_RECORDED,
    }


def band_of(value: Any, starts: tuple[float, ...]) -> str:
    """Return the band of a number; "not recorded" without one, or below the first band."""
    if _is_missing(value) or value < starts[0]:
        return NOT_RECORDED
    return band_words(starts)[sum(bool(value >= start) for start in starts) - 1]


def age_band(age_years: Any, band: object = None) -> str:
    """Return the age band of an age, or a band that was recorded if it is one of the list."""
    if not _is_missing(age_years) and age_years >= 0:
        return _AGES[sum(bool(age_years >= start) for start in AGE_STARTS) - 1]
    return str(band) if band in _AGES else NOT_RECORDED


def _is_missing(value: Any) -> bool:
    return bool(value is None or pd.isna(value))

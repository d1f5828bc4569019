"""What every column of an export means: the allow-list of the export.

Nothing comes in, out go the tables with their fields: name, type, definition, unit in UCUM, source
and measurement error. They stand in ``dictionary.csv``, those of measures and of what was worn with
what defines these. A column that does not stand here is not exported.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator, Mapping
from importlib.resources import files
from typing import Any, Final

import pandas as pd

from gaittrack.cohort.closed_words import LIST_OF_CONDITION, LISTS, OTHER
from gaittrack.cohort.deidentify import AGE_BANDS
from gaittrack.cohort.error_words import error_words
from gaittrack.cohort.field import Field
from gaittrack.cohort.table import CONDITION_FIELDS
from gaittrack.cohort.visit_facts import BANDS, GRADES, bands_of
from gaittrack.compare.condition import NOT_RECORDED
from gaittrack.compare.decision import VERDICTS
from gaittrack.compare.questions import QUESTION_CODES
from gaittrack.compare.verdict import AWAY, TOWARD
from gaittrack.measures import MEASURES
from gaittrack.measures.measure import Measure
from gaittrack.reasons import Reason
from gaittrack.study.people.description import STABILITY
from gaittrack.vocabulary import JOINTS, SIDES

_OF_MEASURE: Final = "as in the column unit"
_CODES: Final = "codes, explained in the table reasons; in brackets those of the reasons within"
_OPEN: Final[Mapping[str, tuple[str, ...]]] = {
    "age_band": AGE_BANDS,
    "grade": GRADES,
    "stability": STABILITY,
    "side_role": ("affected", "other"),
    **{name: bands_of(name) for name in BANDS},
    **{name: (*words, OTHER) for name, words in LISTS.items() if name != "correction"},
}
"""Closed lists of what may also be not recorded."""
_LEVELS: Final[Mapping[str, tuple[str, ...]]] = {
    "": (),
    "sides": SIDES,
    "joints": JOINTS,
    "correction": (*LISTS["correction"], OTHER),
    "question": QUESTION_CODES,
    "verdict": VERDICTS,
    "direction": ("higher", "lower", "faster", "slower"),
    "typical": (TOWARD, AWAY),
    **{name: (*words, NOT_RECORDED) for name, words in _OPEN.items()},
}
"""All values a text can have, by what ``dictionary.csv`` calls the list."""


def _measure_field(measure: Measure) -> Field:
    return Field(
        measure.name,
        "number",
        f"{measure.title}: mean of the walks. {measure.definition} Positive: {measure.positive}.",
        measure.unit,
        measure.source,
        error_words(measure),
    )


_CONDITION_UNITS: Final = {
    "_mm": "mm",
    "_deg": "deg",
    "_n_m_per_deg": "N.m/deg",
    "_g": "g",
    "_h_per_day": "h/d",
    "_weeks_of_use": "wk",
    "_m": "m",
    "_min": "min",
    "days_worn": "d",
}


def _condition_field(name: str) -> Field:
    words = name.replace("_", " ")
    if name in LIST_OF_CONDITION:
        levels = (*LISTS[LIST_OF_CONDITION[name]], OTHER)
        return Field(name, "string", f"{words}, as a closed list", levels=levels)
    if name in ("orthosis_tuned", "same_footwear", "order_randomised", "markers_replaced"):
        return Field(name, "boolean", f"{words}: yes or no")
    ends = [end for end in _CONDITION_UNITS if name.endswith(end)]
    unit = _CONDITION_UNITS[max(ends, key=len)] if ends else "1"
    return Field(name, "integer" if name == "order" else "number", words, unit)


def _field_of(row: Mapping[str, str]) -> Field:
    """Return the column that a row of ``dictionary.csv`` describes."""
    levels, kind, is_reasons = _LEVELS[row["levels"]], row["type"], row["type"] == "reasons"
    words = {code: str(Reason(code)) for code in (*VERDICTS, TOWARD, AWAY)}
    definition = row["definition"].format(**words)
    if is_reasons and not levels:
        definition = f"{definition}: {_CODES}"
    unit = _OF_MEASURE if row["unit"] == "measure" else row["unit"]
    plain: Any = "string" if is_reasons else kind
    return Field(row["column"], plain, definition, unit, levels=levels, is_reasons=is_reasons)


def _rows() -> Iterator[dict[str, str]]:
    """Yield the rows of ``dictionary.csv``; without a type, as in every table."""
    text = (files("gaittrack.cohort") / "dictionary.csv").read_text(encoding="utf-8")
    every: dict[str, dict[str, str]] = {}
    for row in csv.DictReader(text.splitlines()):
        if row["table"] == "every":
            every[row["column"]] = row
        else:
            own = {key: row[key] for key in ("table", "key")}
            yield row if row["type"] else every[row["column"]] | own


def _tables() -> dict[str, tuple[Field, ...]]:
    found: dict[str, tuple[Field, ...]] = {}
    for row in _rows():
        found[row["table"]] = (*found.get(row["table"], ()), _field_of(row))
    found["conditions"] += tuple(map(_condition_field, CONDITION_FIELDS))
    found["values_wide"] += tuple(map(_measure_field, MEASURES))
    return found


TABLES: Final = _tables()
"""Every table of an export, by name; ``bodies`` and ``curves`` only on request."""
TITLES: Final = {
    "people": "One row per person",
    "visits": "Time and examination: one row per person and visit",
    "conditions": "Brace, footwear, aid and instructions: one row per person, visit and condition",
    "values_long": "One row per person, visit, condition, side and measure",
    "values_wide": "One row per person, visit, condition and side; one column per measure",
    "changes": "One row per person, visit, side, pair of conditions and measure",
    "exclusions": "Corrections of events and strides made by people",
    "statistics": "One row per measure, side and pair of conditions, over people",
    "measures": "What each measure is",
    "reasons": "What each code of a reason means that occurs",
    "bodies": "Height, mass and time since onset in bands: one row per person and visit",
    "curves": "Mean angle over the gait cycle, 101 points",
}
PRIMARY_KEYS: Final = {
    name: keys
    for name in TABLES
    if (keys := tuple(row["column"] for row in _rows() if row["table"] == name and row["key"]))
}


def definitions_table() -> pd.DataFrame:
    """Return one row per measure."""
    facts = ("title", "unit", "definition", "positive", "walk_value", "source")
    return pd.DataFrame(
        [
            {"measure_id": measure.name}
            | {name: getattr(measure, name) for name in facts}
            | {"published_error": error_words(measure)}
            for measure in MEASURES
        ]
    )

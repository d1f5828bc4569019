"""What every column of an export means: the allow-list of the export.

Nothing comes in, out go the tables with their fields: name, type, definition, unit in UCUM, source
and measurement error. They stand in ``dictionary.csv``, those of measures and of what was worn with
what defines these. A column that does not stand here is not exported.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator, Mapping, Sequence
from importlib.resources import files
from typing import Any, Final

import pandas as pd

from gaittrack.cohort.disclosure.protection import LOST
from gaittrack.cohort.people.leaving import (
    AGE_WORDS,
    BANDS,
    OF_AIM,
    OF_BRACE,
    OF_CONDITION,
    OF_LEG,
    OF_PERSON,
    OF_RATING,
    OF_VISIT,
    WITHHELD,
)
from gaittrack.cohort.release.error_words import error_words
from gaittrack.cohort.release.field import Field, FieldType
from gaittrack.compare.intervals.decision import VERDICTS
from gaittrack.compare.intervals.verdict import AWAY, TOWARD
from gaittrack.compare.measurement_error.marker_errors import HOWS
from gaittrack.compare.walked.questions import QUESTION_CODES
from gaittrack.measures import MEASURES
from gaittrack.measures.measure import Measure
from gaittrack.reasons import Reason
from gaittrack.record.closed_lists import LISTS, NOT_DONE, OTHER
from gaittrack.record.registry import Fact
from gaittrack.record.wording import NOT_RECORDED, fact_label, hint_of
from gaittrack.vocabulary import CONTACT_TYPES, JOINTS, SIDES

_ELSEWHERE: Final = ("age_band", *BANDS)
"""Of a visit, in tables of their own."""
_OF_MEASURE: Final = "as in the column unit"
_CODES: Final = "codes, explained in the table reasons; in brackets those of the reasons within"
ANSWERS: Final = ("done", *NOT_DONE, NOT_RECORDED)
"""Whether a test was done, else why not."""
_LEVELS: Final[Mapping[str, tuple[str, ...]]] = {
    "": (),
    "sides": SIDES,
    "joints": JOINTS,
    "correction": (*LISTS["correction"], OTHER),
    "question": QUESTION_CODES,
    "verdict": VERDICTS,
    "direction": ("higher", "lower", "faster", "slower"),
    "typical": (TOWARD, AWAY),
    "age_band": (*AGE_WORDS, NOT_RECORDED, WITHHELD),
    "lost": LOST,
    "side": (*LISTS["side"], OTHER, NOT_RECORDED),
    "answer": ANSWERS,
    "contact": CONTACT_TYPES,
    "left_out": ("stride", "recording"),
    "how": HOWS,
    "side_role": ("affected", "other", NOT_RECORDED),
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


_TYPES: Final[Mapping[str, FieldType]] = {
    "number": "number",
    "whole": "integer",
    "ratings": "integer",
    "yes/no": "boolean",
}
_NOT_TESTED: Final = "empty where it was not tested or not recorded"


def fact_fields(fact: Fact) -> tuple[Field, ...]:
    """Return the columns of a recorded fact."""
    if fact.kind == "repeats":
        return _fields_of_repeats(fact)
    said = [fact_label(fact), hint_of(fact)]
    if fact.leaving_words:
        said.append("in bands" if fact.bands else "as a closed list")
        levels = (*fact.leaving_words, NOT_RECORDED, WITHHELD)
        return (Field(fact.plain, "string", _joined(said), fact.unit, fact.source, levels=levels),)
    said += [f"to {fact.step:g} {fact.unit}"] if fact.step else []
    said += [_NOT_TESTED] if fact.of == "leg" else []
    return (
        Field(fact.plain, _TYPES[fact.kind], _joined(said), fact.unit, fact.source, fact.error),
    )


def _fields_of_repeats(fact: Fact) -> tuple[Field, ...]:
    name, label = fact.plain, fact_label(fact)
    mean = Field(name, "number", f"{label}; mean of the repeats", fact.unit, "", fact.error)
    return (
        mean,
        Field(f"{name}_repeats", "integer", f"{label}; number of repeats", "1"),
        Field(f"{name}_answer", "string", f"{label}; whether it was done", levels=ANSWERS),
    )


def _joined(said: Sequence[str]) -> str:
    return "; ".join(each for each in said if each)


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
    text = (files("gaittrack.cohort.release") / "dictionary.csv").read_text(encoding="utf-8")
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
    for name, facts in (
        ("people", OF_PERSON),
        ("visits", {name: fact for name, fact in OF_VISIT.items() if name not in _ELSEWHERE}),
        ("bodies", BANDS),
        ("legs", OF_LEG),
        ("conditions", OF_CONDITION),
        ("settings", {**OF_BRACE["brace"], **OF_BRACE["setting"]}),
        ("aims", OF_AIM),
        ("ratings", OF_RATING),
    ):
        n_keys = len([row for row in _rows() if row["table"] == name and row["key"]])
        own = tuple(field for fact in facts.values() for field in fact_fields(fact))
        found[name] = (*found[name][:n_keys], *own, *found[name][n_keys:])
    found["values_wide"] += tuple(map(_measure_field, MEASURES))
    return found


TABLES: Final = _tables()
"""Every table of an export, by name; ``bodies`` and ``curves`` only on request."""
TITLES: Final = {
    "people": "One row per person",
    "visits": "Time: one row per person and visit",
    "legs": "Examination: one row per person, visit and leg",
    "conditions": "Brace, footwear, aid and instructions: one row per person, visit and condition",
    "settings": "One row per person, brace and setting, walked in or not",
    "aims": "One row per person and aim of the fitting",
    "ratings": "How far aims are reached: one row per person, visit and aim that was rated",
    "values_long": "One row per person, visit, condition, side and measure",
    "values_wide": "One row per person, visit, condition and side; one column per measure",
    "walks": "One row per walk: its file, how it was measured, how many strides were kept",
    "walk_values": "One row per walk, side and measure",
    "strides": "One row per stride and measure",
    "left_out": "Strides and recordings that were not kept: one row each and reason",
    "measurement_errors": "Errors in use: one row per measure and what was done to the markers",
    "changes": "One row per person, visit, side, pair of conditions and measure",
    "outcomes": "One row per person, visit, pair of conditions and everyday outcome",
    "exclusions": "Corrections of events and strides made by people",
    "statistics": "One row per measure, side and pair of conditions, over people",
    "measures": "What each measure is",
    "reasons": "What each code of a reason means that occurs",
    "withheld": "What was left out, made coarser or withheld so that nobody stands out",
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

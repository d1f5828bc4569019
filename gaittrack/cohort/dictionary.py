"""What every column of an export means: the allow-list of the export.

Nothing comes in, out go the tables with their fields: name, type, definition, unit in UCUM, source
and measurement error. A column that does not stand here is not exported.
"""

from __future__ import annotations

from typing import Final

import pandas as pd

from gaittrack.cohort.closed_words import CAUSE, CORRECTION, OTHER, SEX, SIDE
from gaittrack.cohort.deidentify import AGE_BANDS, WORDS_OF_CONDITION
from gaittrack.cohort.error_words import error_words
from gaittrack.cohort.field import Field, reasons_field, words_of
from gaittrack.cohort.table import CONDITION_FIELDS
from gaittrack.cohort.visit_fields import BODY_FIELDS, VISIT_FIELDS
from gaittrack.compare.condition import NOT_RECORDED
from gaittrack.compare.decision import VERDICTS
from gaittrack.compare.questions import QUESTION_CODES
from gaittrack.compare.verdict import (
    AWAY,
    CHANGE_IN_THESE_WALKS,
    LARGER,
    NO_CHANGE,
    NOT_SHOWN,
    TOWARD,
)
from gaittrack.measures import MEASURES
from gaittrack.measures.measure import Measure
from gaittrack.reasons import Reason
from gaittrack.vocabulary import JOINTS, SIDES

_OF_MEASURE: Final = "as in the column unit"


def _measure_field(measure: Measure) -> Field:
    return Field(
        measure.name,
        "number",
        f"{measure.title}: mean of the walks. {measure.definition} Positive: {measure.positive}.",
        measure.unit,
        measure.source,
        error_words(measure),
    )


_ID = Field("export_id", "string", "Random id of the person, made for this export only")
_VISIT = Field("visit_no", "integer", "Number of the visit, from 1 in the order of the days", "1")
_DAYS = Field(
    "days_since_baseline", "integer", "Days since the person's first visit; no dates are given", "d"
)
_CODE = Field(
    "condition_code",
    "string",
    "What was worn: orthosis, footwear and, if any, walking aid; _2 and so on tell further ones "
    "of the same person with the same parts apart and mean nothing from person to person",
)
_SIDE = Field("side", "string", "Anatomical side", levels=SIDES)
_ROLE = Field(
    "side_role",
    "string",
    "Whether the side is an affected one",
    levels=("affected", "other", NOT_RECORDED),
)
_MEASURE = Field("measure_id", "string", "Name of the measure; see the table measures")
_UNIT = Field("unit", "string", "Unit of the measure as UCUM code")
_LABELS = reasons_field("labels", "What a reader of the number must know")
_SPEED = Field("speed_m_s", "number", "Mean walking speed of the walks of the condition", "m/s")


PEOPLE: Final = (
    _ID,
    Field(
        "age_band",
        "string",
        "Age at the first visit",
        "a",
        levels=(*AGE_BANDS, NOT_RECORDED),
    ),
    Field("sex", "string", "Sex as recorded", levels=words_of(SEX)),
    Field("cause", "string", "Cause of the drop foot, as a closed list", levels=words_of(CAUSE)),
    Field("affected_side", "string", "Side of the drop foot", levels=words_of(SIDE)),
    Field("brace_classes", "string", "Classes of the orthoses worn at any visit"),
    Field("n_visits", "integer", "Number of visits", "1"),
)

VISITS: Final = (_ID, _VISIT, _DAYS, *VISIT_FIELDS)
BODIES: Final = (_ID, _VISIT, *BODY_FIELDS)

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
    if name in WORDS_OF_CONDITION:
        levels = (*WORDS_OF_CONDITION[name], OTHER)
        return Field(name, "string", f"{words}, as a closed list", levels=levels)
    if name in ("orthosis_tuned", "same_footwear", "order_randomised", "markers_replaced"):
        return Field(name, "boolean", f"{words}: yes or no")
    ends = [end for end in _CONDITION_UNITS if name.endswith(end)]
    unit = _CONDITION_UNITS[max(ends, key=len)] if ends else "1"
    return Field(name, "integer" if name == "order" else "number", words, unit)


CONDITIONS: Final = (_ID, _VISIT, _CODE, *(_condition_field(name) for name in CONDITION_FIELDS))

_STRIDES: Final = "of the strides that define it, all walks together"
LONG: Final = (
    *(_ID, _VISIT, _DAYS, _CODE, _SIDE, _ROLE, _MEASURE, _UNIT),
    Field("mean", "number", "Mean of the walk values (walk value: see measures)", _OF_MEASURE),
    Field("sd", "number", f"Standard deviation {_STRIDES}", _OF_MEASURE),
    Field("median", "number", f"Median {_STRIDES}", _OF_MEASURE),
    Field("min", "number", f"Least {_STRIDES}", _OF_MEASURE),
    Field("max", "number", f"Largest {_STRIDES}", _OF_MEASURE),
    Field(
        "within_session_sem",
        "number",
        "Standard deviation between the walk values of the condition: error of a single walk",
        _OF_MEASURE,
    ),
    Field("n_trials", "integer", "Walks with at least one stride that defines it", "1"),
    Field("n_cycles_used", "integer", "Kept strides that define it", "1"),
    Field("n_cycles_not_defined", "integer", "Kept strides that do not define it", "1"),
    Field("n_cycles_not_trusted", "integer", "Kept strides in which a fault spoils it", "1"),
    reasons_field("not_defined_reasons", "Why not, with the number of strides"),
    Field("n_cycles_rejected", "integer", "Strides of the side that were not kept", "1"),
    reasons_field("reject_reasons", "Why not, with the number of strides; a stride may have two"),
    _SPEED,
    reasons_field("missing_reason", "Why there is no mean; empty when there is one"),
    _LABELS,
    reasons_field("amount_flag", "Few walks (under 3) or few strides (under 10)"),
    Field("event_source", "string", "Where the contacts come from"),
    reasons_field("qc_flag", "Anything that makes the values differ from those of today"),
    Field("software_version", "string", "Version of gaittrack that measured the walks"),
    Field(
        "parameter_hash",
        "string",
        "Hash of filters, zero, event source, frame rate and definitions: values with the same "
        "hash were made the same way",
    ),
)
WIDE: Final = (
    *(_ID, _VISIT, _DAYS, _CODE, _SIDE, _ROLE, _SPEED),
    *(_measure_field(measure) for measure in MEASURES),
)
_REFERENCE = Field("reference_code", "string", "Condition it is compared with; as condition_code")
CHANGES: Final = (
    *(_ID, _VISIT, _SIDE, _ROLE, _CODE, _REFERENCE, _MEASURE, _UNIT),
    *(
        Field(name, "integer", f"{words} {of}", "1")
        for suffix, of in (("", "of the condition"), ("_reference", "of the reference"))
        for name, words in (
            (f"n_walks{suffix}", "Walks with a defined value"),
            (f"n_strides{suffix}", "Strides with a defined value"),
            (f"n_not_defined{suffix}", "Strides without one"),
            (f"n_not_trusted{suffix}", "Strides whose value a fault of the recording spoils"),
        )
    ),
    Field("value", "number", "Mean of the walk values in the condition", _OF_MEASURE),
    Field("reference_value", "number", "Mean of the walk values in the reference", _OF_MEASURE),
    Field("difference", "number", "Condition minus reference", _OF_MEASURE),
    *(
        Field(name, "number", f"{end} end of the 95 % interval, {of}", _OF_MEASURE)
        for of, names in (
            ("by the walks alone", ("walks_low", "walks_high")),
            ("with what putting the markers on again can do", ("low", "high")),
        )
        for name, end in zip(names, ("Lower", "Upper"), strict=True)
    ),
    reasons_field("interval_kind", "How the interval was made"),
    reasons_field("no_interval_reason", "Why there is none"),
    Field(
        "measurement_error",
        "number",
        "Smallest difference that exceeds measurement error",
        _OF_MEASURE,
    ),
    reasons_field("measurement_error_source", "Where that comes from"),
    Field("measurement_error_is_proposal", "boolean", "Whether it is an own proposal"),
    *(
        Field(
            f"placement_sd{suffix}",
            "number",
            f"Standard deviation of putting the markers on {of}, in the interval; 0 where none",
            _OF_MEASURE,
        )
        for suffix, of in (("", "in the condition"), ("_reference", "in the reference"))
    ),
    Field("p", "number", "Smallest level whose interval leaves out 0, of this row by itself", "1"),
    Field("adjusted_p", "number", "The same, by weighted Holm over the questions of the pair", "1"),
    Field(
        "question",
        "string",
        "Question that the row answers; empty: judged by itself",
        levels=QUESTION_CODES,
        is_reasons=True,
    ),
    Field(
        "verdict", "string", "What may be said of the difference", levels=VERDICTS, is_reasons=True
    ),
    reasons_field("verdict_reason", "Why"),
    Field(
        "direction",
        "string",
        "Which way, if larger than measurement error",
        levels=("higher", "lower", "faster", "slower"),
        is_reasons=True,
    ),
    Field(
        "typical",
        "string",
        "Toward or away from typical for the age band; under 20 joint angles only, for distances, "
        "times and speed follow growth until 18",
        levels=(TOWARD, AWAY),
        is_reasons=True,
    ),
    _LABELS,
)
EXCLUSIONS: Final = (
    *(_ID, _VISIT, _CODE),
    Field("side", "string", "Side as in the file; none for a swap", levels=words_of(SIDE)),
    Field("kind", "string", "What a person corrected", levels=(*CORRECTION, OTHER)),
    Field("is_undone", "boolean", "Whether it was taken back later and counts no more"),
)
CURVES: Final = (
    *(_ID, _VISIT, _CODE, _SIDE),
    Field("joint", "string", "Which angle; positive as in the measures", levels=JOINTS),
    Field("percent", "integer", "Place in the gait cycle, initial contact to the next", "%"),
    Field("mean_deg", "number", "Mean of the walks' mean curves", "deg"),
    Field("sd_deg", "number", "Standard deviation of the strides' curves", "deg"),
    Field("n_trials", "integer", "Walks with a whole curve", "1"),
    Field("n_cycles", "integer", "Strides with a whole curve", "1"),
)


_WORDS: Final = {code: str(Reason(code)) for code in (*VERDICTS, TOWARD, AWAY)}


def _count(name: str, words: str) -> Field:
    return Field(name, "integer", f"People {words}, at the first visit with both conditions", "1")


def _model_fields(name: str, words: str) -> tuple[Field, ...]:
    return (
        Field(f"{name}_difference", "number", f"Difference from {words} (REML)", _OF_MEASURE),
        Field(f"{name}_low", "number", "Lower end of its 95 % interval (normal)", _OF_MEASURE),
        Field(f"{name}_high", "number", "Upper end of its 95 % interval (normal)", _OF_MEASURE),
        Field(f"{name}_n_values", "integer", "Values in the model", "1"),
        Field(f"{name}_n_people", "integer", "People in the model", "1"),
        reasons_field(f"{name}_reason", "Why there is no model"),
        reasons_field(f"{name}_note", "What a reader of the model must know"),
    )


STATISTICS: Final = (
    *(_MEASURE, _UNIT, _ROLE, _CODE, _REFERENCE),
    Field("n_people", "integer", "People with a comparable difference at their first visit", "1"),
    Field(
        "mean_difference", "number", "Mean over people of condition minus reference", _OF_MEASURE
    ),
    Field(
        "low",
        "number",
        "Lower end of its 95 % interval over people (t); empty where all changes are equal",
        _OF_MEASURE,
    ),
    Field(
        "high",
        "number",
        "Upper end of its 95 % interval over people (t); empty where all changes are equal",
        _OF_MEASURE,
    ),
    Field("sd_between_people", "number", "Standard deviation of the differences", _OF_MEASURE),
    _count("n_toward", f"with a change {_WORDS[LARGER]}, {_WORDS[TOWARD]}"),
    _count("n_away", f"with a change {_WORDS[LARGER]}, {_WORDS[AWAY]}"),
    _count(
        "n_larger_without_direction", f"with a change {_WORDS[LARGER]}, neither toward nor away"
    ),
    _count("n_change_in_these_walks", f"with {_WORDS[CHANGE_IN_THESE_WALKS]} and no more"),
    _count("n_no_change_larger", f"with {_WORDS[NO_CHANGE]}"),
    _count("n_not_shown", f"with a change that is {_WORDS[NOT_SHOWN]}"),
    _count("n_no_error_figure", "without a known measurement error"),
    _count("n_not_comparable", "whose conditions are not comparable"),
    _count("n_not_trusted", "of whom a recording is not trusted"),
    _count("n_not_defined", "without a value in one of the conditions"),
    _count("n_not_trusted", "with a value that a fault of the recording spoils"),
    _count("n_missing", "of the export without this pair of conditions or without walks"),
    *(
        Field(
            f"share_{name}_percent",
            "number",
            f"n_{name} of all who were judged against a measurement error",
            "%",
        )
        for name in ("toward", "away", "no_change_larger")
    ),
    *_model_fields("mixed", "a linear mixed model over all visits: fixed condition, random person"),
    *_model_fields(
        "speed_adjusted",
        "the same model with the walking speed of each condition as a further fixed term: the "
        "difference at equal speed. Where the orthosis itself changes speed, this leaves out what "
        "it changes by way of speed",
    ),
    reasons_field("suppressed", "Whether counts, and what shows them by difference, are left out"),
)
DEFINITIONS: Final = (
    _MEASURE,
    Field("title", "string", "As printed"),
    _UNIT,
    Field("definition", "string", "Exact enough to compute it again"),
    Field("positive", "string", "What a positive value means"),
    Field("walk_value", "string", "How the strides of a walk are summarised"),
    Field("source", "string", "Where the definition comes from"),
    Field(
        "published_error",
        "string",
        "Measurement error by what was done to the markers",
    ),
)
REASONS: Final = (
    Field("code", "string", "Code of a reason"),
    Field("meaning", "string", "What it says; what stands in braces is filled in, but not here"),
)
TABLES: Final[dict[str, tuple[Field, ...]]] = {
    "people": PEOPLE,
    "visits": VISITS,
    "conditions": CONDITIONS,
    "values_long": LONG,
    "values_wide": WIDE,
    "changes": CHANGES,
    "exclusions": EXCLUSIONS,
    "statistics": STATISTICS,
    "measures": DEFINITIONS,
    "reasons": REASONS,
    "bodies": BODIES,
    "curves": CURVES,
}
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
PRIMARY_KEYS: Final[dict[str, tuple[str, ...]]] = {
    "people": ("export_id",),
    "visits": ("export_id", "visit_no"),
    "conditions": ("export_id", "visit_no", "condition_code"),
    "values_long": ("export_id", "visit_no", "condition_code", "side", "measure_id"),
    "values_wide": ("export_id", "visit_no", "condition_code", "side"),
    "changes": (
        *("export_id", "visit_no", "side", "condition_code", "reference_code", "measure_id"),
    ),
    "statistics": ("measure_id", "side_role", "condition_code", "reference_code"),
    "measures": ("measure_id",),
    "reasons": ("code",),
    "bodies": ("export_id", "visit_no"),
    "curves": ("export_id", "visit_no", "condition_code", "side", "joint", "percent"),
}


def definitions_table() -> pd.DataFrame:
    """Return one row per measure."""
    return pd.DataFrame(
        [
            {
                "measure_id": measure.name,
                "title": measure.title,
                "unit": measure.unit,
                "definition": measure.definition,
                "positive": measure.positive,
                "walk_value": measure.walk_value,
                "source": measure.source,
                "published_error": error_words(measure),
            }
            for measure in MEASURES
        ]
    )

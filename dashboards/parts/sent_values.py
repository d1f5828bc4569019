"""What the screens send: of every place that a callback reads, the kind of its value.

In comes an id and a property, out comes a kind of ``sent_kinds``. Whoever adds an ``Input`` or
``State`` that is no field, no count of clicks and no tick says here what it holds.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Any, Final

from dash import ALL, Input, State

from dashboards.parts.sent_kinds import NONE, Any_, Kind, ListOf
from gaittrack.record.registry import FACTS

_TEXT: Final = (str, NONE)
_COUNT: Final = (int, NONE)
_TRUTH: Final = (bool, NONE)
_NUMBER: Final = (float, str, NONE)
_TEXTS: Final = ([str], NONE)
_FIELD: Final = (str, float, bool, [str], NONE)
_DIGITS: Final = ([re.compile(r"\d{1,6}")], NONE)
_FIELD_ID: Final = {"part": re.compile("|".join(FACTS)), "n": (int, str), "name": str}
_FACTS: Final = {str: Any_}


def _pressed(value: Kind) -> Kind:
    """Return what a store of pressed buttons holds; see ``markup.pressing``."""
    return ({"value": value, "at": Any_}, NONE)


_ACT: Final = _pressed(
    {
        **dict.fromkeys(("act?", "name?", "chosen?", "key?", "place?", "person?", "part?"), _TEXT),
        **{"files?": [int], "n?": _COUNT, "step?": _COUNT},
    }
)
_PERSON: Final = {"person?": _COUNT, "visit?": _COUNT, "trial?": _COUNT}
_MAP_BEGUN: Final = {
    "sets": [ListOf([str], int)],
    "file": str,
    "moment": {str: ListOf(float, float)},
    "at_s": float,
    "guesses": {str: str},
}
_MAP_DRAFT: Final = {
    **_MAP_BEGUN,
    **{"name": str, "is_new": bool, "labels": {str: str}, "by": {str: str}, "place": _TEXT},
    **{"left_out": [str], "only": str, "standing_only": [str]},
}
_COLUMN: Final = {
    **{"name": str, "first": [(float, NONE)], "guess": Any_, "is_mean": Any_},
    **dict.fromkeys(("joint", "side", "sign", "zero_deg", "cycle", "condition"), (str, float)),
}
_SHEET_DRAFT: Final = {
    **{"file": str, "n": int, "names": [str], "doubts": [str], "name": str},
    **{"rows": [ListOf(int, [str])], "header": _COUNT, "columns": [_COLUMN]},
    **{"keys": {str: (str, float)}, "words": {str: [str]}},
}
_OF_A_KIND: Final[Mapping[str, Kind]] = {
    **{"n_clicks": _COUNT, "n_intervals": _COUNT, "n_submit": _COUNT, "checked": _TRUTH},
    **{"value": _TEXT, "pathname": str, "className": str, "id": (str, {str: (str, int)})},
}
"""By the property alone."""
_OWN: Final[Mapping[str, Kind]] = {
    "choice.data": (_PERSON, NONE),
    "changed.data": int,
    "way.id": {"address": str},
    "save.data": ({"kind": str, "name": _TEXT, "rows": [[(str, float, NONE)]]}, NONE),
    "people-stale.data": int,
    "people-job.data": _TEXT,
    "people-filter.data": _pressed(str),
    "people-more.data": _pressed({"rows": int, "of": [Any_]}),
    "people-pressed.data": _pressed({"person": int, "trial": int}),
    "people-seen.data": (_FACTS, NONE),
    "people-fact.id": _FIELD_ID,
    "people-fact.value": _FIELD,
    "cohort-words-seen.data": ([ListOf(str, str)], NONE),
    "cohort-curve-job.data": ({"key": str}, NONE),
    "cohort-state.data": _TEXT,
    "cohort-job.data": _TEXT,
    "cohort-other.data": _pressed(str),
    "cohort-more.data": _pressed({"rows": int, "of": [Any_]}),
    "cohort-save.data": ({"kind": str, "name": _TEXT}, NONE),
    "cohort-visit-no.value": _DIGITS,
    **{
        f"cohort-{name}.value": _TEXTS
        for name in ("visit-kind", "sex", "cause", "affected-side", "age-band", "brace-classes")
    },
    "add-walks-basket.data": str,
    "add-walks-known.data": (
        {"last": str, "code": str, "number": int, "days_worn": _FACTS, "braces": [str]}
        | {"affected_side": _TEXT},
        NONE,
    ),
    "add-walks-field.id": _FIELD_ID,
    "add-walks-field.value": _FIELD,
    "add-walks-whole.data": _TRUTH,
    "add-walks-sent.data": _COUNT,
    "add-walks-now.data": _COUNT,
    "add-walks-news.data": ([ListOf(int, bool)], NONE),
    "add-walks-pressed.data": _ACT,
    "add-walks-rate-hz.value": _NUMBER,
    "add-walks-map-press.data": _ACT,
    "add-walks-map-draft.data": ({**_MAP_BEGUN, "labels?": ()}, _MAP_DRAFT, NONE),
    "add-walks-sheet-press.data": _ACT,
    "add-walks-sheet-draft.data": (_SHEET_DRAFT, NONE),
    "laboratory-map.data": _pressed({"act": str, "name": str, "chosen?": str}),
    "laboratory-answer.data": _pressed({"key": str, "is_answer": bool}),
    "laboratory-back.data": _pressed(int),
    "laboratory-twice.value": _TEXTS,
    "laboratory-secondary.value": _TEXTS,
    "walks-again.data": _pressed(Any_) + ({"at": str},),
    "walks-wanted.data": _pressed({"level": re.compile("visit|trial|next"), "value?": _COUNT}),
    "walks-shown.data": (
        dict.fromkeys(("person", "visit", "condition", "trial", "version"), int),
        NONE,
    ),
    "walks-pressed.data": _pressed({"what": str, "which?": str}),
    "walks-field.id": {"name": str},
    "walks-field.value": _FIELD,
    "walks-asked.data": _pressed(str),
    "walks-several.value": _TEXTS,
    "walks-job.data": _TEXT,
    "walks-row-of.data": ({"person": int, "visit": int}, NONE),
    "compare-picked.data": ({"person": int, "conditions": [int], "reference": int}, NONE),
    "compare-visits.value": _TEXTS,
    "compare-asked.data": (
        {"person?": _COUNT, "conditions": _TEXTS, "reference": _TEXT},
        NONE,
    ),
    "compare-row.data": _pressed([ListOf(str, str, str)]),
    "compare-go.data": _pressed(int),
    "compare-near.data": _COUNT,
    **{
        f"compare-{name}.data": _pressed(bool)
        for name in ("show-replay", "paper", "everything", "workbook")
    },
}
"""By id, of several places its ``type``, and property; ids of several screens' parts too."""


def kind_of(part: Any, name: str) -> Kind:
    """Return the kind of what a callback reads.

    Parameters
    ----------
    part : str or dict
        Id of the part; of several parts a list comes.

    Raises
    ------
    KeyError
        Nobody has said it.
    """
    key = part if isinstance(part, str) else part["type"]
    kind = _OWN[f"{key}.{name}"] if f"{key}.{name}" in _OWN else _OF_A_KIND[name]
    return [kind] if _is_several(part) else kind


def kinds_of(read: Iterable[Input | State]) -> list[Kind]:
    """Return the kinds of what a callback reads."""
    return [kind_of(each.component_id, each.component_property) for each in read]


def same_parts(read: Iterable[Input | State]) -> list[list[int]]:
    """Return places of what is read of the same several parts: their lists are of one length."""
    found: dict[str, list[int]] = {}
    for place, each in enumerate(read):
        if _is_several(each.component_id):
            found.setdefault(str(each.component_id), []).append(place)
    return list(found.values())


def _is_several(part: Any) -> bool:
    """Whether a part is any number of parts, whose values come as a list."""
    return isinstance(part, dict) and any(each is ALL for each in part.values())

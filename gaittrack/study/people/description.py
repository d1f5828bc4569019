"""Who was recorded when, and what was worn: the words beside the files of one visit.

In comes a conditions file (TOML) or the words of a sheet, out comes a checked :class:`Visit`.
A brace without a side, or on the sound side, is refused before any file is read.
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final, Literal

from sqlalchemy import Boolean, Double, Integer, Table

from gaittrack.compare.condition import Condition, parse_conditions
from gaittrack.errors import LayoutError, StudyError
from gaittrack.lab_files import read_toml, refuse_unknown
from gaittrack.study.tables import CODE_LENGTH, PERSON, VISIT

PERSON_FACTS: Final = ("sex", "cause", "affected_side")
AT_THE_VISIT: Final = ("age_years", "age_band", "height_cm", "mass_kg", "months_since_onset")
"""Facts of a person that change: written under [person], kept with the visit."""
VISIT_FACTS: Final = tuple(
    column.name
    for column in VISIT.columns
    if column.name not in ("id", "person_id", "code", *AT_THE_VISIT)
)
VISIT_COLUMNS: Final = (*AT_THE_VISIT, *VISIT_FACTS)
Part = Literal["person", "visit"]
STABILITY: Final = ("stable", "tilts into varus", "tilts into valgus", "tilts both ways")
"""Of the ankle under load, as examined in stance; varus: the heel inward, valgus: outward."""
CLOSED_WORDS: Final[dict[str, tuple[str, ...]]] = {
    "affected_side": ("left", "right", "both"),
    "mediolateral_stability": STABILITY,
}
"""Facts that take no other words."""
_RANGES: Final[dict[str, tuple[float, float]]] = {
    "number": (0, 1000),
    "days_since_first_visit": (-36_600, 36_600),
    "age_years": (0, 120),
    "height_cm": (40, 250),
    "mass_kg": (2, 350),
    "months_since_onset": (0, 1440),
    "passive_dorsiflexion_knee_straight_deg": (-90, 60),
    "passive_dorsiflexion_knee_bent_deg": (-90, 60),
}
"""Beyond these a number is a slip of unit or of a key; own choice, wider than people are."""


@dataclass(frozen=True, slots=True)
class Visit:
    """One visit of one person as it is described beside the files.

    Attributes
    ----------
    person_facts, facts : dict of str to value
        Columns of the tables ``person`` and ``visit`` that are given.
    conditions : dict of str to Condition
        Empty when nothing describes them.
    is_described : bool
        A [person] table vouches for the code.
    """

    person: str
    code: str
    person_facts: dict[str, Any] = field(default_factory=dict)
    facts: dict[str, Any] = field(default_factory=dict)
    conditions: dict[str, Condition] = field(default_factory=dict)
    is_described: bool = False


def read_visit(path: Path) -> Visit:
    """Read the conditions file of a visit folder ``PERSON/VISIT``.

    Parameters
    ----------
    path : Path
        TOML with ``[person]``, ``[visit]`` and ``[conditions.NAME]``.

    Raises
    ------
    LayoutError
        Not readable, an unknown key or a value of the wrong kind.
    StudyError
        The person's code is not that of the folder.
    """
    folder, where = path.resolve().parent, path.name
    action = "Give a TOML file with [person], [visit] and [conditions.NAME]."
    table = read_toml(path, "conditions file", action)
    conditions = parse_conditions(table, where=where)
    person = dict(table.get("person", {}))
    code = str(person.pop("code", folder.parent.name))
    if code != folder.parent.name:
        raise StudyError.of(
            "code_differs_from_folder",
            where=f"{where} [person] code",
            code=code,
            name=folder.parent.name,
        )
    visit = dict(table.get("visit", {}))
    return make_visit(
        code, folder.name, person, visit, conditions, where, is_described="person" in table
    )


def make_visit(
    person: str,
    code: str,
    about_person: Mapping[str, Any],
    about_visit: Mapping[str, Any],
    conditions: Mapping[str, Condition],
    where: str,
    *,
    is_described: bool = False,
) -> Visit:
    """Check the words about a visit and sort them into its tables.

    Parameters
    ----------
    about_person, about_visit : mapping
        As under [person] and [visit].
    where : str
        What to call the source in an error.

    Raises
    ------
    LayoutError
        An unknown key or a value of the wrong kind.
    """
    for name in (person, code, *conditions):
        check_code(name, where)
    refuse_unknown(about_person, (*PERSON_FACTS, *AT_THE_VISIT), f"{where} [person]")
    refuse_unknown(about_visit, VISIT_FACTS, f"{where} [visit]")
    own = {key: about_person[key] for key in PERSON_FACTS if key in about_person}
    facts = {key: value for key, value in about_person.items() if key in AT_THE_VISIT}
    return Visit(
        person,
        code,
        check_facts("person", own, f"{where} [person]"),
        check_facts("visit", facts | dict(about_visit), f"{where} [visit]"),
        dict(conditions),
        is_described,
    )


def check_facts(part: Part, facts: Mapping[str, Any], where: str) -> dict[str, Any]:
    """Check facts of a person or a visit and bring them to the types of the study.

    Parameters
    ----------
    where : str
        What to call the source in an error.

    Raises
    ------
    LayoutError
        A word that is not of a closed list, a value of the wrong kind, or one beyond what people
        are.
    """
    for key, words in CLOSED_WORDS.items():
        if key in facts and facts[key] not in words:
            raise LayoutError.of(
                "not_in_closed_list", where=where, key=key, word=facts[key], words=", ".join(words)
            )
    table = PERSON if part == "person" else VISIT
    found = {key: _as_column(table, key, value, f"{where} {key}") for key, value in facts.items()}
    for key, (low, high) in _RANGES.items():
        if found.get(key) is not None and not low <= found[key] <= high:
            raise LayoutError.of(
                "beyond_what_can_be", where=where, key=key, value=found[key], low=low, high=high
            )
    return found


def check_code(name: str, where: str) -> None:
    """Refuse a code that cannot name a person, visit, condition or trial."""
    if not name.strip() or len(name) > CODE_LENGTH or not name.isprintable():
        raise LayoutError.of("not_a_code", where=where, name=name[:40], code_length=CODE_LENGTH)


def _as_column(table: Table, key: str, value: Any, where: str) -> Any:
    kind = table.c[key].type
    if key == "date":
        return _day(value, where)
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    if isinstance(kind, Boolean):
        if isinstance(value, bool):
            return value
        raise LayoutError.of("no_truth_value", where=where, value=value)
    if isinstance(kind, Integer):
        if is_number and value == int(value):
            return int(value)
        raise LayoutError.of("no_whole_number", where=where, value=value)
    if isinstance(kind, Double):
        if is_number:
            return float(value)
        raise LayoutError.of("no_number_there", where=where, value=value)
    if isinstance(value, bool | int | float | str):
        return str(value)
    raise LayoutError.of("no_text", where=where, value=value)


def _day(value: Any, where: str) -> str:
    try:
        return datetime.date.fromisoformat(str(value)[:10]).isoformat()
    except ValueError as error:
        raise LayoutError.of("no_date", where=where, value=value) from error


def check_brace(condition: Condition | None, affected_side: str | None, place: str) -> None:
    """Refuse a brace whose side is missing, or is not the affected one.

    Raises
    ------
    StudyError
    """
    if condition is None or not condition.is_braced:
        return
    side = condition.orthosis_side
    if side is None:
        raise StudyError.of("brace_without_side", where=place)
    if affected_side in ("left", "right") and side not in (affected_side, "both"):
        raise StudyError.of(
            "brace_on_other_side", where=place, side=side, affected_side=affected_side
        )

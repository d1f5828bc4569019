"""What was worn and how the person walked: the description of a condition.

In comes a TOML file with one table per condition, out come frozen :class:`Condition` objects.
Every field may be missing; what is missing is shown as "not recorded". A condition names a brace
and its setting, or says itself what was worn. The same file may hold a ``[person]``, a ``[visit]``
and ``[aims]``; they are left to those who keep people and visits.

    [braces.B1]
    orthosis_side = "left"
    orthosis_class = "dorsal-leaf"
    [braces.B1.settings.a]
    orthosis_plantar_stop_deg = -5

    [conditions.brace]
    orthosis = "ankle-foot orthosis"
    brace = "B1"
    setting = "a"
    days_worn = 30
    footwear = "walking shoe"
    heel_height_mm = 25
    fore_sole_height_mm = 12
    walking_aid = "none"
    markers_replaced = false
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from gaittrack.compare.measurement_error.marker_errors import MARKER_GROUPS, MarkerGroup
from gaittrack.errors import LayoutError
from gaittrack.lab_files import read_toml, refuse_unknown
from gaittrack.record.braces import Braces, parse_braces, whole_facts
from gaittrack.record.checking import check_all
from gaittrack.record.closed_lists import OTHER, word_of
from gaittrack.record.registry import CONDITION

DIFFERENTIAL_TOLERANCE_MM: Final = 1.0
"""Heel height less fore-sole height may differ this much from a given differential; a ruler's
reading error, own choice."""
NONE: Final = "none"
_OF_ORTHOSIS: Final = ("orthosis_", "brace", "setting")
_BAREFOOT: Final = "barefoot"
_PLACES: Final = {name: place for place, name in enumerate(CONDITION)}
_OTHER_TABLES: Final = ("person", "visit", "aims", "braces")


@dataclass(frozen=True, slots=True, init=False)
class Condition:
    """Everything that makes one condition, by the facts of the registry; None where not recorded.

    A fact is read as an attribute: ``condition.days_worn``. Those that matter for fairness are what
    was worn on the feet, aid, support by the hand, surface, instruction, order and what was done to
    the markers.

    Attributes
    ----------
    facts : mapping of str to value
        Only what is recorded.
    """

    name: str
    facts: Mapping[str, Any]

    def __init__(self, name: str, /, **facts: Any) -> None:
        if unknown := sorted(facts.keys() - CONDITION.keys()):
            raise TypeError(f"a condition has no {', '.join(unknown)}")
        known = sorted((key for key in facts if facts[key] is not None), key=_PLACES.__getitem__)
        object.__setattr__(self, "name", name)
        object.__setattr__(self, "facts", {key: facts[key] for key in known})

    def __getattr__(self, name: str) -> Any:
        """Return a fact; None where it is not recorded."""
        if name not in CONDITION:
            raise AttributeError(name)
        return self.facts.get(name)

    def __hash__(self) -> int:
        """Return a hash of name and facts."""
        return hash((self.name, tuple(self.facts.items())))

    def known_as(self, name: str = "", **facts: Any) -> Condition:
        """Return the same condition under another name, or some of its facts said otherwise."""
        return Condition(name or self.name, **{**self.facts, **facts})

    @property
    def is_braced(self) -> bool | None:
        """Whether an orthosis was worn; None when not recorded, or in words nobody explained."""
        word = OTHER if self.orthosis == OTHER else word_of(self.orthosis, "orthosis")
        if word is not None:
            return word != NONE
        return True if described_orthosis(self) else None

    @property
    def groups_put_on_again(self) -> tuple[MarkerGroup, ...] | None:
        """Which markers were put on again; none of them is empty, not recorded is None."""
        if self.markers_put_on_again is not None:
            named = {word_of(word, "marker_group") for word in self.markers_put_on_again.split(",")}
            return tuple(group for group in MARKER_GROUPS if group in named)
        return () if self.markers_replaced is False else None

    @property
    def is_barefoot(self) -> bool | None:
        """Whether no shoe was worn; None when not recorded, or in words nobody explained."""
        word = OTHER if self.footwear == OTHER else word_of(self.footwear, "footwear")
        return None if word is None else word == _BAREFOOT


def described_orthosis(condition: Condition) -> list[str]:
    """Return the names of the facts of an orthosis that are recorded."""
    return [name for name in condition.facts if name.startswith(_OF_ORTHOSIS)]


def read_conditions(path: Path) -> dict[str, Condition]:
    """Read a conditions file.

    Parameters
    ----------
    path : Path
        TOML as in the example at the top of this module.

    Returns
    -------
    dict of str to Condition
        In the order of the file.

    Raises
    ------
    LayoutError
        Not readable, an unknown key, a value of the wrong kind, or fields that contradict.
    """
    action = "Give a TOML file with a table [conditions.NAME] for each condition."
    table = read_toml(path, "conditions file", action)
    return parse_conditions(table, where=path.name)


def parse_conditions(table: Mapping[str, Any], *, where: str) -> dict[str, Condition]:
    """Turn tables into conditions.

    Parameters
    ----------
    table : mapping
        ``{"conditions": {name: {field: value}}}``.
    where : str
        What to call the source in an error.

    Raises
    ------
    LayoutError
        As :func:`read_conditions`.
    """
    refuse_unknown(table, {"conditions", *_OTHER_TABLES}, where)
    found = _table(table.get("conditions", {}), f"{where} [conditions]")
    braces = parse_braces(table, where)
    return {
        name: _condition(name, _table(row, _place(where, name)), braces, _place(where, name))
        for name, row in found.items()
    }


def _place(where: str, name: str) -> str:
    return f"{where} [conditions.{name}]"


def _condition(name: str, row: dict[str, Any], braces: Braces, where: str) -> Condition:
    refuse_unknown(row, CONDITION, where)
    facts = whole_facts(check_all(CONDITION, row, where), braces, where)
    return whole_condition(name, facts, where)


def whole_condition(name: str, facts: dict[str, Any], where: str) -> Condition:
    """Return a condition of checked facts.

    Raises
    ------
    LayoutError
        They contradict each other.
    """
    _check_heights(facts, where)
    condition = Condition(name, **facts)
    _check_orthosis(condition, where)
    told = condition.markers_put_on_again
    if told is not None and condition.markers_replaced is False:
        raise LayoutError.of("markers_replaced_contradicts", where=where, told=told)
    return condition


def _check_orthosis(condition: Condition, where: str) -> None:
    described = described_orthosis(condition)
    if condition.is_braced is False and described:
        raise LayoutError.of(
            "no_orthosis_yet_described",
            where=where,
            orthosis=condition.orthosis,
            described=", ".join(described),
        )


def _check_heights(row: dict[str, Any], where: str) -> None:
    """Compute the heel-sole differential into ``row``; refuse one that contradicts."""
    if "heel_height_mm" not in row or "fore_sole_height_mm" not in row:
        return
    computed = row["heel_height_mm"] - row["fore_sole_height_mm"]
    given = row.get("heel_sole_differential_mm", computed)
    if abs(given - computed) > DIFFERENTIAL_TOLERANCE_MM:
        raise LayoutError.of(
            "heights_contradict",
            where=where,
            given=given,
            heel_height_mm=row["heel_height_mm"],
            fore_sole_height_mm=row["fore_sole_height_mm"],
            computed=computed,
        )
    row["heel_sole_differential_mm"] = computed


def _table(value: object, where: str) -> dict[str, Any]:
    if not isinstance(value, Mapping):
        raise LayoutError.of("no_table", where=where)
    return dict(value)

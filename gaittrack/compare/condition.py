"""What was worn and how the person walked: the description of a condition.

In comes a TOML file with one table per condition, out come frozen :class:`Condition` objects.
Every field may be missing; what is missing is shown as "not recorded". The same file may hold a
``[person]`` and a ``[visit]``; they are left to those who keep people and visits.

    [conditions.brace]
    orthosis = "ankle-foot orthosis"
    orthosis_side = "left"
    orthosis_class = "dorsal-leaf"
    days_worn = 30
    footwear = "walking shoe"
    heel_height_mm = 25
    fore_sole_height_mm = 12
    walking_aid = "none"
    markers_replaced = false
"""

from __future__ import annotations

import types
import typing
from collections.abc import Mapping
from dataclasses import dataclass, fields
from functools import cache
from pathlib import Path
from typing import Any, Final

from gaittrack.compare.marker_errors import MARKER_GROUPS, MarkerGroup
from gaittrack.errors import LayoutError
from gaittrack.lab_files import read_toml, refuse_unknown

NOT_RECORDED: Final = "not recorded"
DIFFERENTIAL_TOLERANCE_MM: Final = 1.0
"""Heel height less fore-sole height may differ this much from a given differential; a ruler's
reading error, own choice."""
STIFFNESS_RANGE_N_M_PER_DEG: Final = (0.1, 10.0)
"""Beyond this an entry is refused as a slip of unit: carbon ankle-foot orthoses measure 0.58-3.66
N.m/deg (Shuman 2021); the margin is own choice."""
NO_ORTHOSIS: Final = ("none", "no", "without")
_BAREFOOT: Final = ("barefoot", "none", "no shoes")
_SIDES: Final = ("left", "right", "both")
_OTHER_TABLES: Final = ("person", "visit")


@dataclass(frozen=True, slots=True)
class Condition:
    """Everything that makes one condition; None where not recorded.

    The fields follow what reviews of orthosis studies ask authors to report. Those that matter for
    fairness are:

    Attributes
    ----------
    orthosis : str or None
        What it is, in words; ``none`` when none was worn.
    days_worn : float or None
        Days the orthosis had been worn.
    footwear : str or None
        In words; ``barefoot`` when none.
    heel_sole_differential_mm : float or None
        Heel height less fore-sole height; computed from them, checked when also given.
    same_footwear : bool or None
        Whether the same shoes were worn in all conditions.
    order : int or None
        Place among the conditions of the day, from 1.
    markers_replaced : bool or None
        Whether markers were taken off and put on again, or moved to the orthosis, for it.
    markers_put_on_again : str or None
        Which of them: ``foot``, ``shank``, ``thigh``, ``pelvis``, or several with commas between.
    markers_placed_by : str or None
        Who put them on, as a code: equal codes are the same person.
    marker_surface : str or None
        Skin, shoe, shell or strap.
    standing_trial : str or None
        File of its own standing trial.
    day : str or None
        Day or visit it was recorded on.
    """

    name: str
    orthosis: str | None = None
    orthosis_side: str | None = None
    orthosis_joints: str | None = None
    orthosis_class: str | None = None
    orthosis_make: str | None = None
    orthosis_model: str | None = None
    orthosis_material: str | None = None
    orthosis_thickness_mm: float | None = None
    orthosis_trim_lines: str | None = None
    orthosis_reinforcement: str | None = None
    orthosis_joint_type: str | None = None
    orthosis_plantar_stop_deg: float | None = None
    orthosis_dorsi_stop_deg: float | None = None
    orthosis_assist: str | None = None
    orthosis_ankle_angle_deg: float | None = None
    orthosis_stiffness_n_m_per_deg: float | None = None
    orthosis_stiffness_method: str | None = None
    orthosis_stiffness_direction: str | None = None
    orthosis_foot_plate_length: str | None = None
    orthosis_foot_plate_stiffness: str | None = None
    orthosis_mass_g: float | None = None
    orthosis_straps_and_padding: str | None = None
    orthosis_objective: str | None = None
    orthosis_reason: str | None = None
    orthosis_fitted_on: str | None = None
    orthosis_tuned: bool | None = None
    orthosis_wear_h_per_day: float | None = None
    orthosis_weeks_of_use: float | None = None
    days_worn: float | None = None
    other_orthosis: str | None = None
    footwear: str | None = None
    footwear_size: str | None = None
    heel_height_mm: float | None = None
    fore_sole_height_mm: float | None = None
    heel_sole_differential_mm: float | None = None
    sole_stiffness: str | None = None
    sole_rocker: str | None = None
    heel_modification: str | None = None
    insole: str | None = None
    foot_orthosis: str | None = None
    shank_to_vertical_deg: float | None = None
    shank_to_vertical_method: str | None = None
    same_footwear: bool | None = None
    footwear_other_side: str | None = None
    walking_aid: str | None = None
    hand_support: str | None = None
    speed_instruction: str | None = None
    surface: str | None = None
    walkway_length_m: float | None = None
    order: int | None = None
    order_randomised: bool | None = None
    acclimatisation_min: float | None = None
    rest_min: float | None = None
    practice: str | None = None
    markers_replaced: bool | None = None
    markers_put_on_again: str | None = None
    markers_placed_by: str | None = None
    marker_surface: str | None = None
    standing_trial: str | None = None
    day: str | None = None
    notes: str | None = None

    @property
    def is_braced(self) -> bool | None:
        """Whether an orthosis was worn; None when not recorded."""
        if self.orthosis is not None:
            return self.orthosis.strip().lower() not in NO_ORTHOSIS
        return True if described_orthosis(self) else None

    @property
    def groups_put_on_again(self) -> tuple[MarkerGroup, ...] | None:
        """Which markers were put on again; none of them is empty, not recorded is None."""
        if self.markers_put_on_again is not None:
            return _marker_groups(self.markers_put_on_again)
        return () if self.markers_replaced is False else None

    @property
    def is_barefoot(self) -> bool | None:
        """Whether no shoe was worn; None when not recorded."""
        return None if self.footwear is None else self.footwear.strip().lower() in _BAREFOOT


def _marker_groups(told: str) -> tuple[MarkerGroup, ...]:
    named = {word.strip().lower() for word in told.split(",")}
    return tuple(group for group in MARKER_GROUPS if group in named)


def described_orthosis(condition: Condition) -> list[str]:
    """Return the names of the ``orthosis_…`` fields that are recorded."""
    return [
        item.name
        for item in fields(condition)
        if item.name.startswith("orthosis_") and getattr(condition, item.name) is not None
    ]


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
    return {
        name: _condition(name, _table(row, _place(where, name)), _place(where, name))
        for name, row in found.items()
    }


def _place(where: str, name: str) -> str:
    return f"{where} [conditions.{name}]"


@cache
def _field_hints() -> dict[str, Any]:
    return typing.get_type_hints(Condition)


def _condition(name: str, row: dict[str, Any], where: str) -> Condition:
    hints = _field_hints()
    refuse_unknown(row, set(hints) - {"name"}, where)
    for key, value in row.items():
        if not _fits(value, hints[key]):
            raise LayoutError.of(
                "value_of_wrong_kind", where=where, key=key, value=value, words=_words(hints[key])
            )
    _check_heights(row, where)
    condition = Condition(name, **row)
    _check_orthosis(condition, where)
    _check_markers(condition, where)
    return condition


def _check_markers(condition: Condition, where: str) -> None:
    told = condition.markers_put_on_again
    if told is None:
        return
    unknown = {word.strip().lower() for word in told.split(",")} - set(MARKER_GROUPS)
    if unknown:
        raise LayoutError.of(
            "unknown_marker_groups", where=where, told=told, marker_groups=", ".join(MARKER_GROUPS)
        )
    if condition.markers_replaced is False:
        raise LayoutError.of("markers_replaced_contradicts", where=where, told=told)


def _check_orthosis(condition: Condition, where: str) -> None:
    described = described_orthosis(condition)
    if condition.is_braced is False and described:
        raise LayoutError.of(
            "no_orthosis_yet_described",
            where=where,
            orthosis=condition.orthosis,
            described=", ".join(described),
        )
    if condition.orthosis_side not in (None, *_SIDES):
        raise LayoutError.of(
            "unknown_orthosis_side",
            where=where,
            orthosis_side=condition.orthosis_side,
            sides=", ".join(_SIDES),
        )
    low, high = STIFFNESS_RANGE_N_M_PER_DEG
    stiffness = condition.orthosis_stiffness_n_m_per_deg
    if stiffness is not None and not low <= stiffness <= high:
        raise LayoutError.of(
            "stiffness_not_of_orthosis", where=where, stiffness=stiffness, low=low, high=high
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


def _kinds(hint: Any) -> set[type]:
    return {one for one in typing.get_args(hint) if one is not types.NoneType}


def _fits(value: object, hint: Any) -> bool:
    kinds = _kinds(hint)
    if isinstance(value, bool):
        return bool in kinds
    return isinstance(value, tuple(kinds)) or (float in kinds and isinstance(value, int))


def _words(hint: Any) -> str:
    names = {str: "text in quotes", bool: "true or false", float: "a number", int: "a whole number"}
    return " or ".join(names[kind] for kind in _kinds(hint))


_UNITS: Final = (
    *(("n_m_per_deg", "N m/deg"), ("mm", "mm"), ("cm", "cm"), ("deg", "deg")),
    *(("kg", "kg"), ("g", "g"), ("years", "years")),
)


def field_words(name: str) -> str:
    """Return a field's name in words, its unit in brackets.

    Examples
    --------
    >>> field_words("heel_height_mm")
    'heel height (mm)'
    """
    for ending, unit in _UNITS:
        if name.endswith(f"_{ending}"):
            return f"{name.removesuffix(f'_{ending}').replace('_', ' ')} ({unit})"
    return name.replace("_", " ")


def describe_condition(condition: Condition) -> list[tuple[str, str]]:
    """List every field of a condition with its value in words.

    Returns
    -------
    list of (str, str)
        Field (``heel height (mm)``) and value, "not recorded" where absent.
    """
    return [
        (field_words(item.name), value_words(getattr(condition, item.name)))
        for item in fields(condition)
        if item.name != "name"
    ]


def value_words(value: object) -> str:
    """Return a recorded value in words, ``not recorded`` where there is none."""
    if value is None:
        return NOT_RECORDED
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else str(value)

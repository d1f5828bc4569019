"""What was worn and how the person walked: the description of a condition.

In comes a TOML file with one table per condition, out come frozen :class:`Condition` objects.
Every field may be missing; what is missing is shown as "not recorded".

    [conditions.brace]
    aid = "one stick"
    speed_instruction = "comfortable"
    markers_replaced = false
    [conditions.brace.orthosis]
    side = "left"
    device_class = "dorsal-leaf"
    days_worn = 30
    [conditions.brace.footwear]
    kind = "walking shoe"
    heel_height_mm = 25
    fore_sole_height_mm = 12
"""

from __future__ import annotations

import tomllib
import types
import typing
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any, Final

from gaittrack.errors import LayoutError

NOT_RECORDED: Final = "not recorded"
DIFFERENTIAL_TOLERANCE_MM: Final = 1.0
"""Heel height less fore-sole height may differ this much from a given differential; a ruler's
reading error, own choice."""
STIFFNESS_RANGE_N_M_PER_DEG: Final = (0.1, 10.0)
"""Beyond this an entry is refused as a slip of unit: carbon ankle-foot orthoses measure 0.58-3.66
N.m/deg (Shuman 2021); the margin is own choice."""
_BAREFOOT: Final = ("barefoot", "none", "no shoes")


@dataclass(frozen=True, slots=True)
class Orthosis:
    """One ankle-foot orthosis as worn; fields follow the reporting reviews' lists."""

    side: str | None = None
    joints_spanned: str | None = None
    device_class: str | None = None
    custom_made: bool | None = None
    material: str | None = None
    thickness_mm: float | None = None
    trim_lines: str | None = None
    reinforcement: str | None = None
    joint_type: str | None = None
    plantar_stop_deg: float | None = None
    dorsi_stop_deg: float | None = None
    assist: str | None = None
    ankle_angle_deg: float | None = None
    stiffness_n_m_per_deg: float | None = None
    stiffness_method: str | None = None
    stiffness_direction: str | None = None
    foot_plate_length: str | None = None
    foot_plate_stiffness: str | None = None
    mass_g: float | None = None
    straps_and_padding: str | None = None
    clinical_objective: str | None = None
    reason_for_design: str | None = None
    fitted_date: str | None = None
    tuned: bool | None = None
    wear_hours_per_day: float | None = None
    weeks_of_use: float | None = None
    days_worn: float | None = None
    maker_and_model: str | None = None


@dataclass(frozen=True, slots=True)
class Footwear:
    """What was on the feet; ``heel_sole_differential_mm`` is computed from the two heights."""

    kind: str | None = None
    size: str | None = None
    heel_height_mm: float | None = None
    fore_sole_height_mm: float | None = None
    heel_sole_differential_mm: float | None = None
    sole_stiffness: str | None = None
    rocker: str | None = None
    heel_modification: str | None = None
    insole: str | None = None
    foot_orthosis: str | None = None
    shank_to_vertical_deg: float | None = None
    shank_to_vertical_method: str | None = None
    same_shoes_in_all_conditions: bool | None = None
    other_side: str | None = None

    @property
    def is_barefoot(self) -> bool | None:
        """Whether no shoe was worn; None when not recorded."""
        return None if self.kind is None else self.kind.strip().lower() in _BAREFOOT


@dataclass(frozen=True, slots=True)
class Condition:
    """Everything that makes one condition; None where not recorded.

    Attributes
    ----------
    name : str
    orthosis, orthosis_other_side : Orthosis or None
        None: no orthosis is described.
    footwear : Footwear
    braced : bool or None
        Whether an orthosis was worn; taken as true when one is described.
    aid, hand_support, speed_instruction, surface : str or None
    order : int or None
        Place in the session, from 1.
    order_randomised : bool or None
    acclimatisation_min, rest_min, walkway_length_m : float or None
    practice : str or None
    markers_replaced : bool or None
        Whether markers were taken off and put on again, or moved to the brace, for this condition.
    marker_surface : str or None
        Skin, shoe, brace shell or strap.
    standing_trial : bool or None
        Whether this condition has its own standing trial.
    session : str or None
        Day or visit.
    """

    name: str
    orthosis: Orthosis | None = None
    orthosis_other_side: Orthosis | None = None
    footwear: Footwear = field(default_factory=Footwear)
    braced: bool | None = None
    aid: str | None = None
    hand_support: str | None = None
    speed_instruction: str | None = None
    surface: str | None = None
    order: int | None = None
    order_randomised: bool | None = None
    acclimatisation_min: float | None = None
    rest_min: float | None = None
    practice: str | None = None
    walkway_length_m: float | None = None
    markers_replaced: bool | None = None
    marker_surface: str | None = None
    standing_trial: bool | None = None
    session: str | None = None
    notes: str | None = None

    @property
    def is_braced(self) -> bool | None:
        """Whether an orthosis was worn; None when not recorded."""
        return True if self.orthosis or self.orthosis_other_side else self.braced


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
        Not readable, an unknown key, a value of the wrong kind, or heights that contradict.
    """
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise LayoutError(
            f"The conditions file cannot be read: {error}.",
            where=str(path),
            action="Give a TOML file with a table [conditions.NAME] for each condition.",
        ) from error
    return parse_conditions(table, where=path.name)


def parse_conditions(table: Mapping[str, Any], *, where: str) -> dict[str, Condition]:
    """Turn tables into conditions.

    Parameters
    ----------
    table : mapping
        ``{"conditions": {name: {...}}}``.
    where : str
        What to call the source in an error.

    Returns
    -------
    dict of str to Condition

    Raises
    ------
    LayoutError
        As :func:`read_conditions`.
    """
    _refuse_unknown(table, {"conditions"}, where)
    found = _table(table.get("conditions", {}), f"{where} [conditions]")
    return {
        name: _condition(name, _table(row, f"{where} [conditions.{name}]"), where)
        for name, row in found.items()
    }


def _condition(name: str, row: dict[str, Any], source: str) -> Condition:
    where = f"{source} [conditions.{name}]"
    parts: dict[str, Any] = {}
    for key, kind in (
        ("orthosis", Orthosis),
        ("orthosis_other_side", Orthosis),
        ("footwear", Footwear),
    ):
        if key in row:
            parts[key] = _typed(kind, _table(row.pop(key), f"{where} {key}"), f"{where} {key}")
    if "footwear" in parts:
        parts["footwear"] = _with_differential(parts["footwear"], f"{where} footwear")
    condition: Condition = _typed(Condition, row, where, name=name, **parts)
    for orthosis in (condition.orthosis, condition.orthosis_other_side):
        _check_orthosis(orthosis, f"{where} orthosis")
    if condition.braced is False and condition.orthosis:
        raise LayoutError(
            "braced is false, yet an orthosis is described.", where=where, action="Keep one."
        )
    return condition


def _check_orthosis(orthosis: Orthosis | None, where: str) -> None:
    if orthosis is None:
        return
    if orthosis.side not in (None, "left", "right", "both"):
        raise LayoutError(
            f"side is {orthosis.side!r}.", where=where, action="Use left, right or both."
        )
    low, high = STIFFNESS_RANGE_N_M_PER_DEG
    stiffness = orthosis.stiffness_n_m_per_deg
    if stiffness is not None and not low <= stiffness <= high:
        raise LayoutError(
            f"A stiffness of {stiffness:g} N.m/deg is not that of an ankle-foot orthosis "
            f"({low:g}-{high:g}).",
            where=where,
            action="Give it in newton metres per degree.",
        )


def _with_differential(shoe: Footwear, where: str) -> Footwear:
    heights = (shoe.heel_height_mm, shoe.fore_sole_height_mm)
    if heights[0] is None or heights[1] is None:
        return shoe
    computed = heights[0] - heights[1]
    given = shoe.heel_sole_differential_mm
    if given is not None and abs(given - computed) > DIFFERENTIAL_TOLERANCE_MM:
        raise LayoutError(
            f"heel_sole_differential_mm is {given:g}, but heel {heights[0]:g} less fore-sole "
            f"{heights[1]:g} is {computed:g}.",
            where=where,
            action="Correct one of the three, or leave the differential out.",
        )
    values = {item.name: getattr(shoe, item.name) for item in fields(shoe)}
    return Footwear(**values | {"heel_sole_differential_mm": computed})


def _table(value: object, where: str) -> dict[str, Any]:
    if not isinstance(value, Mapping):
        raise LayoutError("A table was expected.", where=where, action="Write it as [name].")
    return dict(value)


def _refuse_unknown(row: Mapping[str, Any], allowed: set[str], where: str) -> None:
    unknown = sorted(set(row) - allowed)
    if unknown:
        raise LayoutError(
            f"Unknown: {', '.join(unknown)}.",
            where=where,
            action=f"Allowed are: {', '.join(sorted(allowed))}.",
        )


def _typed(kind: type[Any], row: dict[str, Any], where: str, **given: Any) -> Any:
    hints = typing.get_type_hints(kind)
    _refuse_unknown(row, set(hints) - {"name"}, where)
    for key, value in row.items():
        if not _fits(value, hints[key]):
            raise LayoutError(
                f"{key} is {value!r}.", where=where, action=f"Give {_words(hints[key])}."
            )
    return kind(**row, **given)


def _kinds(hint: Any) -> set[type]:
    return {one for one in typing.get_args(hint) if one is not types.NoneType}


def _fits(value: object, hint: Any) -> bool:
    kinds = _kinds(hint)
    if isinstance(value, bool):
        return bool in kinds
    return isinstance(value, tuple(kinds)) or (float in kinds and isinstance(value, int))


def _words(hint: Any) -> str:
    names = {str: "text in quotes", bool: "true or false", float: "a number", int: "a whole number"}
    return " or ".join(names.get(kind, "a table") for kind in _kinds(hint))


def describe_condition(condition: Condition) -> list[tuple[str, str]]:
    """List every field of a condition with its value in words.

    Parameters
    ----------
    condition : Condition

    Returns
    -------
    list of (str, str)
        Field (``footwear: heel height mm``) and value, "not recorded" where absent.
    """
    rows: list[tuple[str, str]] = []
    for item in fields(condition):
        value = getattr(condition, item.name)
        if isinstance(value, Orthosis | Footwear):
            rows += [
                (f"{_label(item.name)}: {_label(part.name)}", _said(getattr(value, part.name)))
                for part in fields(value)
            ]
        elif item.name != "name":
            rows.append((_label(item.name), _said(value)))
    return rows


def _label(name: str) -> str:
    return name.replace("_", " ")


def _said(value: object) -> str:
    if value is None:
        return NOT_RECORDED
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else str(value)

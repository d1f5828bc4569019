"""Whatever else is in doubt about a sheet, so that a person is asked once.

In come the columns of a sheet that is to be asked about, out come the same columns with everything
marked that a person would be asked next: unit, sign and neutral, and which of several columns of
one angle is which.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from gaittrack.read.sheets.angle_plausibility import Settled, Trace, settle_angles, unit_doubt
from gaittrack.read.sheets.sheet_question import ASKED, SeenColumn
from gaittrack.vocabulary import JOINTS, SIDES, Joint, Side

FEW = 2
"""So many columns of one joint without a side may be left and right; more are cycles as well."""


def all_doubts(
    seen: Sequence[SeenColumn], *, layout: object, unit: str | None, header_unit: str
) -> tuple[list[SeenColumn], list[str], bool]:
    """Mark what a person must say.

    Parameters
    ----------
    layout : str
        As in a map; "?" where it is asked for.
    unit : str or None
        As a map tells it.
    header_unit : str
        As a line above the columns tells it.

    Returns
    -------
    columns : list of SeenColumn
        Those of ``seen``, marked.
    doubts : list of str
        In words; some may have been said already.
    is_unit_asked : bool
        The map's ``unit`` is among what a person must say.
    """
    wanted = [column for column in seen if column.is_wanted]
    said = [] if unit else _unit_doubts(wanted, header_unit)
    units = ("deg", "rad") if said else (unit,)
    marked = list(seen)
    if layout in ("?", "time_series", "cycles"):
        cases = [(over, each) for over in _over_cycle(layout) for each in units]
        settled = [_settled(wanted, over, each, header_unit) for over, each in cases]
        said += [doubt for found, _ in settled for doubt in found.doubts[found.unit_in_doubt :]]
        marked = [_with_signs(column, settled) for column in seen]
    return _told_apart(marked, layout), list(dict.fromkeys(said)), units == ("deg", "rad")


def _over_cycle(layout: object) -> tuple[bool, ...]:
    return (False, True) if layout == "?" else (layout == "cycles",)


def _unit_doubts(wanted: Sequence[SeenColumn], header_unit: str) -> list[str]:
    """Return the doubt about the unit, of all columns and, where some may go, of each alone."""
    traces = [_trace(column) for column in wanted]
    groups = [traces] if traces else []
    if any(not column.joint for column in wanted):
        groups += [[trace] for trace in traces]
    doubts = (unit_doubt(group, header_unit) for group in groups)
    return list(filter(None, doubts))[:1]


def _trace(column: SeenColumn) -> Trace:
    joint = _joint(column) or "ankle"
    side: Side | None = next((side for side in SIDES if side == column.side), None)
    sign = 1.0 if column.sign is None else column.sign
    zero = column.zero_deg or 0.0
    return Trace(
        column.name, side, joint, column.values, sign=sign, zero_deg=zero, unit=column.unit
    )


def _joint(column: SeenColumn) -> Joint | None:
    return next((joint for joint in JOINTS if joint == column.joint), None)


def _settled(
    wanted: Iterable[SeenColumn], over_cycle: bool, unit: str | None, header_unit: str
) -> tuple[Settled, dict[str, Trace]]:
    traces = {column.name: _trace(column) for column in wanted if _joint(column)}
    settled = settle_angles(
        list(traces.values()), told_unit=unit, header_unit=header_unit, over_cycle=over_cycle
    )
    return settled, traces


def _with_signs(
    column: SeenColumn, settled: Sequence[tuple[Settled, dict[str, Trace]]]
) -> SeenColumn:
    """Ask for sign and neutral where they are in doubt, else fill in what was found."""
    if any(column.name in found.doubtful for found, _ in settled):
        return replace(column, sign=None, zero_deg=None)
    told = {
        (traces[column.name].sign, traces[column.name].zero_deg)
        for _, traces in settled
        if column.name in traces
    }
    if len(told) == 1 and column.sign is not None:
        sign, zero = told.pop()
        return replace(column, sign=sign, zero_deg=zero)
    return replace(column, sign=None, zero_deg=None) if len(told) > 1 else column


def _told_apart(seen: Sequence[SeenColumn], layout: object) -> list[SeenColumn]:
    """Ask what columns of the same angle are."""
    groups: dict[tuple[str, ...], list[SeenColumn]] = {}
    for column in seen:
        if column.is_wanted and column.joint:
            own = () if layout == "time_series" else (column.condition, str(column.is_mean))
            groups.setdefault((column.joint, column.side, *own), []).append(column)
    changed: dict[str, SeenColumn] = {}
    for (_, side, *_), group in groups.items():
        if len(group) == 1 or (not side and len(group) <= FEW) or _are_numbered(group, layout):
            continue
        for column in group:
            changed[column.name] = _asked(column, layout)
    return [changed.get(column.name, column) for column in seen]


def _are_numbered(group: Sequence[SeenColumn], layout: object) -> bool:
    names = [column.cycle for column in group]
    return layout != "time_series" and "" not in names and len(set(names)) == len(names)


def _asked(column: SeenColumn, layout: object) -> SeenColumn:
    if layout == "time_series":
        return replace(column, joint="")
    joint = "" if layout == "?" else column.joint
    return replace(column, joint=joint, cycle=ASKED, condition=column.condition or ASKED)

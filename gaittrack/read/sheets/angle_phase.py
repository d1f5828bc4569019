"""Whether the angles of a sheet move when they should between the contacts that the sheet marks.

In come angles in degrees and our signs with the marked cycles of each side, or curves over the
cycle, out come problems: angles that fit the other side's steps, angles that fit none, and a sheet
in which most fit none.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import pairwise
from typing import Final

import numpy as np

from gaittrack.errors import Problem, Spoiled
from gaittrack.ingredients import EVERYTHING, file_angle_of
from gaittrack.reasons import Reason
from gaittrack.trial import AngleCurve, Event, FloatArray
from gaittrack.vocabulary import EVENT_KINDS, SIDES, Joint, Side

SheetCycle = tuple[int, int, int]
"""Rows of a contact, the toe-off and the next contact."""
CLEAR_DEG: Final = 10.0
"""Difference of two parts of the cycle that tells when an angle moves; own choice, half of what
knee and hip show in free walking."""
LARGEST_ANKLE_DROP_DEG: Final = 15.0
"""How much further an ankle may be bent up at contact than in late stance; own choice: the shank
leans over the foot between the two."""

LEAST_STANCE_SHARE: Final = 0.5
"""Below, mean of both sides, there are times when no foot is on the floor: no walk."""

KNEE_PEAK_IN_SWING: Final = (0.1, 0.7)
"""Where in swing a knee that bends is bent most: 0.23 to 0.42 in recordings at hand and in made-up
walks, later in stiff knees; earlier or later on both sides, and the marks are off by a tenth of the
cycle or more. Own choice."""

USUAL_TOE_OFF: Final = 62
"""Per cent of the cycle, for curves of a sheet that does not tell it."""

PHASE_CODES: Final = frozenset(
    {"angle_of_other_side", "angles_out_of_step", "marks_beside_steps", "marks_of_no_walk"}
)
"""Codes of what is said here."""

Part = Callable[[float, float], FloatArray]
"""Gives the samples between two shares of stance (0 to 1) or, beyond 1, of swing (1 to 2)."""


def _knee(part: Part) -> float:
    """Return how much further the knee bends around swing than in stance before."""
    return float(np.max(part(0.9, 1.8)) - np.max(part(0.0, 0.6)))


def _hip(part: Part) -> float:
    """Return how much further the hip is bent at contact than in late stance."""
    return float(np.mean(part(0.0, 0.1)) - np.mean(part(0.6, 0.9)))


def _ankle(part: Part) -> float:
    """Return how far the ankle is from being bent up more at contact than an ankle can."""
    return LARGEST_ANKLE_DROP_DEG + float(np.mean(part(0.6, 0.9)) - np.mean(part(0.0, 0.1)))


def _push_off(part: Part) -> float:
    """Return how far the ankle falls from late stance to toe-off."""
    return float(np.mean(part(0.55, 0.85)) - np.mean(part(0.95, 1.1)))


_SHOWN_BY: Final[Mapping[Joint, Callable[[Part], float]]] = {
    "ankle": _ankle,
    "knee": _knee,
    "hip_pelvis_thigh": _hip,
    "hip_thigh_vertical": _hip,
}
_TELLS_SIDES: Final = {**_SHOWN_BY, "ankle": _push_off}


def marked_cycles(events: Sequence[Event], rate_hz: float) -> dict[Side | None, list[SheetCycle]]:
    """Return contact, toe-off and next contact of each cycle that a sheet marks, in rows."""
    cycles: dict[Side | None, list[SheetCycle]] = {}
    for side in SIDES:
        rows = {
            kind: [
                round(each.time_s * rate_hz)
                for each in events
                if (each.side, each.kind) == (side, kind)
            ]
            for kind in EVENT_KINDS
        }
        for start, end in pairwise(rows["initial_contact"]):
            offs = [row for row in rows["toe_off"] if start < row < end]
            if len(offs) == 1:
                cycles.setdefault(side, []).append((start, offs[0], end))
    return cycles


def phase_problems(
    angles: Mapping[tuple[Side, Joint], FloatArray],
    cycles: Mapping[Side | None, Sequence[SheetCycle]],
) -> list[Problem]:
    """Return what is to be said of angles that move when they should not.

    Parameters
    ----------
    angles : mapping of (side, joint) to ndarray, shape (n_rows,)
        Degrees; flexion and dorsiflexion positive.
    cycles : mapping of side to list of SheetCycle
        Those that the sheet marks; without both sides nothing is said.
    """
    if not all(cycles.get(side) for side in SIDES):
        return []
    if (share := _stance_share(cycles)) < LEAST_STANCE_SHARE:
        return [_spoils_all(Reason("marks_of_no_walk", percent=round(100 * share)))]
    knees = {side: angles[side, "knee"] for side in SIDES if (side, "knee") in angles}
    if _knees_peak_elsewhere(knees, cycles):
        return [_spoils_all(Reason("marks_beside_steps"))]
    exchanged, odd = [], []
    for joint in dict.fromkeys(joint for _, joint in angles if joint in _SHOWN_BY):
        traces = {side: angles[side, joint] for side in SIDES if (side, joint) in angles}
        if len(traces) < 2:
            continue
        if _fit_other_side(traces, joint, cycles):
            exchanged.append(joint)
        elif _fit_no_side(traces, joint, cycles):
            odd.append(joint)
    return list(_problems(exchanged, odd))


def curve_phase_problems(curves: Sequence[AngleCurve]) -> list[Problem]:
    """Return what is to be said of curves that move when they should not in their cycle.

    Each begins with a contact of its own leg, so that exchanged sides leave no trace.
    """
    for condition in dict.fromkeys(curve.condition for curve in curves):
        own = [curve for curve in curves if curve.condition == condition]
        laid = {key: _laid(own, *key) for key in dict.fromkeys((c.side, c.joint) for c in own)}
        if found := _problems_of_laid(laid, is_off_told=not np.isnan(own[0].toe_off_percent)):
            return found
    return []


_Laid = tuple[FloatArray, list[SheetCycle]]


def _laid(curves: Sequence[AngleCurve], side: Side, joint: Joint) -> _Laid:
    """Lay the curves of an angle one after another: their values, and rows of their cycles."""
    own = [curve for curve in curves if (curve.side, curve.joint) == (side, joint)]
    percent = np.arange(101)
    values = [np.interp(percent, np.linspace(0, 100, len(c.values_deg)), c.values_deg) for c in own]
    offs = [USUAL_TOE_OFF if np.isnan(c.toe_off_percent) else c.toe_off_percent for c in own]
    starts = [101 * place for place in range(len(own))]
    cycles = [(at, at + round(off), at + 100) for at, off in zip(starts, offs, strict=True)]
    return np.concatenate(values), cycles


def _problems_of_laid(
    laid: Mapping[tuple[Side, Joint], _Laid], *, is_off_told: bool
) -> list[Problem]:
    odd = []
    for joint in dict.fromkeys(joint for _, joint in laid if joint in _SHOWN_BY):
        traces = {side: laid[side, joint][0] for side in SIDES if (side, joint) in laid}
        cycles: dict[Side | None, Sequence[SheetCycle]] = {s: laid[s, joint][1] for s in traces}
        both = len(traces) == len(SIDES)
        if both and (share := _stance_share(cycles)) < LEAST_STANCE_SHARE:
            return [_spoils_all(Reason("marks_of_no_walk", percent=round(100 * share)))]
        if _fit_no_side(traces, joint, cycles):
            odd.append(joint)
        elif joint == "knee" and is_off_told and _knees_peak_elsewhere(traces, cycles):
            return [_spoils_all(Reason("marks_beside_steps"))]
    return list(_problems((), odd or _named_crosswise(laid)))


def _named_crosswise(laid: Mapping[tuple[Side, Joint], _Laid]) -> list[Joint]:
    """Return knee and hip where each moves as the other does."""
    for hip in ("hip_pelvis_thigh", "hip_thigh_vertical"):
        found: list[float] = []
        for side in SIDES:
            if (side, "knee") in laid and (side, hip) in laid:
                (knee, of_knee), (other, of_hip) = laid[side, "knee"], laid[side, hip]
                found += (
                    _shown(other, of_hip, _knee) - _shown(knee, of_knee, _knee),
                    _shown(knee, of_knee, _hip) - _shown(other, of_hip, _hip),
                )
        if found and min(found) > CLEAR_DEG:
            return ["knee", hip]
    return []


def _spoils_all(reason: Reason) -> Problem:
    return Problem("error", reason, "sheet", (Spoiled(EVERYTHING),))


def _stance_share(cycles: Mapping[Side | None, Sequence[SheetCycle]]) -> float:
    """Return the share of the cycle from contact to toe-off, mean of both sides."""
    shares = [
        np.median([(off - start) / (end - start) for start, off, end in cycles[side]])
        for side in SIDES
    ]
    return float(np.mean(shares))


def _knees_peak_elsewhere(
    knees: Mapping[Side, FloatArray],
    cycles: Mapping[Side | None, Sequence[SheetCycle]],
) -> bool:
    """Whether both knees are bent most near swing, but not in the part of it where knees are."""
    first, last = KNEE_PEAK_IN_SWING
    places = [
        float(np.median([_knee_peak(values, cycle) for cycle in cycles[side]]))
        for side, values in knees.items()
    ]
    return len(places) == len(SIDES) and (max(places) < first or min(places) > last)


def _knee_peak(values: FloatArray, cycle: SheetCycle) -> float:
    """Return where in swing the knee is bent most around it; NaN where it hardly is, or unseen."""
    start, off, end = cycle
    half = start + (off - start) // 2
    rows = values[half : end + 1]
    if not start < off < end or np.isnan(rows).any() or len(rows) < end - half + 1:
        return float("nan")
    is_bent = float(rows.max() - rows[0]) > CLEAR_DEG
    return float((half + int(rows.argmax()) - off) / (end - off)) if is_bent else float("nan")


def _fit_other_side(
    traces: Mapping[Side, FloatArray],
    joint: Joint,
    cycles: Mapping[Side | None, Sequence[SheetCycle]],
) -> bool:
    show = _TELLS_SIDES[joint]
    own = [_shown(traces[side], cycles[side], show) for side in SIDES]
    crossed = [_shown(traces[side], cycles[other], show) for side, other in _CROSSED]
    better = [theirs - ours for theirs, ours in zip(crossed, own, strict=True)]
    return min(better) > CLEAR_DEG > max(own)


_CROSSED: Final[tuple[tuple[Side, Side], ...]] = (("left", "right"), ("right", "left"))


def _fit_no_side(
    traces: Mapping[Side, FloatArray],
    joint: Joint,
    cycles: Mapping[Side | None, Sequence[SheetCycle]],
) -> bool:
    least = 0.0 if joint == "ankle" else -CLEAR_DEG
    return max(_shown(traces[side], cycles[side], _SHOWN_BY[joint]) for side in traces) < least


def _shown(
    values: FloatArray, cycles: Sequence[SheetCycle], show: Callable[[Part], float]
) -> float:
    """Return the median over cycles; NaN where none is whole."""
    found = []
    for start, off, end in cycles:
        rows = values[start : end + 1]
        if not start < off < end or len(rows) < end - start + 1 or np.isnan(rows).any():
            continue

        def part(first: float, last: float, at: SheetCycle = (start, off, end)) -> FloatArray:
            return values[_row(first, at) : _row(last, at) + 1]

        found.append(show(part))
    return float(np.median(found)) if found else float("nan")


def _row(share: float, cycle: SheetCycle) -> int:
    start, off, end = cycle
    if share <= 1:
        return start + round(share * (off - start))
    return off + round((share - 1) * (end - off))


def _problems(exchanged: Sequence[Joint], odd: Sequence[Joint]) -> Iterator[Problem]:
    # What is in the column of an angle that is out of step may be missing in any other.
    if odd or len(exchanged) > 1:
        told = tuple(dict.fromkeys((*exchanged, *odd)))
        yield _spoils_all(Reason("angles_out_of_step", angles=told))
        return
    for joint in exchanged:
        spoils = Spoiled(*(file_angle_of(side, joint) for side in SIDES))
        yield Problem("error", Reason("angle_of_other_side", angle=joint), joint, (spoils,))

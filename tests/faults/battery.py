"""What a fault does to the headline values, and whether it is said."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Literal

from gaittrack.compare.measurement_error.marker_errors import Handling, find_error
from gaittrack.measured_walk import MeasuredWalk
from gaittrack.measures import MEASURES, Row, walk_values
from gaittrack.measures.recording import SMOOTHED_BEFORE
from gaittrack.measures.toe_clearance import SLOPE_NOT_SEEN
from gaittrack.measures.told_labels import DOUBTED
from tests.faults.faults import Fault, Refused
from tests.faults.good_recordings import Good, measured

HEADLINES = tuple(measure for measure in MEASURES if measure.group == "headline")
OTHERS = ("walking_speed_m_s", "cadence_steps_min", "loading_knee_flexion_peak_deg")
CADENCE_ERROR = 5.0
SAME_STRIDE_S = 0.1
DOUBTS = frozenset({SLOPE_NOT_SEEN, DOUBTED, SMOOTHED_BEFORE})
Outcome = Literal[
    "same",
    "not trusted",
    "not defined",
    "other points",
    "told",
    "not knowable",
    "SILENT",
    "refused",
]


@dataclass(frozen=True)
class Case:
    """One value of one recording with one fault."""

    recording: str
    fault: Fault
    measure: str
    side: str
    before: float
    after: float
    outcome: Outcome
    says: str = ""


def run(good: Good, planted: Iterable[Fault]) -> Iterator[Case]:
    """Give what each fault does to each headline value of a recording."""
    clean = measured(good.trial, good.standing)
    assert isinstance(clean, MeasuredWalk), clean
    whole, made_of = headline_values(clean.rows), origins(clean)
    known = {problem.reason.code for problem in clean.problems}
    for fault in planted:
        try:
            trial = fault.change(good)
        except Refused:
            result: object = None
        else:
            if trial is None:
                continue
            result = measured(trial, fault.standing_of(good.standing))
        before, after = whole, {}
        if isinstance(result, MeasuredWalk):
            after = headline_values(result.rows)
            if fault.begins is not None:
                before = headline_values(_rows_left(clean, result, fault.begins))
        new = _told(result, known)
        others = origins(result) if isinstance(result, MeasuredWalk) else {}
        why = reasons(result) if isinstance(result, MeasuredWalk) else {}
        unsure = newly_unsure(clean, result) if isinstance(result, MeasuredWalk) else set()
        for (measure, side), value in before.items():
            found = after.get((measure, side), math.nan)
            key = measure, side
            outcome: Outcome = _outcome(measure, value, found, new)
            if outcome == "not defined" and why.get(key) == "not_trusted":
                outcome = "not trusted"
            if outcome in ("told", "SILENT") and made_of[key] != others[key]:
                outcome = "other points"
            if outcome == "SILENT" and key in unsure:
                outcome = "told"
            if outcome == "SILENT" and fault.unknowable:
                outcome = "not knowable"
            yield Case(good.name, fault, measure, side, value, found, outcome, ", ".join(new))


def _told(result: object, known: set[str]) -> list[str]:
    if not isinstance(result, MeasuredWalk):
        return ["refused"]
    return sorted(
        {p.reason.code for p in result.problems if p.level != "info" and p.reason.code not in known}
    )


def _outcome(measure: str, before: float, after: float, new: list[str]) -> Outcome:
    if math.isnan(after):
        return "refused" if new == ["refused"] else "not defined"
    if abs(after - before) <= error_of(measure, before, after):
        return "same"
    return "told" if new else "SILENT"


def error_of(measure: str, before: float, after: float) -> float:
    """Return how far two values of one walk may lie apart: the measure's own error."""
    if measure == "cadence_steps_min":
        return CADENCE_ERROR
    untouched = Handling("same day, same tester", frozenset())
    return find_error(measure, untouched, (before, after)).error


def origins(walk: MeasuredWalk) -> dict[tuple[str, str], frozenset[object]]:
    """Return what each walk value is made of, by measure and side."""
    found: dict[tuple[str, str], frozenset[object]] = {}
    for row in walk.rows:
        if row.reason is None:
            key = row.measure, row.side
            found[key] = found.get(key, frozenset()) | frozenset(row.origins)
    return found


def reasons(walk: MeasuredWalk) -> dict[tuple[str, str], str]:
    """Return the code of why a value is missing, by measure and side."""
    return {(row.measure, row.side): row.reason.code for row in walk.rows if row.reason is not None}


def newly_unsure(clean: MeasuredWalk, wrong: MeasuredWalk) -> set[tuple[str, str]]:
    """Return the values beside which a doubt stands that did not stand there before."""
    found = [
        {(r.measure, r.side) for r in walk.rows if not DOUBTS.isdisjoint(c.code for c in r.labels)}
        for walk in (clean, wrong)
    ]
    return found[1] - found[0]


def _rows_left(whole: MeasuredWalk, rest: MeasuredWalk, begins: float) -> list[Row]:
    """Return the rows of the strides of a walk that are in what is left of it; all, if none is."""
    first_s = int(begins * whole.trial.n_frames) / whole.trial.rate_hz
    left = [(cycle.side, cycle.start_s + first_s) for cycle in rest.cycles if cycle.is_kept]
    own = {
        cycle.id
        for cycle in whole.cycles
        for side, start_s in left
        if cycle.side == side and abs(cycle.start_s - start_s) < SAME_STRIDE_S
    }
    sides = {side for side, _ in left}
    return [row for row in whole.rows if row.cycle in own or row.side not in sides]


def headline_values(rows: Iterable[Row]) -> dict[tuple[str, str], float]:
    """Return the headline values that are numbers, by measure and side."""
    names = {*(measure.name for measure in HEADLINES), *OTHERS}
    table = walk_values(row for row in rows if row.measure in names)
    return {
        (row.measure, row.side): float(row.value)
        for row in table.itertuples()
        if not math.isnan(row.value)
    }

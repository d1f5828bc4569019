"""What is measured on each gait cycle.

In come a motion and its cycles, out come rows: one per measure and kept cycle, each a number or
"not defined" with its reason. Cycles that are alike are measured together. ``MEASURES`` is the
whole list, in the order it is printed and stands in ``definitions.toml``; the module of its subject
says how each is computed. ``walk_values`` turns the rows of one walk into its values.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterable, Sequence
from importlib.resources import files
from itertools import chain, repeat
from typing import Any, Final, NamedTuple

import numpy as np

from gaittrack.cycles import Cycle
from gaittrack.kinematics.motion import Motion
from gaittrack.late import pandas as pd
from gaittrack.measures import (
    ankle_freedom,
    compensations,
    knee_in_stance,
    loading_response_plantarflexion,
    peaks,
    swing_dorsiflexion,
    toe_clearance,
    walking,
)
from gaittrack.measures.averages import AVERAGES
from gaittrack.measures.cycles_view import CyclesView, alike
from gaittrack.measures.measure import Measure, compute_values, why_impossible
from gaittrack.measures.recording import NOT_TRUSTED, Origin, PreparedMotion
from gaittrack.measures.told_labels import gathered
from gaittrack.quick_numpy import median_of
from gaittrack.reasons import Reason
from gaittrack.vocabulary import Joint, Side

_RATE_UNIT: Final = "deg/s"
_MODULES: Final = (
    *(ankle_freedom, compensations, knee_in_stance, loading_response_plantarflexion, peaks),
    *(swing_dorsiflexion, toe_clearance, walking),
)


def _defined() -> tuple[Measure, ...]:
    """Return the measures of ``definitions.toml``, each with the function that computes it."""
    text = (files("gaittrack.measures") / "definitions.toml").read_text(encoding="utf-8")
    compute = {name: function for each in _MODULES for name, function in each.FUNCTIONS.items()}
    table = tomllib.loads(text)
    words = table.pop("words")
    for facts in table.values():
        facts |= {key: facts[key].format(**words) for key in _WITH_GAPS if key in facts}
        facts |= {"possible": tuple(facts["possible"])} if "possible" in facts else {}
    return tuple(Measure(name, compute=compute[name], **facts) for name, facts in table.items())


_WITH_GAPS: Final = ("definition", "source")
MEASURES: Final = _defined()
"""Every measure, headline four first."""


class Row(NamedTuple):
    """One measure of one cycle.

    Attributes
    ----------
    measure : str
        Name of the measure; it ends in the unit.
    cycle : str
        Id of the cycle.
    value : float
        NaN when not defined.
    unit : str
        UCUM code.
    reason : Reason or None
        Why it is not defined; None for a number.
    labels : tuple of Reason
        What a reader of the number must know.
    made_of : frozenset of str
        Names of all that was read for it; see ``ingredients``.
    origins : frozenset of Origin
        What it is made of that could have been made otherwise: the landmarks of its points, file
        or markers, the source of a foot's zero.
    """

    measure: str
    side: Side
    cycle: str
    value: float
    unit: str
    reason: Reason | None
    labels: tuple[Reason, ...]
    made_of: frozenset[str] = frozenset()
    origins: frozenset[Origin] = frozenset()


@np.errstate(divide="ignore", invalid="ignore")
def measure_cycles(
    motion: Motion, cycles: Iterable[Cycle], *, measures: Sequence[Measure] = MEASURES
) -> list[Row]:
    """Measure every kept cycle.

    Parameters
    ----------
    cycles : iterable of Cycle
        Rejected cycles give no rows; their reasons stand in the cycles.

    Returns
    -------
    list of Row
        Cycle by cycle, measures in the order given.
    """
    recording = PreparedMotion(motion)
    kept = [cycle for cycle in cycles if cycle.is_kept]
    of_cycle: list[tuple[Row, ...]] = [()] * len(kept)
    for places in alike(recording, kept):
        view = CyclesView(recording, [kept[place] for place in places])
        columns = [_rows_of(measure, view) for measure in measures]
        for place, rows in zip(places, zip(*columns, strict=True), strict=False):
            of_cycle[place] = rows
    return _without_trembling(list(chain.from_iterable(of_cycle)), recording)


def _rows_of(measure: Measure, view: CyclesView) -> list[Row]:
    """Return the rows of a measure, one of each cycle."""
    view.start_reading()
    values, labels = compute_values(measure, view)
    names, origins = zip(*view.what_was_read(), strict=True)
    name, unit = repeat(measure.name), repeat(measure.unit)
    about = name, view.sides, view.ids, values, unit, view.reasons(), labels, names, origins
    rows = list(map(Row._make, zip(*about, strict=False)))
    low, high = measure.possible
    for place in [place for place, value in enumerate(values) if value < low or value > high]:
        rows[place] = _not_trusted(rows[place], why_impossible(measure, values[place]))
    return rows


def _without_trembling(rows: list[Row], recording: PreparedMotion) -> list[Row]:
    """Take away the rates of a side that noise makes, of all strides or of none.

    Stride by stride, those would be left that noise made fastest.
    """
    rates: dict[tuple[str, Side], list[Row]] = {}
    for row in rows:
        if row.unit == _RATE_UNIT and row.reason is None:
            rates.setdefault((row.measure, row.side), []).append(row)
    spoiled = {
        key: why
        for key, own in rates.items()
        if (why := recording.why_noise(own[0].made_of, median_of(np.array([r.value for r in own]))))
    }
    if not spoiled:
        return rows
    return [
        _not_trusted(row, spoiled[row.measure, row.side])
        if row.reason is None and (row.measure, row.side) in spoiled
        else row
        for row in rows
    ]


def _not_trusted(row: Row, why: Reason) -> Row:
    reason = Reason(NOT_TRUSTED, why=why)
    return row._replace(value=math.nan, reason=reason, labels=(), origins=frozenset())


def angle_origins(motion: Motion) -> dict[tuple[Joint, Side], frozenset[Origin]]:
    """Return what each angle of a recording is made of."""
    recording = PreparedMotion(motion)
    return {(joint, side): recording.angle_origins(side, joint) for side, joint in motion.angles}


def walk_values(rows: Iterable[Row], *, measures: Sequence[Measure] = MEASURES) -> pd.DataFrame:
    """Summarise the strides of one walk.

    Parameters
    ----------
    rows : iterable of Row
        Of one walk only.
    measures : sequence of Measure
        Those the rows were made with; each says whether its walk value is mean or median.

    Returns
    -------
    DataFrame
        One row per measure and side: ``measure, side, unit, value`` (NaN when no stride is
        defined), ``n_defined, n_not_defined, n_not_trusted``, ``reasons`` (dict of Reason to
        number of strides) and ``labels`` (tuple of all that occurred).
    """
    return pd.DataFrame(walk_records_of(rows, measures=measures), columns=_WALK_COLUMNS)


def walk_records_of(
    rows: Iterable[Row], *, measures: Sequence[Measure] = MEASURES
) -> list[dict[str, Any]]:
    """Return the rows of :func:`walk_values` without a table, for who stores them."""
    summary = {measure.name: measure.walk_value for measure in measures}
    groups: dict[tuple[str, Side], list[Row]] = {}
    for row in rows:
        groups.setdefault((row.measure, row.side), []).append(row)
    found = (_walk_row(group, summary[name]) for (name, _), group in groups.items())
    return [dict(zip(_WALK_COLUMNS, row, strict=True)) for row in found]


_WALK_COLUMNS = [
    "measure",
    "side",
    "unit",
    "value",
    "n_defined",
    "n_not_defined",
    "n_not_trusted",
    "reasons",
    "labels",
]


def _walk_row(rows: list[Row], summary: str) -> tuple[object, ...]:
    values = [row.value for row in rows if row.reason is None]
    value = AVERAGES[summary](np.array(values)) if values else math.nan
    reasons: dict[Reason, int] = {}
    if len(values) < len(rows):
        for row in rows:
            if row.reason is not None:
                reasons[row.reason] = reasons.get(row.reason, 0) + 1
    labels = gathered(chain.from_iterable([row.labels for row in rows]))
    first = rows[0]
    n_not_trusted = sum([n for reason, n in reasons.items() if reason.code == NOT_TRUSTED])
    counts = (len(values), len(rows) - len(values) - n_not_trusted, n_not_trusted)
    return (first.measure, first.side, first.unit, value, *counts, reasons, tuple(labels))

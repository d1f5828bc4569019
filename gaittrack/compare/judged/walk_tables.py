"""Walks and changes as tables of pandas: one row per walk, per stride, per change.

In come walks or the rows of a comparison, out come long tables: one quantity per row, its unit
beside it, NaN with a reason where it is not defined.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import fields
from math import nan
from typing import Final

from gaittrack.compare.judged.rows import ComparisonRow, MatchedResult, verdict_of
from gaittrack.compare.walked.walks import (
    MEASURE_BY_NAME,
    Strides,
    WalkRecord,
    refuse_unknown_measures,
    sample_of,
)
from gaittrack.late import pandas as pd
from gaittrack.table_cells import cell
from gaittrack.vocabulary import Side

_WALK: Final = ("condition", "visit", "file", "part", "side")
VALUE_COLUMNS: Final = (
    *(*_WALK, "measure", "value", "unit", "n_defined", "n_not_defined", "n_not_trusted"),
    *("reason", "labels", "sha256"),
)
"""Columns of :func:`values_table`."""
STRIDE_COLUMNS: Final = (
    *(*_WALK, "cycle", "contact", "speed_m_s", "measure", "value", "unit", "reason", "labels"),
    "sha256",
)
"""Columns of :func:`strides_table`."""
_FIRST: Final = (
    *("measure", "side", "unit", "condition", "reference", "reference_value", "value"),
    *("difference", "low", "high", "walks_low", "walks_high", "measurement_error", "verdict"),
)
"""What a notebook shows of a wide table stands first."""
_FIELDS: Final = tuple(each.name for each in fields(ComparisonRow) if each.name != "matched")
_CHANGE: Final = (*(n for n in _FIRST if n in _FIELDS), *(n for n in _FIELDS if n not in _FIRST))
_MATCHED: Final = tuple(each.name for each in fields(MatchedResult))
_NO_MATCH: Final = {"reason": ""}
CHANGE_COLUMNS: Final = (*_CHANGE, "words", *(f"matched_{name}" for name in _MATCHED))
"""Columns of :func:`changes_table`."""


def values_table(walks: Iterable[WalkRecord]) -> pd.DataFrame:
    """Return the value of each walk, by measure and side.

    Returns
    -------
    DataFrame
        ``VALUE_COLUMNS``: ``value`` is the mean of the strides (clearances: median), NaN when none
        is defined; ``reason`` says why, commonest first, ``labels`` what a reader must know.

    Raises
    ------
    ComparisonError
        A measure is not known to this version.
    """
    rows = (_value_row(walk, *key, own) for walk, key, own in _tables(walks))
    return pd.DataFrame(rows, columns=list(VALUE_COLUMNS))


def strides_table(walks: Iterable[WalkRecord]) -> pd.DataFrame:
    """Return every stride of each walk, by measure and side.

    Returns
    -------
    DataFrame
        ``STRIDE_COLUMNS``: ``value`` is NaN when not defined, ``reason`` then says why;
        ``speed_m_s`` is the stride's own.

    Raises
    ------
    ComparisonError
        A measure is not known to this version.
    """
    rows = (row for walk, key, own in _tables(walks) for row in _stride_rows(walk, *key, own))
    return pd.DataFrame(rows, columns=list(STRIDE_COLUMNS))


def changes_table(rows: Iterable[ComparisonRow]) -> pd.DataFrame:
    """Return what changed, one row per measure, side and condition.

    Returns
    -------
    DataFrame
        ``CHANGE_COLUMNS``: the fields of :class:`ComparisonRow`, the verdict a code, and what it
        says in ``words``; the speed-matched result, where
        there is one, in ``matched_…``. Values, differences and the error are in ``unit``.
    """
    return pd.DataFrame(
        [
            (
                *(cell(getattr(row, name)) for name in _CHANGE),
                verdict_of(row).say(),
                *(cell(getattr(row.matched, name, _NO_MATCH.get(name, nan))) for name in _MATCHED),
            )
            for row in rows
        ],
        columns=list(CHANGE_COLUMNS),
    )


def _tables(walks: Iterable[WalkRecord]) -> Iterator[tuple[WalkRecord, tuple[str, Side], Strides]]:
    for walk in walks:
        refuse_unknown_measures([walk])
        for measure in MEASURE_BY_NAME:
            for side in walk.cycles:
                if (measure, side) in walk.tables:
                    yield walk, (measure, side), walk.tables[measure, side]


def _walk_cells(walk: WalkRecord, side: Side) -> tuple[object, ...]:
    return walk.condition, walk.session, walk.file_name, walk.part, side


def _value_row(walk: WalkRecord, name: str, side: Side, own: Strides) -> tuple[object, ...]:
    measure = MEASURE_BY_NAME[name]
    sample = sample_of([own], measure)
    reasons = sorted(sample.reasons, key=lambda each: -sample.reasons[each])
    why = cell(reasons) if not sample.n_walks else ""
    counts = sample.n_strides, sample.n_not_defined, sample.n_not_trusted
    labels = cell(list(sample.labels))
    found = (name, sample.value, measure.unit, *counts, why, labels)
    return *_walk_cells(walk, side), *found, walk.sha256


def _stride_rows(
    walk: WalkRecord, name: str, side: Side, own: Strides
) -> Iterator[tuple[object, ...]]:
    unit = MEASURE_BY_NAME[name].unit
    strides = zip(walk.cycles[side], walk.contacts[side], *map(list, own), strict=True)
    for cycle, contact, value, reason, labels, speed in strides:
        place = (*_walk_cells(walk, side), cycle, contact, speed)
        yield *place, name, value, unit, cell(reason), cell(labels), walk.sha256

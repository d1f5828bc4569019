"""The tables of one person at a time: what a cohort is made of where it is large.

In come the closed source of everybody, without walks, and one person's own with theirs, out come
the tables that hang on walks. Nothing of one person is held when the next one comes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Final

import pandas as pd

from gaittrack.cohort.people.deidentify import closed
from gaittrack.cohort.people.source import CohortSource, PlaceKey
from gaittrack.cohort.tables.changes import change_table
from gaittrack.cohort.tables.selection import kept_conditions, kept_visits
from gaittrack.cohort.tables.stride_rows import (
    left_out_table,
    strides_table,
    walk_values_table,
    walks_table,
)
from gaittrack.cohort.tables.table import curves_table, long_table, wide_table
from gaittrack.measures import MEASURES

Read = Callable[[str], tuple[CohortSource, pd.DataFrame | None]]
"""Gives the source of a person by the study's code, with walks, and the person's changes where
those are kept: without ``export_id``."""
_PLACES: Final = {measure.name: place for place, measure in enumerate(MEASURES)}
_ORDER: Final = ["visit_no", "condition_code", "reference_code", "measure_id", "side"]


def part_of(source: CohortSource, person: str) -> tuple[CohortSource, None]:
    """Return what is a person's of a source that is held whole; nothing is kept of it."""
    own = kept_visits(source, source.visits[source.visits["person"] == person])
    return own, None


def places_by_person(clean: CohortSource) -> dict[str, tuple[set[str], set[PlaceKey]]]:
    """Return the visits and the conditions of each person that are meant."""
    found: dict[str, tuple[set[str], set[PlaceKey]]] = {}
    for person, visit in zip(clean.visits["person"], clean.visits["visit"], strict=True):
        found.setdefault(person, (set(), set()))[0].add(visit)
    for key in clean.conditions:
        found[key[0]][1].add(key)
    return found


def closed_part(
    part: CohortSource, person: str, new: str, meant: tuple[set[str], set[PlaceKey]]
) -> CohortSource:
    """Return what leaves of a person: under the new id, with the places that are meant."""
    own = closed(part, {person: new})
    own = kept_visits(own, own.visits[own.visits["visit"].isin(meant[0])])
    return kept_conditions(own, meant[1])


def tables_of_person(
    own: CohortSource, changes: pd.DataFrame | None, new: str, *, with_curves: bool
) -> Iterator[tuple[str, pd.DataFrame]]:
    """Yield the tables of a person by name.

    Parameters
    ----------
    own : CohortSource
        Closed, of the person alone, the visits and conditions that are meant.
    changes : DataFrame or None
        As of :data:`Read`; None has them compared.
    new : str
        Id of the person in the export.

    Raises
    ------
    ComparisonError
        Walks cannot be compared, such as one that is stored twice.
    """
    long = long_table(own)
    yield "values_long", long
    yield "values_wide", wide_table(long)
    yield "walks", walks_table(own)
    yield "walk_values", walk_values_table(own)
    yield "strides", strides_table(own)
    yield "left_out", left_out_table(own)
    found = change_table(own) if changes is None else changes.assign(export_id=new)
    yield "changes", _meant_changes(found, own)
    if with_curves:
        yield "curves", curves_table(own)


def _meant_changes(changes: pd.DataFrame, own: CohortSource) -> pd.DataFrame:
    """Return the changes between conditions that are meant, in an order that is always the same."""
    if changes.empty:
        return changes
    places = {(int(visit), code) for _, visit, code in own.conditions}
    names = ("visit_no", "condition_code", "reference_code")
    is_meant = [
        {(visit, code), (visit, reference)} <= places
        for visit, code, reference in zip(*(changes[name].tolist() for name in names), strict=True)
    ]
    return changes[is_meant].sort_values(_ORDER, key=_place, kind="stable")


def _place(column: pd.Series) -> pd.Series:
    return column.map(_PLACES) if column.name == "measure_id" else column

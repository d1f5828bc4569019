"""The tables of one person at a time: what a cohort is made of where it is large.

In comes the closed source of one person, out come that person's rows of the tables that hang on
walks; in comes that of some people, without walks, out come their rows of the others.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Final

import pandas as pd

from gaittrack.cohort.people.source import CohortSource
from gaittrack.cohort.tables.changes import change_table
from gaittrack.cohort.tables.everyday import outcomes_table
from gaittrack.cohort.tables.stride_rows import (
    left_out_table,
    strides_table,
    walk_values_table,
    walks_table,
)
from gaittrack.cohort.tables.table import (
    aims_table,
    conditions_table,
    curves_table,
    exclusions_table,
    legs_table,
    long_table,
    people_table,
    ratings_table,
    settings_table,
    visits_table,
    wide_table,
)
from gaittrack.measures import MEASURES

Read = Callable[[str], tuple[CohortSource, pd.DataFrame | None]]
"""Gives the source of a person by the study's code, with walks, and the person's changes where
those are kept: without ``export_id``."""
_OF_FACTS: Final[Mapping[str, Callable[[CohortSource], pd.DataFrame]]] = {
    "people": people_table,
    "visits": visits_table,
    "bodies": visits_table,
    "legs": legs_table,
    "conditions": conditions_table,
    "settings": settings_table,
    "aims": aims_table,
    "ratings": ratings_table,
    "outcomes": outcomes_table,
    "exclusions": exclusions_table,
}
_PLACES: Final = {measure.name: place for place, measure in enumerate(MEASURES)}
_ORDER: Final = ["visit_no", "condition_code", "reference_code", "measure_id", "side"]


def facts_of_people(source: CohortSource) -> Iterator[tuple[str, pd.DataFrame]]:
    """Yield the tables that hang on no walk by name, of a closed source."""
    for name, table_of in _OF_FACTS.items():
        yield name, table_of(source)


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

"""A cohort that is held whole: exported, or some of its people and visits chosen."""

import pandas as pd

from gaittrack.cohort.disclosure.counted_facts import counted
from gaittrack.cohort.export import export_people
from gaittrack.cohort.tables.selection import (
    EVERYBODY,
    kept_conditions,
    kept_visits,
    selected_ids,
    selected_visits,
)
from gaittrack.cohort.tables.table import people_table


def export_cohort(source, out, **given):
    """Export a cohort by the names of a study; as ``export_people``."""

    def read(person):
        own = kept_visits(source, source.visits[source.visits["person"] == person])
        return own, None

    return export_people(counted([source]), read, out, **given)


def select_source(source, selection):
    """Return the people and visits of a closed source that fit, row by row."""
    if selection == EVERYBODY:
        return source
    wanted = set(selected_ids(people_table(source), selection))
    visits = source.visits[selected_visits(source.visits, selection)]
    visits = visits[visits["person"].isin(wanted)]
    if not selection.condition_code:
        return kept_visits(source, visits.reset_index(drop=True))
    places = {key for key in source.conditions if key[2] in selection.condition_code}
    with_one = {key[:2] for key in places}
    keys = zip(visits["person"], visits["visit"], strict=True)
    has_one = pd.Series([key in with_one for key in keys], index=visits.index, dtype=bool)
    return kept_conditions(kept_visits(source, visits[has_one].reset_index(drop=True)), places)

"""Which people and visits of a cohort are meant.

In come closed tables and a :class:`Selection` of their words, out come the people and rows that
fit; in come a :class:`CohortSource` and what of it is kept, out comes that part of it.
"""

from __future__ import annotations

from collections.abc import Set
from dataclasses import dataclass, fields, replace

import numpy as np
import pandas as pd

from gaittrack.cohort.people.source import CohortSource, PlaceKey


@dataclass(frozen=True, slots=True)
class Selection:
    """Words that may occur; an empty tuple allows all.

    Attributes
    ----------
    sex, cause, affected_side, age_band : tuple of str
        Words of the table ``people``; the age is that of the first visit in the study.
    brace_classes : tuple of str
        People who wore one of these at any visit.
    visit_kind : tuple of str
        Words of the table ``visits``; other visits are left out.
    visit_no : tuple of int
        Likewise, by number.
    condition_code : tuple of str
        Words of the table ``conditions``; other conditions are left out.
    people : tuple of str
        Codes of the study; chosen before all else, and never told in an export.
    """

    sex: tuple[str, ...] = ()
    cause: tuple[str, ...] = ()
    affected_side: tuple[str, ...] = ()
    age_band: tuple[str, ...] = ()
    brace_classes: tuple[str, ...] = ()
    visit_kind: tuple[str, ...] = ()
    visit_no: tuple[int, ...] = ()
    condition_code: tuple[str, ...] = ()
    people: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        """The selection in words, for a README; empty when everything is meant."""
        named = {item.name: getattr(self, item.name) for item in fields(self)}
        chosen = len(named.pop("people"))
        said = [f"{name}: {', '.join(map(str, own))}" for name, own in named.items() if own]
        return "; ".join([*said, f"people chosen by code: {chosen}"] if chosen else said)


EVERYBODY = Selection()


def selected_ids(people: pd.DataFrame, selection: Selection) -> list[str]:
    """Return the people of a table ``people`` who fit, whatever their visits.

    Parameters
    ----------
    people : DataFrame
        From ``table.people_table``.
    """
    fits = pd.Series(True, index=people.index)
    for name in ("sex", "cause", "affected_side", "age_band"):
        if wanted := getattr(selection, name):
            fits &= people[name].isin(wanted)
    if selection.people:
        fits &= people["export_id"].isin(selection.people)
    if selection.brace_classes:
        worn = people["brace_classes"].str.split("; ")
        fits &= worn.map(lambda classes: bool(set(classes) & set(selection.brace_classes)))
    return [str(each) for each in people.loc[fits, "export_id"]]


def selected_visits(visits: pd.DataFrame, selection: Selection) -> pd.Series:
    """Return for each row of closed visits whether its kind and number fit."""
    fits = pd.Series(True, index=visits.index)
    if selection.visit_kind:
        fits &= visits["kind"].isin(selection.visit_kind)
    if selection.visit_no:
        fits &= visits["visit"].isin([str(number) for number in selection.visit_no])
    return fits


def kept_conditions(source: CohortSource, places: Set[PlaceKey]) -> CohortSource:
    """Return a source with these of its conditions only."""
    exclusions = source.exclusions
    keys = zip(*(exclusions[name] for name in ("person", "visit", "condition")), strict=True)
    return replace(
        source,
        conditions={key: worn for key, worn in source.conditions.items() if key in places},
        walks=tuple(walk for walk in source.walks if walk.place in places),
        rejected={key: found for key, found in source.rejected.items() if key in places},
        damaged={key: count for key, count in source.damaged.items() if key in places},
        exclusions=exclusions[np.fromiter((key in places for key in keys), dtype=bool)],
    )


def kept_visits(source: CohortSource, visits: pd.DataFrame) -> CohortSource:
    """Return a source with these of its visits only, and the people who have one."""
    places = set(zip(visits["person"], visits["visit"], strict=True))
    kept = {person for person, _ in places}
    people, exclusions = source.people, source.exclusions
    return replace(
        source,
        people=people[people["person"].isin(kept)].reset_index(drop=True),
        visits=visits,
        conditions={key: worn for key, worn in source.conditions.items() if key[:2] in places},
        walks=tuple(walk for walk in source.walks if walk.place[:2] in places),
        rejected={key: cycles for key, cycles in source.rejected.items() if key[:2] in places},
        damaged={key: count for key, count in source.damaged.items() if key[:2] in places},
        braces={person: own for person, own in source.braces.items() if person in kept},
        aims={person: aims for person, aims in source.aims.items() if person in kept},
        exclusions=exclusions[_is_in(exclusions, places)].reset_index(drop=True),
    )


def _is_in(table: pd.DataFrame, places: Set[tuple[str, str]]) -> pd.Series:
    found = [key in places for key in zip(table["person"], table["visit"], strict=True)]
    return pd.Series(found, index=table.index, dtype=bool)

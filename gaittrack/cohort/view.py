"""A cohort for a screen inside of the laboratory: changes, who looks alike, export.

In comes an open study, out come tables with the laboratory's own codes of people, and exports
without them. Everything a screen needs::

    view = read_cohort(study, progress=show)     # slow: compares every visit not kept compared
    if not is_current(view, study):              # one small query
        view = read_cohort(study, earlier=view)  # only people that changed are compared again
    chosen = Selection(sex=("female",), cause=("stroke",), visit_kind=("baseline",))
    choices(view)                                # words there are for each field of a Selection
    selected_changes(view, chosen, measures=("peak_swing_dorsiflexion_deg",))      # DataFrame
    selected_statistics(view, chosen, measures=("peak_swing_dorsiflexion_deg",))   # DataFrame
    anonymity(view, chosen, release="open")      # AnonymityReport, as the export will find it
    export_study(study, folder, selection=chosen, who=who)          # study_export.py; a folder
    export_zip(study, file, selection=chosen, who=who)              # or a zip into an open file

Columns are those of ``changes`` and ``statistics`` in ``dictionary.csv``, with ``person`` (the
study's code) in the place of ``export_id``; text columns of ``changes`` are categories.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd
from sqlalchemy import select

from gaittrack.cohort.changes import change_table
from gaittrack.cohort.deidentify import (
    LEAST_ALIKE,
    AnonymityReport,
    Release,
    anonymity_report,
    closed,
)
from gaittrack.cohort.from_study import cohort_source, person_stamps
from gaittrack.cohort.kept_changes import Compared, keep_changes, kept_changes
from gaittrack.cohort.selection import (
    EVERYBODY,
    Selection,
    select_source,
    selected_ids,
    selected_visits,
)
from gaittrack.cohort.source import CohortSource
from gaittrack.cohort.statistics import statistics_table
from gaittrack.cohort.table import people_table, people_with_bodies
from gaittrack.compare.marker_errors import SPEED_MEASURE
from gaittrack.compare.row_words import count_words
from gaittrack.errors import ComparisonError
from gaittrack.study.store import Study
from gaittrack.study.tables import HISTORY

Progress = Callable[[int, int], None]
"""Called with the number of people done and that of all."""
KEPT_AT_ONCE: Final = 100
"""People whose changes are kept together: all that a reading broken off loses; own choice."""


@dataclass(frozen=True, eq=False, slots=True)
class CohortView:
    """A study as a screen shows it.

    Attributes
    ----------
    source : CohortSource
        Closed words, the study's codes of people, no walks.
    people : DataFrame
        Table ``people`` of an export, with ``person`` in the place of ``export_id``.
    changes : DataFrame
        Table ``changes``, likewise; the index is the row of the visit in ``source.visits``.
    problems : mapping of person to str
        Whose walks cannot be compared, and why; they are missing from ``changes``. Also of whom
        single walks are missing because their stored results are damaged.
    stamps : mapping of person to str
        Of what the changes were made from.
    state : str
        Of the study.
    """

    source: CohortSource
    people: pd.DataFrame
    changes: pd.DataFrame
    problems: Mapping[str, str]
    stamps: Mapping[str, str]
    state: str


def read_cohort(
    study: Study, *, earlier: CohortView | None = None, progress: Progress | None = None
) -> CohortView:
    """Read a study and compare the visits of everybody who is new or has changed since the last.

    What was compared is kept in the study, for the next start of any program.

    Parameters
    ----------
    earlier : CohortView, optional
        Of the same study; rows of people who did not change are taken from it.
    progress : callable, optional
        Called before each person that is compared, with the number done and that of all.

    Returns
    -------
    CohortView
        Walks of a person that cannot be compared cost that person's rows only.

    Raises
    ------
    StudyError
        The study cannot be read.
    """
    state = study_state(study)
    plain = cohort_source(study, with_walks=False)
    codes = [str(code) for code in plain.people["person"]]
    source = closed(plain, {code: code for code in codes})
    with study.read() as connection:
        stamps = person_stamps(connection)
        old = {} if earlier is None else earlier.stamps
        same = {code for code in codes if old.get(code) == stamps[code]}
        others = {code: stamps[code] for code in codes if code not in same}
        kept = kept_changes(connection, others)
    missing = [code for code in others if code not in kept.people]
    fresh, damaged = _compared(study, missing, stamps, progress)
    problems = {} if earlier is None else {c: w for c, w in earlier.problems.items() if c in same}
    problems |= {code: one for code, one in fresh.items() if isinstance(one, str)}
    problems |= {**damaged, **kept.problems}
    tables = [] if earlier is None else [earlier.changes[earlier.changes["person"].isin(same)]]
    tables += [kept.changes, *(one for one in fresh.values() if isinstance(one, pd.DataFrame))]
    people = people_table(source).rename(columns={"export_id": "person"})
    return CohortView(source, people, _joined(tables, source), problems, stamps, state)


def _compared(
    study: Study, codes: Sequence[str], stamps: Mapping[str, str], progress: Progress | None
) -> tuple[dict[str, Compared], dict[str, str]]:
    """Compare the visits of people, and keep what was found of those without damaged results.

    Returns
    -------
    damaged : dict of person to str
        Whose walks are left out because their stored results are damaged, and which.
    """
    found: dict[str, Compared] = {}
    damaged: dict[str, str] = {}
    fresh: dict[str, Compared] = {}
    for place, code in enumerate(codes, 1):
        if progress is not None:
            progress(place - 1, len(codes))
        fresh[code], words = _changes_of(study, code)
        if words:
            damaged[code] = words
        if len(fresh) == KEPT_AT_ONCE or place == len(codes):
            whole = {code: one for code, one in fresh.items() if code not in damaged}
            keep_changes(study, whole, stamps)
            found, fresh = found | fresh, {}
    return found, damaged


def is_current(view: CohortView, study: Study) -> bool:
    """Whether nothing was done to the study since the view was read."""
    return view.state == study_state(study)


def study_state(study: Study) -> str:
    """Return the seal of the last entry of the history, which every change of a study extends."""
    last = select(HISTORY.c.hash).order_by(HISTORY.c.sequence.desc()).limit(1)
    with study.read() as connection:
        return str(connection.execute(last).scalar() or "")


def _changes_of(study: Study, code: str) -> tuple[Compared, str]:
    """Return the changes of a person, or why there are none, and what is left out as damaged."""
    source = closed(cohort_source(study, people=[code]), {code: code})
    left_out = _damage_words(source) if source.damaged else ""
    try:
        return change_table(source).rename(columns={"export_id": "person"}), left_out
    except ComparisonError as error:
        return str(error), f"{error} {left_out}" if left_out else ""


def _damage_words(source: CohortSource) -> str:
    places = [
        f"visit {visit}, {condition}: {count_words(count, 'walk')}"
        for (_, visit, condition), count in source.damaged.items()
    ]
    return (
        f"{'; '.join(places)} left out, the stored result is damaged; measure it again on the "
        "screen People, or with gaittrack recompute."
    )


def _joined(tables: Sequence[pd.DataFrame], source: CohortSource) -> pd.DataFrame:
    """Join the tables of all people, with text as categories: quick to select, small to keep."""
    filled = [table for table in tables if len(table)]
    if not filled:
        return pd.DataFrame({"person": pd.Categorical([]), "visit_no": [], "measure_id": []})
    plain = [_without_categories(table) for table in filled]
    joined = pd.concat(plain, ignore_index=True)
    texts = joined.select_dtypes(["object", "string"])
    joined = joined.astype({name: "category" for name in texts})
    rows = {
        (person, int(visit)): row
        for row, (person, visit) in enumerate(
            zip(source.visits["person"], source.visits["visit"], strict=True)
        )
    }
    places = zip(joined["person"], joined["visit_no"], strict=True)
    joined = joined.set_axis([rows.get(place, -1) for place in places], axis=0)
    return joined[joined.index >= 0]  # a visit that came in meanwhile: the next reading has it


def _without_categories(table: pd.DataFrame) -> pd.DataFrame:
    names = list(table.select_dtypes("category"))
    return table.astype(dict.fromkeys(names, object)) if names else table


def choices(view: CohortView) -> dict[str, list[str]]:
    """Return for each field of a :class:`Selection` the words that occur, sorted."""
    people, visits = view.people, view.source.visits
    found = {
        name: sorted(set(people[name])) for name in ("sex", "cause", "affected_side", "age_band")
    }
    classes = {word for worn in people["brace_classes"] for word in worn.split("; ")}
    numbers = sorted({int(visit) for visit in visits["visit"]})
    return found | {
        "brace_classes": sorted(classes),
        "visit_kind": sorted(set(visits["kind"])),
        "visit_no": [str(number) for number in numbers],
    }


def selected_changes(
    view: CohortView,
    selection: Selection = EVERYBODY,
    *,
    measures: Sequence[str] = (),
    side_roles: Sequence[str] = (),
    pair: tuple[str, str] | None = None,
) -> pd.DataFrame:
    """Return the changes of those who are meant.

    Parameters
    ----------
    measures, side_roles : sequence of str
        Names of measures; ``affected``, ``other`` or ``not recorded``. Empty: all.

    Returns
    -------
    DataFrame
        Rows of ``view.changes``, in its order.
    """
    changes = view.changes
    fits = _meant(view, selection).to_numpy()[changes.index.to_numpy(dtype=int)]
    if measures:
        fits &= changes["measure_id"].isin(measures).to_numpy()
    if side_roles:
        fits &= changes["side_role"].isin(side_roles).to_numpy()
    for name, word in zip(("condition_code", "reference_code"), pair or (), strict=False):
        fits &= (changes[name] == word).to_numpy()
    return changes[np.asarray(fits, dtype=bool)].reset_index(drop=True)


def _meant(view: CohortView, selection: Selection) -> pd.Series:
    """Return for each visit whether it and its person are meant."""
    visits = view.source.visits
    everybody = view.people.rename(columns={"person": "export_id"})
    fits = selected_visits(visits, selection)
    return fits & visits["person"].isin(selected_ids(everybody, selection))


def selected_statistics(
    view: CohortView,
    selection: Selection = EVERYBODY,
    *,
    measures: Sequence[str],
    side_roles: Sequence[str] = (),
    pair: tuple[str, str] | None = None,
) -> pd.DataFrame:
    """Return the statistics of those who are meant, of some measures.

    Parameters
    ----------
    pair : (condition code, reference code), optional
        As for :func:`selected_changes`. A model is fitted per row: give those that are shown.

    Returns
    -------
    DataFrame
        Columns of ``statistics`` in ``dictionary.csv``; small groups are shown, for nothing leaves
        the laboratory here.
    """
    changes = selected_changes(view, selection, measures=(*measures, SPEED_MEASURE), pair=pair)
    plain = _without_categories(changes)
    if side_roles:  # the speed of a walk is that of both sides
        is_shown = plain["side_role"].isin(side_roles)
        plain = plain[is_shown | (plain["measure_id"] == SPEED_MEASURE)]
    plain = plain.rename(columns={"person": "export_id"})
    n_people = len(view.people)
    if selection != EVERYBODY:
        n_people = view.source.visits.loc[_meant(view, selection), "person"].nunique()
    table = statistics_table(plain, n_people=n_people, measures=measures)
    if side_roles and not table.empty:
        return table[table["side_role"].isin(side_roles)].reset_index(drop=True)
    return table


def anonymity(
    view: CohortView,
    selection: Selection = EVERYBODY,
    *,
    release: Release = "controlled",
    least_alike: int | None = None,
    with_bodies: bool = False,
) -> AnonymityReport:
    """Return how many of those who are meant look alike, as an export of them will find it.

    Parameters
    ----------
    least_alike : int, optional
        In place of the number of the release.
    with_bodies : bool
        Also in height, mass and time since onset.
    """
    meant = select_source(view.source, selection)
    people = people_with_bodies(meant) if with_bodies else people_table(meant)
    return anonymity_report(people, least=least_alike or LEAST_ALIKE[release])

"""A cohort for a screen inside of the laboratory: changes, what an export shows, export.

In comes an open study, out come tables with the laboratory's own codes of people, and exports
without them. Everything a screen needs::

    view = read_cohort(study, progress=show)     # slow: compares everybody not kept compared
    view = kept_cohort(study, kept_of(study))    # compares nobody; ``view.missing`` are left out
    is_current(view, study)                      # one small query
    chosen = Selection(sex=("female",), cause=("stroke",), visit_kind=("baseline",))
    choices(view)                                # words there are for each field of a Selection
    selected_changes(view, chosen, measures=("peak_swing_dorsiflexion_deg",))      # DataFrame
    selected_statistics(view, chosen, measures=("peak_swing_dorsiflexion_deg",))   # DataFrame
    answer_cohort(view, CohortQuestion(chosen, ...))                # answering.py: what is said
    protection(view, chosen, release="open")     # what an export shows and loses
    export_study(study, folder, selection=chosen, who=who)          # study_export.py; a folder
    export_zip(study, file, selection=chosen, who=who)              # or a zip into an open file

Columns are those of ``changes`` and ``statistics`` in ``dictionary.csv``, with ``person`` (the
study's code) in the place of ``export_id``.
"""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd
from sqlalchemy import Connection, select

from gaittrack.cohort.asking.selection_words import words_there
from gaittrack.cohort.disclosure.counted_facts import counted_closed
from gaittrack.cohort.disclosure.protection import Protection, Release, protect
from gaittrack.cohort.inference.statistics import statistics_table
from gaittrack.cohort.kept.compared import Compared, compare_and_keep, kept_of
from gaittrack.cohort.kept.kept_changes import ABOUT, Parts, kept_parts
from gaittrack.cohort.people.deidentify import closed
from gaittrack.cohort.people.from_study import cohort_source
from gaittrack.cohort.people.source import CohortSource
from gaittrack.cohort.tables.selection import (
    EVERYBODY,
    Selection,
    selected_ids,
    selected_visits,
)
from gaittrack.cohort.tables.table import people_table
from gaittrack.compare.measurement_error.marker_errors import SPEED_MEASURE
from gaittrack.study.store import Study
from gaittrack.study.tables import HISTORY
from gaittrack.trial import BoolArray

Fresh = tuple[str, Parts]
"""What was compared of a person, after the stamp of what it was made from."""
Progress = Callable[[int, int], None]
"""Called with the number of people done and that of all."""


@dataclass(frozen=True, eq=False, slots=True)
class CohortView:
    """A study as a screen shows it.

    Attributes
    ----------
    source : CohortSource
        Closed words, the study's codes of people, no walks.
    people : DataFrame
        Table ``people`` of an export, with ``person`` in the place of ``export_id``.
    compared : Compared
        Of everybody; what is not kept stands in ``unkept``.
    state : str
        Of the study.
    unkept : mapping of person to parts
        Compared and not kept, of people without damaged results not for long.
    """

    study: Study
    source: CohortSource
    people: pd.DataFrame
    compared: Compared
    state: str
    unkept: Mapping[str, Parts] = field(default_factory=dict)
    _read: dict[str, pd.DataFrame] = field(default_factory=dict)
    _reading: dict[str, threading.Lock] = field(init=False, default_factory=dict)
    _meant: dict[Selection, BoolArray] = field(init=False, default_factory=dict)
    _words: dict[Any, Any] = field(init=False, default_factory=dict)

    @property
    def missing(self) -> list[str]:
        """Who is not compared yet, and not in the tables."""
        return [code for code in self.compared.missing if code not in self.unkept]

    @property
    def about(self) -> dict[str, Mapping[str, Any]]:
        """What there is of everybody who was compared, as of ``compared_parts``."""
        return {**self.compared.about, **{c: own[ABOUT] for c, own in self.unkept.items()}}

    @property
    def problems(self) -> dict[str, str]:
        """Whose walks cannot be compared, and why; or which are left out as damaged."""
        said = {
            code: " ".join(filter(None, (own["problem"], own["damaged"])))
            for code, own in self.about.items()
        }
        return {code: words for code, words in said.items() if words}

    @property
    def measures(self) -> list[str]:
        """Measures that anybody has changes of."""
        return list(dict.fromkeys(name for own in self.about.values() for name in own["measures"]))

    @property
    def pairs(self) -> list[tuple[str, str]]:
        """Codes of condition and reference, those that most people have first."""
        counted = Counter(tuple(pair) for own in self.about.values() for pair in own["pairs"])
        return [(pair[0], pair[1]) for pair, _ in counted.most_common()]

    @property
    def changes(self) -> pd.DataFrame:
        """All changes."""
        return _together([self.changes_of(name) for name in ("", *self.measures)])

    def changes_of(self, measure: str) -> pd.DataFrame:
        """Return the changes of a measure.

        Returns
        -------
        DataFrame
            Table ``changes`` of an export, with ``person`` in the place of ``export_id``; the index
            is the row of the visit in ``source.visits``.
        """
        with self._reading.setdefault(measure, threading.Lock()):  # one reads, others wait
            if measure not in self._read:
                kept = self._kept(measure)
                self._read[measure] = _joined(kept, measure, self.source, self._words)
        return self._read[measure]

    def meant(self, selection: Selection) -> BoolArray:
        """Return for each visit whether it and its person are meant."""
        if selection not in self._meant:
            visits = self.source.visits
            everybody = self.people.rename(columns={"person": "export_id"})
            ids = set(selected_ids(everybody, selection))
            fits = selected_visits(visits, selection).to_numpy(dtype=bool)
            of_them = np.fromiter((one in ids for one in visits["person"].tolist()), dtype=bool)
            self._meant[selection] = fits & of_them
        return self._meant[selection]

    def _kept(self, measure: str) -> dict[str, Parts]:
        """Return a part of everybody; those that were damaged are compared again."""
        stamps = {code: self.compared.stamps[code] for code in self.compared.about}
        with self.study.read() as connection:
            kept, broken = kept_parts(connection, [measure], stamps)
        for code in broken:
            again = compare_and_keep(self.study, code, stamps[code])
            kept |= {} if again is None else {code: dict(again[0])}
        return {**kept, **self.unkept}


def read_cohort(study: Study, *, progress: Progress | None = None) -> CohortView:
    """Read a study and compare everybody of whom nothing is kept or something changed since.

    What was compared is kept in the study, for the next start of any program.

    Parameters
    ----------
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
    found = kept_of(study)
    missing = found.missing
    fresh: dict[str, Fresh] = {}
    for place, code in enumerate(missing):
        if progress is not None:
            progress(place, len(missing))
        done = compare_and_keep(study, code, found.stamps[code])
        if done is not None and not done[1]:
            fresh[code] = found.stamps[code], done[0]
    return kept_cohort(study, kept_of(study), fresh)


def kept_cohort(
    study: Study, compared: Compared, fresh: Mapping[str, Fresh] | None = None
) -> CohortView:
    """Read a study without comparing anybody.

    Parameters
    ----------
    compared : Compared
        What is kept.
    fresh : mapping of person to Fresh, optional
        What was compared and is not kept; left out where it does not hold any more.

    Raises
    ------
    StudyError
        The study cannot be read.
    """
    state = study_state(study)
    plain = cohort_source(study, with_walks=False)
    source = closed(plain, {str(code): str(code) for code in plain.people["person"]})
    people = people_table(source).rename(columns={"export_id": "person"})
    stamps = compared.stamps
    unkept = {c: own for c, (stamp, own) in (fresh or {}).items() if stamps.get(c) == stamp}
    return CohortView(study, source, people, compared, state, unkept)


def is_current(view: CohortView, study: Study) -> bool:
    """Whether nothing was done to the study since the view was read."""
    return view.state == study_state(study)


def study_state(study: Study) -> str:
    """Return the seal of the last entry of the history, which every change of a study extends."""
    with study.read() as connection:
        return state_at(connection)


def state_at(connection: Connection) -> str:
    """Return the seal of the last entry of the history that a connection sees."""
    last = select(HISTORY.c.hash).order_by(HISTORY.c.sequence.desc()).limit(1)
    return str(connection.execute(last).scalar() or "")


def _together(tables: Sequence[pd.DataFrame]) -> pd.DataFrame:
    """Put tables one below the other."""
    filled = [table for table in tables if len(table)]
    return pd.concat(filled) if len(filled) > 1 else next(iter(filled), tables[0])


def _joined(
    kept: Mapping[str, Parts], measure: str, source: CohortSource, words: dict[Any, Any]
) -> pd.DataFrame:
    """Join what is kept of people; ``words`` holds each text once, however often it is said."""
    columns: dict[str, list[Any]] = {"person": []}
    for code in sorted(code for code, parts in kept.items() if measure in parts):
        own = kept[code][measure]
        columns["person"] += [code] * own["rows"]
        for name, cells in own["columns"].items():
            told = cells * own["rows"] if len(cells) == 1 else cells
            columns.setdefault(name, []).extend(told)
    if not columns["person"]:
        return pd.DataFrame({"person": [], "visit_no": [], "measure_id": []}, dtype=object)
    visits = zip(source.visits["person"], source.visits["visit"], strict=True)
    rows = {(person, int(visit)): row for row, (person, visit) in enumerate(visits)}
    places = zip(columns["person"], columns["visit_no"], strict=True)
    index = [rows.get(place, -1) for place in places]
    joined = pd.DataFrame({name: _column(cells, words) for name, cells in columns.items()})
    joined = joined.set_axis(index, axis=0)
    return joined[joined.index >= 0]  # a visit that came in meanwhile: the next reading has it


def _column(cells: list[Any], words: dict[Any, Any]) -> pd.Series[Any]:
    """Return texts as they are: other columns of text take ten times as long to select from."""
    if str not in set(map(type, cells)):
        return pd.Series(cells)
    return pd.Series(list(map(words.setdefault, cells, cells)), dtype=object)


def choices(view: CohortView) -> dict[str, list[str]]:
    """Return for each field of a :class:`Selection` the words that occur, sorted."""
    visits = view.source.visits
    codes = (code for _, _, code in view.source.conditions)
    return words_there(
        view.people, kinds=visits["kind"], numbers=map(int, visits["visit"]), codes=codes
    )


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
    meant = view.meant(selection)
    found = [
        _fitting(view.changes_of(name), meant, side_roles, pair, selection.condition_code)
        for name in dict.fromkeys(measures or view.measures)
    ]
    return _together(found or [view.changes_of("")]).reset_index(drop=True)


def _fitting(
    changes: pd.DataFrame,
    meant: BoolArray,
    side_roles: Sequence[str],
    pair: tuple[str, str] | None,
    codes: Sequence[str],
) -> pd.DataFrame:
    if changes.empty:
        return changes
    fits = meant[changes.index.to_numpy(dtype=int)]
    if side_roles:
        fits &= changes["side_role"].isin(side_roles).to_numpy()
    for name in ("condition_code", "reference_code") if codes else ():
        fits &= changes[name].isin(codes).to_numpy()
    for name, word in zip(("condition_code", "reference_code"), pair or (), strict=False):
        fits &= (changes[name] == word).to_numpy()
    found: pd.DataFrame = changes[fits]
    return found


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
    plain = changes
    if side_roles:  # the speed of a walk is that of both sides
        is_shown = plain["side_role"].isin(side_roles)
        plain = plain[is_shown | (plain["measure_id"] == SPEED_MEASURE)]
    plain = plain.rename(columns={"person": "export_id"})
    n_people = view.source.visits.loc[view.meant(selection), "person"].nunique()
    table = statistics_table(plain, n_people=n_people, measures=measures)
    if side_roles and not table.empty:
        return table[table["side_role"].isin(side_roles)].reset_index(drop=True)
    return table


def protection(
    view: CohortView,
    selection: Selection = EVERYBODY,
    *,
    release: Release = "controlled",
    least_alike: int | None = None,
) -> Protection:
    """Return what an export of those who are meant will show, and what it will lose.

    Parameters
    ----------
    least_alike : int, optional
        In place of the number of the release.
    """
    everybody = counted_closed([view.source])
    return protect(everybody, release=release, least=least_alike, selection=selection)

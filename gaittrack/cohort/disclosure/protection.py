"""Decide what an export may show of whom, and take the rest out of its tables as they pass.

In come the closed facts of everybody in a study, without walks, and for whom an export is; out
comes a :class:`Protection` of those who are meant. What is withheld is decided for the whole study
first, always in the same order, then for those who are meant: so two releases of a study never show
together what both withhold. Tables pass through :meth:`Protection.told`, in parts or whole.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, Final, Literal

import pandas as pd

from gaittrack.cohort.disclosure.known_facts import (
    ANCHORS,
    CORE,
    EXAMINED,
    SEEN,
    coarser,
    columns_that_say,
    known_facts,
    word_of_value,
)
from gaittrack.cohort.disclosure.looking_alike import (
    NOTHING,
    Withheld,
    braces_worn,
    withheld_for,
)
from gaittrack.cohort.people.leaving import BANDED_IN_EXPORTS, BANDS, WITHHELD
from gaittrack.cohort.people.source import CohortSource, PlaceKey
from gaittrack.cohort.tables.reason_cells import BETWEEN, left_of
from gaittrack.cohort.tables.selection import (
    EVERYBODY,
    Selection,
    kept_conditions,
    kept_visits,
    select_source,
    selected_ids,
)
from gaittrack.cohort.tables.table import people_table

Release = Literal["partner", "controlled", "open"]
LEAST_ALIKE: Final[dict[Release, int]] = {"partner": 3, "controlled": 5, "open": 11}
"""Fewest people that must look alike. Thresholds in use run from 3 to 11; 11 is that of published
United States claims data; which one for which release is own choice."""
DAYS_STEP: Final[dict[Release, int]] = {"partner": 1, "controlled": 7, "open": 28}
"""To how many days the time of a visit is rounded; own choice."""
DAYS: Final = "days_since_first_visit"
_LABELS: Final = {
    "days_worn": ("worn_under_two_weeks", "days_worn_not_recorded"),
    "walking_aid": ("walking_aid_differs", "walking_aid_not_recorded"),
    "footwear": ("footwear_differs", "footwear_not_recorded"),
}
"""Codes of labels that tell a fact."""
_AID: Final = re.compile(r"_aid-not-told|_aid")
_NUMBER: Final = re.compile(r"_\d+$")
LOST: Final = ("people left out", "visits left out", "coarser bands", "withheld")


@dataclass(frozen=True, eq=False)
class Protection:
    """What is shown of those who are meant.

    Attributes
    ----------
    source : CohortSource
        Closed, without walks: the people, visits and braces that are shown.
    withheld : Withheld
        By the people of ``source``.
    before : CohortSource
        Closed: all who are meant.
    days_step : int
        To how many days the time of a visit is rounded.
    ids : mapping of person to str
        What the people are called in tables.
    """

    source: CohortSource
    withheld: Withheld
    before: CohortSource
    least: int
    days_step: int = 1
    ids: Mapping[str, str] = field(default_factory=dict)

    @property
    def people(self) -> list[str]:
        """Who is shown, by name."""
        return [str(person) for person in self.source.people["person"]]

    @cached_property
    def groups(self) -> pd.DataFrame:
        """What people share by which they are told apart first, with ``n_people``."""
        table = self.known_by({}).told(people_table(self.source))
        names = [*CORE, *ANCHORS]
        return table.groupby(names, dropna=False).size().rename("n_people").reset_index()

    @property
    def smallest(self) -> int:
        """People in the smallest group; 0 without people."""
        return int(self.groups["n_people"].min()) if len(self.groups) else 0

    @property
    def is_met(self) -> bool:
        """Whether every group is large enough, and there is one."""
        return self.smallest >= self.least

    def lost(self, *, with_bodies: bool = True) -> pd.DataFrame:
        """Return what was lost: of which fact, how, and of how many people."""
        had, has = (Counter(map(str, each.visits["person"])) for each in (self.before, self.source))
        gone = [person for person in had if person in self.withheld.dropped]
        cut = [person for person in had if has[person] < had[person] and person not in gone]
        rows: list[dict[str, Any]] = [
            {"fact": "export_id", "lost": LOST[0], "n_people": len(gone)},
            {"fact": "visit_no", "lost": LOST[1], "n_people": len(cut)},
        ]
        shown, known = set(self.people), known_facts(self.source)
        for name in (*CORE, *SEEN, *EXAMINED):
            if name in BANDS and not with_bodies:
                continue
            told = {person for person in shown if known.of[name][person]}
            joined = len(told) if self.withheld.step.get(name) else 0
            hidden = len(told & self.withheld.hidden.get(name, frozenset()))
            rows.append({"fact": name, "lost": LOST[2], "n_people": joined})
            rows.append({"fact": name, "lost": LOST[3], "n_people": hidden})
        kept = [row for row in rows if row["n_people"]]
        return pd.DataFrame(kept, columns=["fact", "lost", "n_people"])

    def known_by(self, ids: Mapping[str, str]) -> Protection:
        """Return the same for tables in which the people have other names."""
        return replace(self, ids=ids)

    def rows_of(self, source: CohortSource) -> CohortSource:
        """Return what is shown of some people of a closed source, by their other names."""
        visits = zip(source.visits["person"], source.visits["visit"], strict=True)
        is_shown = [visit in self._visits.get(person, ()) for person, visit in visits]
        shown = source.visits[pd.Series(is_shown, source.visits.index, dtype=bool)]
        kept = kept_visits(source, shown.reset_index(drop=True))
        kept = kept_conditions(kept, {key for key in kept.conditions if self._is_shown(key)})
        cut = {self._name(person) for person in self.withheld.n_visits}
        return replace(kept, braces=braces_worn(kept, cut))

    def _is_shown(self, key: PlaceKey) -> bool:
        return (self._people.get(key[0], ""), *key[1:]) in self.source.conditions

    @cached_property
    def _people(self) -> Mapping[str, str]:
        """Who is shown, by their other names."""
        return {self._name(person): person for person in self.people}

    @cached_property
    def _visits(self) -> Mapping[str, frozenset[str]]:
        """The visits of each person that are shown, by their other names."""
        visits = self.source.visits.groupby("person")["visit"]
        return {self._name(str(person)): frozenset(own) for person, own in visits}

    def _name(self, person: str) -> str:
        return self.ids.get(person, person)

    @cached_property
    def _hidden(self) -> Mapping[str, frozenset[str]]:
        """Whose words are withheld, by their other names."""
        own = self.withheld.hidden.items()
        return {name: frozenset(map(self._name, people)) for name, people in own}

    @cached_property
    def _codes(self) -> Mapping[tuple[str, str], str]:
        """Codes of conditions that do not tell the aid, of whom it is withheld."""
        hidden = self.withheld.hidden.get("walking_aid", frozenset())
        own: dict[str, dict[str, None]] = {}
        for person, _, code in sorted(self.source.conditions):
            if person in hidden:
                own.setdefault(person, {})[code] = None
        return {
            (self._name(person), code): new
            for person, codes in own.items()
            for code, new in zip(codes, _without_aid(codes), strict=True)
        }

    def told(self, table: pd.DataFrame) -> pd.DataFrame:
        """Return a table, or a part of it, with what may be shown.

        Parameters
        ----------
        table : DataFrame
            Of the export, made from what is shown of the people; by ``export_id``.
        """
        found = table.copy()
        for name in (*CORE, *SEEN, *EXAMINED):
            for column in set(columns_that_say(name)) & set(found.columns):
                found[column] = self._cells(name, found, column)
        if DAYS in found.columns:
            days = pd.to_numeric(found[DAYS])
            found[DAYS] = (days / self.days_step).round() * self.days_step
        if "export_id" in found.columns:
            self._take_out_hints(found)
        return found

    def _cells(self, name: str, table: pd.DataFrame, column: str) -> pd.Series[Any]:
        cells = table[column].astype(object)
        if name in BANDED_IN_EXPORTS:
            cells = cells.map(lambda value: word_of_value(name, value) or None)
        if wide := coarser(name, self.withheld.step.get(name, 0)):
            cells = cells.map(lambda word: wide.get(word, word))
        hidden = self._hidden.get(name, frozenset())
        is_hidden = table["export_id"].isin(hidden) & cells.notna()
        is_text = cells.map(lambda value: isinstance(value, str))
        return cells.mask(is_hidden & is_text, WITHHELD).mask(is_hidden & ~is_text, None)

    def _take_out_hints(self, table: pd.DataFrame) -> None:
        """Take out what tells a withheld fact in other words."""
        for name, codes in _LABELS.items():
            hidden = table["export_id"].isin(self._hidden.get(name, frozenset()))
            if "labels" in table.columns and hidden.any():
                table.loc[hidden, "labels"] = [
                    _without(cell, codes) for cell in table.loc[hidden, "labels"]
                ]
        if "outcome_id" in table.columns:  # the published error that was used names the cause
            hidden = table["export_id"].isin(self._hidden.get("cause", frozenset()))
            table.loc[hidden, "measurement_error_source"] = None
        for column in {"condition_code", "reference_code"} & set(table.columns):
            pairs = zip(table["export_id"], table[column], strict=True)
            table[column] = [self._codes.get(pair, pair[1]) for pair in pairs]


def _without(cell: Any, codes: Sequence[str]) -> Any:
    if not isinstance(cell, str) or not cell:
        return cell
    kept = [each for each in left_of(cell).split(BETWEEN) if each.partition("(")[0] not in codes]
    return BETWEEN.join(kept)


def _without_aid(codes: Iterable[str]) -> Iterator[str]:
    """Yield codes of one person that do not tell the aid; those that would be alike get numbers."""
    numbers: Counter[str] = Counter()
    for code in codes:
        plain = f"{_AID.sub('', _NUMBER.sub('', code))}_aid-not-told"
        numbers[plain] += 1
        yield f"{plain}_{numbers[plain]}" if numbers[plain] > 1 else plain


def protect(
    everybody: CohortSource,
    *,
    release: Release,
    least: int | None = None,
    selection: Selection = EVERYBODY,
) -> Protection:
    """Decide what is shown.

    Parameters
    ----------
    everybody : CohortSource
        Closed, of the whole study, by names that stay the same from release to release; walks are
        not looked at.
    least : int, optional
        Fewest people who must look alike, in place of the number of the release.
    selection : Selection
        In the words that are shown: nobody fits by a word that is withheld.
    """
    asked = least or LEAST_ALIKE[release]
    of_study = withheld_for(everybody, steps_to(asked))
    whole = Protection(of_study.rows_of(everybody), of_study, everybody, asked)
    meant, found, before = everybody, of_study, everybody
    if selection != EVERYBODY:
        fitting = selected_ids(whole.told(people_table(whole.source)), selection)
        if selection.people:
            fitting = [person for person in fitting if person in selection.people]
        if selection.condition_code:  # a code tells the aid
            unsaid = of_study.hidden.get("walking_aid", frozenset())
            fitting = [person for person in fitting if person not in unsaid]
        meant = select_source(everybody, selection, people=fitting)
        found = withheld_for(meant, (asked,), of_study)
        of_visits = Selection(visit_no=selection.visit_no, visit_kind=selection.visit_kind)
        # who is left out of the study must not be told to fit by a word of the person
        before = select_source(everybody, selection) if selection == of_visits else meant
    return Protection(found.rows_of(meant), found, before, asked, DAYS_STEP[release])


def unprotected(everybody: CohortSource, *, least: int, selection: Selection) -> Protection:
    """Return everything that is meant: somebody has given a reason to show it."""
    fitting = selected_ids(people_table(everybody), selection)
    if selection.people:
        fitting = [person for person in fitting if person in selection.people]
    meant = select_source(everybody, selection, people=fitting)
    return Protection(meant, NOTHING, meant, least)


def steps_to(least: int) -> Sequence[int]:
    """Return the numbers of people that are asked for one after the other."""
    smaller: Iterable[int] = (each for each in LEAST_ALIKE.values() if each < least)
    return (*sorted(smaller), least)

"""Decide what an export may show of whom, and take the rest out of its tables as they pass.

In come the counted facts of everybody in a study and for whom an export is, out comes a
:class:`Protection` of those who are meant. What is withheld is decided for the whole study first,
always in the same order, then for those who are meant: so two releases of a study never show
together what both withhold. Tables pass through :meth:`Protection.told`, in parts or whole.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence, Set
from dataclasses import dataclass, field, replace
from functools import cache, cached_property
from typing import Any, Final, Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from gaittrack.cohort.disclosure.counted_facts import Everybody, Rows
from gaittrack.cohort.disclosure.known_facts import (
    ANCHORS,
    CORE,
    EXAMINED,
    SEEN,
    coarser,
    columns_that_say,
    word_of_value,
)
from gaittrack.cohort.disclosure.looking_alike import Withheld, nothing, withheld_for
from gaittrack.cohort.disclosure.people_bits import Mask, unpacked
from gaittrack.cohort.disclosure.shown_people import (
    Meant,
    all_shown,
    known_facts,
    people_shown,
    selected,
)
from gaittrack.cohort.people.leaving import BANDED_IN_EXPORTS, BANDS, WITHHELD
from gaittrack.cohort.people.source import CohortSource, PlaceKey
from gaittrack.cohort.tables.reason_cells import BETWEEN, left_of
from gaittrack.cohort.tables.selection import (
    EVERYBODY,
    Selection,
    kept_conditions,
    kept_visits,
    selected_ids,
)
from gaittrack.record.braces import Brace, Braces

Places = NDArray[np.int64]
"""Of the person of each row, among everybody."""
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
    everybody : Everybody
        Of the study.
    shown : Meant
        The people, visits and conditions that are shown.
    withheld : Withheld
        By the places of ``everybody``.
    before : Meant
        All who are meant.
    days_step : int
        To how many days the time of a visit is rounded.
    ids : mapping of person to str
        What the people are called in tables.
    """

    everybody: Everybody
    shown: Meant
    withheld: Withheld
    before: Meant
    least: int
    days_step: int = 1
    ids: Mapping[str, str] = field(default_factory=dict)

    @cached_property
    def people(self) -> list[str]:
        """Who is shown, by name."""
        return _named(self.everybody, self.shown.people)

    @cached_property
    def groups(self) -> pd.DataFrame:
        """What people share by which they are told apart first, with ``n_people``."""
        table = self.known_by({}).told(people_shown(self.everybody, self.shown))
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
        had, has = (each.n_visits(self.everybody) for each in (self.before, self.shown))
        gone = (had > 0) & self.withheld.dropped
        rows: list[dict[str, Any]] = [
            {"fact": "export_id", "lost": LOST[0], "n_people": int(gone.sum())},
            {"fact": "visit_no", "lost": LOST[1], "n_people": int(((has < had) & ~gone).sum())},
        ]
        known = known_facts(self.everybody, self.shown)
        for name in (*CORE, *SEEN, *EXAMINED):
            if name in BANDS and not with_bodies:
                continue
            told = unpacked(known.any_word(name), known.n)
            joined = int(told.sum()) if self.withheld.step.get(name) else 0
            hidden = int((told & self.withheld.hides(name)).sum())
            rows.append({"fact": name, "lost": LOST[2], "n_people": joined})
            rows.append({"fact": name, "lost": LOST[3], "n_people": hidden})
        kept = [row for row in rows if row["n_people"]]
        return pd.DataFrame(kept, columns=["fact", "lost", "n_people"])

    def known_by(self, ids: Mapping[str, str]) -> Protection:
        """Return the same for tables in which the people have other names."""
        return replace(self, ids=ids)

    def rows_of(self, source: CohortSource) -> CohortSource:
        """Return what is shown of some people of a closed source, by their other names."""
        whose = {str(person) for person in source.people["person"]} & self._places.keys()
        visits, worn = self._rows_of(whose)
        pairs = zip(source.visits["person"], source.visits["visit"], strict=True)
        is_shown = [pair in visits for pair in pairs]
        shown = source.visits[pd.Series(is_shown, source.visits.index, dtype=bool)]
        kept = kept_visits(source, shown.reset_index(drop=True))
        kept = kept_conditions(kept, {key for key in kept.conditions if key in worn})
        cut = {person for person in whose if self.withheld.n_visits[self._places[person]]}
        return replace(kept, braces=braces_worn(kept, cut))

    def _rows_of(self, whose: Iterable[str]) -> tuple[set[tuple[str, str]], set[PlaceKey]]:
        """Return the visits and conditions that are shown of some people, by their other names."""
        visits, worn = set(), set()
        own, codes = self.everybody.worn, self.everybody.words["code"]
        for person in whose:
            for row in self._shown_of(person, self.everybody.visits, self.shown.visits):
                visits.add((person, str(self.everybody.visits.number[row])))
            for row in self._shown_of(person, own, self.shown.worn):
                worn.add((person, str(own.number[row]), codes[own.facts["code"][row]]))
        return visits, worn

    def _shown_of(self, person: str, rows: Rows, is_shown: Mask) -> Sequence[int]:
        place = self._places[person]
        start, end = (np.searchsorted(rows.person, place, side) for side in ("left", "right"))
        found: list[int] = (start + np.flatnonzero(is_shown[start:end])).tolist()
        return found

    @cached_property
    def _places(self) -> Mapping[str, int]:
        """The place of each person, by their other names."""
        return {self.ids.get(name, name): n for n, name in enumerate(self.everybody.names)}

    @cached_property
    def _codes(self) -> Mapping[int, Mapping[str, str]]:
        """Codes of conditions that do not tell the aid, of each person of whom it is withheld."""
        own, words = self.everybody.worn, self.everybody.words["code"]
        is_told = self.shown.worn & self.withheld.hides("walking_aid")[own.person]
        codes: dict[int, list[tuple[str, str]]] = {}
        for row in np.flatnonzero(is_told).tolist():
            at = (str(own.number[row]), words[own.facts["code"][row]])
            codes.setdefault(int(own.person[row]), []).append(at)
        alike = cache(_codes_without_aid)
        return {
            person: alike(tuple(dict.fromkeys(code for _, code in sorted(found))))
            for person, found in codes.items()
        }

    def told(self, table: pd.DataFrame) -> pd.DataFrame:
        """Return a table, or a part of it, with what may be shown.

        Parameters
        ----------
        table : DataFrame
            Of the export, made from what is shown of the people; by ``export_id``.
        """
        found = table.copy()
        people = self._people_of(table) if "export_id" in table.columns else None
        for name in (*CORE, *SEEN, *EXAMINED):
            for column in set(columns_that_say(name)) & set(found.columns):
                found[column] = self._cells(name, found[column], people)
        if DAYS in found.columns:
            days = pd.to_numeric(found[DAYS])
            found[DAYS] = (days / self.days_step).round() * self.days_step
        if people is not None:
            self._take_out_hints(found, people)
        return found

    def _people_of(self, table: pd.DataFrame) -> Places:
        """Return the place of the person of each row; one behind the last for who is nobody."""
        nobody = len(self.everybody.names)
        own = (self._places.get(name, nobody) for name in table["export_id"].tolist())
        return np.fromiter(own, dtype=np.int64, count=len(table))

    def _hidden(self, name: str, people: Places) -> Mask:
        """Return of which rows the words of a fact are withheld."""
        found: Mask = np.append(self.withheld.hides(name), False)[people]
        return found

    def _cells(self, name: str, column: pd.Series[Any], people: Places | None) -> pd.Series[Any]:
        cells = column.astype(object)
        if name in BANDED_IN_EXPORTS:
            cells = cells.map(lambda value: word_of_value(name, value) or None)
        if wide := coarser(name, self.withheld.step.get(name, 0)):
            cells = cells.map(lambda word: wide.get(word, word))
        if people is None:
            return cells
        is_hidden = self._hidden(name, people) & cells.notna()
        is_text = cells.map(lambda value: isinstance(value, str))
        return cells.mask(is_hidden & is_text, WITHHELD).mask(is_hidden & ~is_text, None)

    def _take_out_hints(self, table: pd.DataFrame, people: Places) -> None:
        """Take out what tells a withheld fact in other words."""
        for name, codes in _LABELS.items():
            hidden = self._hidden(name, people)
            if "labels" in table.columns and hidden.any():
                table.loc[hidden, "labels"] = [
                    _without(cell, codes) for cell in table.loc[hidden, "labels"]
                ]
        if "outcome_id" in table.columns:  # the published error that was used names the cause
            table.loc[self._hidden("cause", people), "measurement_error_source"] = None
        for column in {"condition_code", "reference_code"} & set(table.columns):
            pairs = zip(people.tolist(), table[column], strict=True)
            table[column] = [self._codes.get(n, {}).get(code, code) for n, code in pairs]


def braces_worn(source: CohortSource, whose: Set[str]) -> dict[str, Braces]:
    """Return the braces and settings, of some people those only that are worn at their visits."""
    used = {
        (person, worn.brace, worn.setting) for (person, _, _), worn in source.conditions.items()
    }
    return {
        person: own
        if person not in whose
        else {
            code: Brace(brace.facts, settings)
            for code, brace in own.items()
            if (settings := {n: f for n, f in brace.settings.items() if (person, code, n) in used})
        }
        for person, own in source.braces.items()
    }


def _without(cell: Any, codes: Sequence[str]) -> Any:
    if not isinstance(cell, str) or not cell:
        return cell
    kept = [each for each in left_of(cell).split(BETWEEN) if each.partition("(")[0] not in codes]
    return BETWEEN.join(kept)


def _codes_without_aid(codes: tuple[str, ...]) -> dict[str, str]:
    return dict(zip(codes, _without_aid(codes), strict=True))


def _without_aid(codes: Iterable[str]) -> Iterator[str]:
    """Yield codes of one person that do not tell the aid; those that would be alike get numbers."""
    numbers: Counter[str] = Counter()
    for code in codes:
        plain = f"{_AID.sub('', _NUMBER.sub('', code))}_aid-not-told"
        numbers[plain] += 1
        yield f"{plain}_{numbers[plain]}" if numbers[plain] > 1 else plain


def protect(
    everybody: Everybody,
    *,
    release: Release,
    least: int | None = None,
    selection: Selection = EVERYBODY,
) -> Protection:
    """Decide what is shown.

    Parameters
    ----------
    everybody : Everybody
        By names that stay the same from release to release.
    least : int, optional
        Fewest people who must look alike, in place of the number of the release.
    selection : Selection
        In the words that are shown: nobody fits by a word that is withheld.
    """
    asked, every = least or LEAST_ALIKE[release], all_shown(everybody)
    of_study = withheld_for(everybody, every, steps_to(asked), nothing(everybody))
    whole = Protection(everybody, of_study.rows_of(everybody, every), of_study, every, asked)
    meant, found, before = every, of_study, every
    if selection != EVERYBODY:
        fitting = selected_ids(whole.told(people_shown(everybody, whole.shown)), selection)
        if selection.condition_code:  # a code tells the aid
            unsaid = set(_named(everybody, of_study.hides("walking_aid")))
            fitting = [person for person in fitting if person not in unsaid]
        meant = selected(everybody, selection, fitting)
        found = withheld_for(everybody, meant, (asked,), of_study)
        of_visits = Selection(visit_no=selection.visit_no, visit_kind=selection.visit_kind)
        # who is left out of the study must not be told to fit by a word of the person
        before = (
            meant if selection != of_visits else selected(everybody, selection, everybody.names)
        )
    shown = found.rows_of(everybody, meant)
    return Protection(everybody, shown, found, before, asked, DAYS_STEP[release])


def unprotected(everybody: Everybody, *, least: int, selection: Selection) -> Protection:
    """Return everything that is meant: somebody has given a reason to show it."""
    table = people_shown(everybody, all_shown(everybody))
    meant = selected(everybody, selection, selected_ids(table, selection))
    return Protection(everybody, meant, nothing(everybody), meant, least)


def _named(everybody: Everybody, people: Mask) -> list[str]:
    return [everybody.names[place] for place in np.flatnonzero(people)]


def steps_to(least: int) -> Sequence[int]:
    """Return the numbers of people that are asked for one after the other."""
    smaller: Iterable[int] = (each for each in LEAST_ALIKE.values() if each < least)
    return (*sorted(smaller), least)

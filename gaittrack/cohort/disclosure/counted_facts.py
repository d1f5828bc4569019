"""Hold of a whole study what disclosure control counts, and no more, however large it is.

In come closed sources of some people at a time, out come :class:`Everybody`: a number for each word
of each visit, of all that was worn and of every setting of a brace, without walks, aims and results
of tests. A thousand people with two visits take less than a megabyte.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import chain
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from gaittrack.cohort.disclosure.known_facts import EXAMINED, SEEN, word_of_value
from gaittrack.cohort.disclosure.people_bits import Mask
from gaittrack.cohort.people.deidentify import closed
from gaittrack.cohort.people.leaving import OF_LEG, OF_PERSON, OF_VISIT
from gaittrack.cohort.people.source import CohortSource
from gaittrack.compare.measurement_error.marker_errors import OwnErrors
from gaittrack.compare.typical_values.typical import OwnRange
from gaittrack.record.registry import leg_name
from gaittrack.record.wording import NOT_RECORDED
from gaittrack.vocabulary import SIDES

Codes = NDArray[np.unsignedinteger]
CLASS: Final = "orthosis_class"
_COUNTED: Final = frozenset((*SEEN, *EXAMINED))
_OF_VISITS: Final[Mapping[str, str]] = {
    **{name: name for name in OF_VISIT if name in _COUNTED},
    **{leg_name(side, n): n for side in SIDES for n in OF_LEG if n in _COUNTED},
}
"""Facts of visits as they are stored, each with the fact whose words it has."""


@dataclass(frozen=True, eq=False, slots=True)
class Rows:
    """Visits, what was worn, or settings of braces: a row each, person after person.

    Attributes
    ----------
    person : Codes, shape (n_rows,)
        Place of the person among all; rising.
    number : Codes, shape (n_rows,)
        Of the visit; of a setting that of its brace.
    facts : mapping of column to Codes, shape (n_rows,)
        Places in the words of the fact; 0 where nothing is recorded.
    """

    person: Codes
    number: Codes
    facts: Mapping[str, Codes]


@dataclass(frozen=True, eq=False, slots=True)
class Everybody:
    """What is counted of all people of a study.

    Attributes
    ----------
    names : tuple of str
        As the study calls them, rising; a person is meant by the place.
    people : mapping of fact to Codes
        One of each person.
    visits : Rows
        Also ``age_band`` and ``kind``.
    worn : Rows
        Also ``code`` of the condition, ``orthosis_class`` of those with a brace, and ``brace`` and
        ``setting``, which are numbers and no words.
    settings : Rows
        One of each brace, with ``setting`` 0 and ``orthosis_class``, then one of each setting.
    visit_of : ndarray, shape (n_worn,)
        Row of its visit.
    words : mapping of fact to tuple of str
        The first is empty.
    """

    names: tuple[str, ...]
    people: Mapping[str, Codes]
    visits: Rows
    worn: Rows
    settings: Rows
    visit_of: NDArray[np.int64]
    words: Mapping[str, tuple[str, ...]]
    own_errors: OwnErrors | None = None
    typical: Mapping[str, OwnRange] | None = None

    def is_one_of(self, rows: Rows, name: str, words: Iterable[str]) -> Mask:
        """Return which rows have one of some words."""
        wanted = frozenset(words)
        has_it = np.array([word in wanted for word in self.words[name]], dtype=bool)
        found: Mask = has_it[rows.facts[name]]
        return found

    def words_of(self, rows: Rows, name: str) -> list[str]:
        """Return the words that occur in a column."""
        return [self.words[name][code] for code in np.unique(rows.facts[name]).tolist()]

    def columns(self, name: str) -> Iterator[tuple[Rows, Codes]]:
        """Yield what holds words of a fact."""
        for rows in (self.visits, self.worn, self.settings):
            for column, codes in rows.facts.items():
                if _OF_VISITS.get(column, column) == name:
                    yield rows, codes


def counted(parts: Iterable[CohortSource]) -> Everybody:
    """Return what is counted of people.

    Parameters
    ----------
    parts : iterable of CohortSource
        At least one, as a study gives them, each of other people than the one before; in the order
        of their names.
    """
    return counted_closed(map(_closed, parts))


def counted_closed(parts: Iterable[CohortSource]) -> Everybody:
    """Return what is counted of people from closed sources that call them as the study does."""
    packing = _Packing()
    for part in parts:
        packing.add(part)
    return packing.everybody()


def _closed(part: CohortSource) -> CohortSource:
    bare = replace(
        part,
        walks=(),
        rejected={},
        damaged={},
        exclusions=part.exclusions.iloc[:0],
        again=None,
        aims={},
    )
    return closed(bare, {str(person): str(person) for person in part.people["person"]})


@dataclass(slots=True)
class _Packing:
    """Rows as they come."""

    names: list[str] = field(default_factory=list)
    last: CohortSource | None = None
    _words: dict[str, dict[str, int]] = field(default_factory=dict)
    _cells: dict[tuple[str, str], list[NDArray[np.int32]]] = field(default_factory=dict)

    def add(self, part: CohortSource) -> None:
        """Pack some people.

        Raises
        ------
        ValueError
            They do not come in the order of their names.
        """
        people = [str(person) for person in part.people["person"]]
        places = {person: place for place, person in enumerate(people, len(self.names))}
        self.names += people
        if any(one >= other for one, other in zip(self.names, self.names[1:], strict=False)):
            raise ValueError("people have to come in the order of their names")
        self.last = part
        for name in OF_PERSON:
            self._add_words("people", name, name, map(str, part.people[name]))
        self._add_visits(part, places)
        self._add_worn(part, places)
        self._add_settings(part, places)

    def _add_visits(self, part: CohortSource, places: Mapping[str, int]) -> None:
        visits = part.visits
        self._add_numbers("visits", "person", [places[str(name)] for name in visits["person"]])
        self._add_numbers("visits", "number", map(int, visits["visit"]))
        for name in ("age_band", "kind"):
            self._add_words("visits", name, name, map(str, visits[name]))
        for column, name in _OF_VISITS.items():
            values = visits[column] if column in visits.columns else [None] * len(visits)
            self._add_words("visits", column, name, (word_of_value(name, v) for v in values))

    def _add_worn(self, part: CohortSource, places: Mapping[str, int]) -> None:
        keys, worn = list(part.conditions), list(part.conditions.values())
        self._add_numbers("worn", "person", [places[person] for person, _, _ in keys])
        self._add_numbers("worn", "number", [int(visit) for _, visit, _ in keys])
        self._add_words("worn", "code", "code", [code for _, _, code in keys])
        for name in ("brace", "setting"):
            self._add_numbers("worn", name, [int(one.facts.get(name) or 0) for one in worn])
        classes = [(one.orthosis_class or NOT_RECORDED) if one.is_braced else "" for one in worn]
        self._add_words("worn", CLASS, CLASS, classes)
        self._add_counted("worn", [one.facts for one in worn])

    def _add_settings(self, part: CohortSource, places: Mapping[str, int]) -> None:
        rows = [
            (places[person], int(brace), int(setting), facts, setting == "0")
            for person, braces in part.braces.items()
            for brace, own in braces.items()
            for setting, facts in chain([("0", own.facts)], own.settings.items())
        ]
        rows.sort(key=lambda row: row[:3])
        keys = zip(*(row[:3] for row in rows), strict=True) if rows else ((), (), ())
        for name, own_numbers in zip(("person", "number", "setting"), keys, strict=True):
            self._add_numbers("settings", name, own_numbers)
        own = [row[3].get(CLASS, NOT_RECORDED) if row[4] else "" for row in rows]
        self._add_words("settings", CLASS, CLASS, own)
        self._add_counted("settings", [row[3] for row in rows])

    def _add_counted(self, table: str, facts: Sequence[Mapping[str, Any]]) -> None:
        for name in (*SEEN, *EXAMINED):
            if name not in OF_LEG:
                words = (word_of_value(name, own.get(name)) for own in facts)
                self._add_words(table, name, name, words)

    def _add_words(self, table: str, column: str, name: str, words: Iterable[str]) -> None:
        known = self._words.setdefault(name, {"": 0})
        self._add_numbers(table, column, [known.setdefault(word, len(known)) for word in words])

    def _add_numbers(self, table: str, column: str, numbers: Iterable[int]) -> None:
        own = np.array(list(numbers), dtype=np.int32)
        self._cells.setdefault((table, column), []).append(own.astype(_smallest(own)))

    def everybody(self) -> Everybody:
        """Return all that was packed."""
        visits, worn = self._rows("visits"), self._rows("worn")
        step = 1 + int(max(visits.number.max(initial=0), worn.number.max(initial=0)))
        keys, own = (each.person.astype(np.int64) * step + each.number for each in (visits, worn))
        return Everybody(
            tuple(self.names),
            {name: self._column("people", name) for name in OF_PERSON},
            visits,
            worn,
            self._rows("settings"),
            np.searchsorted(keys, own),
            {name: tuple(words) for name, words in self._words.items()},
            None if self.last is None else self.last.own_errors,
            None if self.last is None else self.last.typical,
        )

    def _rows(self, table: str) -> Rows:
        names = [name for own, name in self._cells if own == table]
        facts = {name: self._column(table, name) for name in names}
        return Rows(facts.pop("person"), facts.pop("number"), facts)

    def _column(self, table: str, name: str) -> Codes:
        own = np.concatenate(self._cells.pop((table, name)))
        return own.astype(_smallest(own))


def _smallest(numbers: NDArray[Any]) -> Any:
    return np.min_scalar_type(int(numbers.max(initial=0)))

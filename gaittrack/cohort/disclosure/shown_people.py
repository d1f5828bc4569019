"""Which people, visits and conditions are meant or shown, and what can be known of them.

In come what is counted of everybody and what is withheld or selected, out come :class:`Meant` and
:class:`KnownFacts`: every word that any visit, brace or condition that is shown gives.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from gaittrack.cohort.disclosure.counted_facts import CLASS, Codes, Everybody, Rows
from gaittrack.cohort.disclosure.known_facts import ANCHORS, CORE, EXAMINED, SEEN
from gaittrack.cohort.disclosure.people_bits import Bits, Mask, mask_of, packed
from gaittrack.cohort.tables.selection import EVERYBODY, Selection
from gaittrack.cohort.tables.table import PEOPLE_NAMES
from gaittrack.record.wording import NOT_RECORDED


@dataclass(frozen=True, eq=False, slots=True)
class Meant:
    """What is shown of everybody: masks over people and over rows."""

    people: Mask
    visits: Mask
    worn: Mask
    settings: Mask

    def n_visits(self, everybody: Everybody) -> NDArray[np.int64]:
        """Return the visits of each person that are shown."""
        own = everybody.visits.person[self.visits]
        return np.bincount(own, minlength=len(everybody.names))


def all_shown(everybody: Everybody) -> Meant:
    """Return that everything is shown; of people without a visit there is nothing to show."""
    people = mask_of(everybody.visits.person, len(everybody.names))
    visits, worn = (
        np.ones(len(each.person), dtype=bool) for each in (everybody.visits, everybody.worn)
    )
    return Meant(people, visits, worn, people[everybody.settings.person])


def shown_at(everybody: Everybody, meant: Meant, visits: Mask, worn: Mask | None = None) -> Meant:
    """Return what is left with some visits only, and some conditions; people without one go."""
    people = mask_of(everybody.visits.person[visits], len(everybody.names))
    own = meant.worn & visits[everybody.visit_of]
    settings = meant.settings & people[everybody.settings.person]
    return Meant(people, visits, own if worn is None else own & worn, settings)


def selected(everybody: Everybody, selection: Selection, people: Collection[str]) -> Meant:
    """Return the visits and conditions that fit of people who fit, as ``select_source``."""
    every = all_shown(everybody)
    if selection == EVERYBODY:
        return every
    wanted, own = frozenset(people), everybody.visits
    fits = np.array([name in wanted for name in everybody.names], dtype=bool)
    visits = fits[own.person]
    if selection.visit_kind:
        visits &= everybody.is_one_of(own, "kind", selection.visit_kind)
    if selection.visit_no:
        visits &= np.isin(own.number, selection.visit_no)
    if not selection.condition_code:
        return shown_at(everybody, every, visits)
    worn = everybody.is_one_of(everybody.worn, "code", selection.condition_code)
    visits &= mask_of(everybody.visit_of[worn], len(visits))
    return shown_at(everybody, every, visits, worn)


def with_worn_settings(everybody: Everybody, shown: Meant, whose: Mask) -> Meant:
    """Return what is shown with those settings only, of some people, that are worn at visits."""
    worn, rows = everybody.worn, everybody.settings
    step = 1 + int(max(rows.number.max(initial=0), rows.facts["setting"].max(initial=0)))
    braces = (rows.person.astype(np.int64) * step + rows.number) * step
    is_used = np.isin(braces + rows.facts["setting"], _named(worn, step)[shown.worn])
    is_used &= rows.facts["setting"] > 0
    has_one = np.isin(braces, braces[is_used & shown.settings])
    kept = np.where(rows.facts["setting"] > 0, is_used, has_one) | ~whose[rows.person]
    return replace(shown, settings=shown.settings & kept)


def _named(worn: Rows, step: int) -> NDArray[np.int64]:
    braces = worn.person.astype(np.int64) * step + worn.facts["brace"]
    return braces * step + worn.facts["setting"]


def people_shown(everybody: Everybody, shown: Meant) -> pd.DataFrame:
    """Return the table ``people`` of those who are shown; as ``table.people_table``."""
    there = np.flatnonzero(shown.people)
    words = {
        name: np.array(everybody.words[name], dtype=object)[codes[there]]
        for name, codes in everybody.people.items()
    }
    columns = {
        "export_id": [everybody.names[place] for place in there],
        "age_band": _first_ages(everybody, shown)[there],
        **words,
        "brace_classes": _classes(everybody, shown)[there],
        "n_visits": shown.n_visits(everybody)[there],
    }
    return pd.DataFrame(columns, columns=list(PEOPLE_NAMES))


def _first_ages(everybody: Everybody, shown: Meant) -> NDArray[np.object_]:
    """Return the age band of each person at the first visit that is shown."""
    rows = everybody.visits
    people, first = np.unique(rows.person[shown.visits], return_index=True)
    found = np.full(len(everybody.names), NOT_RECORDED, dtype=object)
    words = np.array(everybody.words["age_band"], dtype=object)
    found[people] = words[rows.facts["age_band"][shown.visits][first]]
    return found


def _classes(everybody: Everybody, shown: Meant) -> NDArray[np.object_]:
    """Return the classes of all braces of each person, in the order of the alphabet."""
    found = np.full(len(everybody.names), "none", dtype=object)
    held: dict[tuple[str, ...], str] = {}
    own: dict[int, tuple[str, ...]] = {}
    words = everybody.words[CLASS]
    both = ((everybody.worn, shown.worn), (everybody.settings, shown.settings))
    for code in sorted(range(1, len(words)), key=words.__getitem__):
        people = [rows.person[mask & (rows.facts[CLASS] == code)] for rows, mask in both]
        for place in np.unique(np.concatenate(people)).tolist():
            own[place] = (*own.get(place, ()), words[code])
    for place, classes in own.items():
        found[place] = held.setdefault(classes, "; ".join(classes))
    return found


@dataclass(frozen=True, eq=False, slots=True)
class KnownFacts:
    """Words of every fact.

    Attributes
    ----------
    there : Mask, shape (n_people,)
        Who is looked at, of all people.
    of : mapping of fact to mapping of word to Bits
        Who has each word; of what is not recorded there is a word in ``CORE`` and ``ANCHORS`` only.
    """

    there: Mask
    of: Mapping[str, Mapping[str, Bits]]

    @property
    def n(self) -> int:
        """Places of people, whether they are looked at or not."""
        return len(self.there)

    def any_word(self, name: str) -> Bits:
        """Return of whom there is a word of a fact."""
        none = packed(np.zeros(self.n, dtype=bool))
        found: Bits = np.bitwise_or.reduce([none, *self.of[name].values()])
        return found


def known_facts(everybody: Everybody, shown: Meant) -> KnownFacts:
    """Return what can be known of the people who are shown."""
    table = people_shown(everybody, shown)
    there = np.flatnonzero(shown.people)
    found: dict[str, dict[str, Bits]] = {}
    for name in (*CORE, *ANCHORS):
        found[name] = {}
        for word, places in table.groupby(name, sort=False).indices.items():
            found[name][str(word)] = packed(mask_of(there[places], len(shown.people)))
    masks = {
        id(everybody.visits): shown.visits,
        id(everybody.worn): shown.worn,
        id(everybody.settings): shown.settings,
    }
    for name in ("age_band", *SEEN, *EXAMINED):
        own = found.setdefault(name, {})
        for rows, codes in everybody.columns(name):
            for word, people in _people_by_word(everybody, name, rows, codes, masks[id(rows)]):
                bits = packed(mask_of(people, len(shown.people)))
                own[word] = own[word] | bits if word in own else bits
    return KnownFacts(shown.people, found)


def _people_by_word(
    everybody: Everybody, name: str, rows: Rows, codes: Codes, is_shown: Mask
) -> Iterator[tuple[str, Codes]]:
    """Yield each word of a column with the places of who has it."""
    there = np.flatnonzero(is_shown & (codes > 0))
    order = there[np.argsort(codes[there], kind="stable")]
    found, starts = np.unique(codes[order], return_index=True)
    for code, own in zip(found.tolist(), np.split(order, starts)[1:], strict=True):
        word = everybody.words[name][code]
        if name != "age_band" or word != NOT_RECORDED:  # that of the first visit is told already
            yield word, rows.person[own]

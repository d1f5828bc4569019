"""Which two ways of walking the page for the person can compare, and how they are called.

In come the conditions of a person and the visit looked at, out come the pairs: with the brace
against without on that day, and each condition of that day against its first visit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from gaittrack.compare.fair.fair_pair import choose_reference
from gaittrack.record.visit_facts import VisitFacts
from gaittrack.report.language import Audience, Language
from gaittrack.report.person_words import Called, Kind
from gaittrack.study.results.comparing import StoredCondition

ADULT_YEARS: Final = 15.0
"""Below it the page is written for a parent; own choice, as the bands of age have it."""
CHILD_BANDS: Final = ("0-4", "5-9", "10-14")


@dataclass(frozen=True, slots=True)
class PersonView:
    """One pair to compare."""

    kind: Kind
    reference: StoredCondition
    own: StoredCondition

    @property
    def key(self) -> str:
        """Tell the pair from others of the person, by row numbers."""
        return f"{self.reference.id}-{self.own.id}"

    @property
    def title(self) -> str:
        """What is compared, for whoever chooses."""
        if self.kind == "visits":
            return f"{self.own.code}: {self.reference.visit} and {self.own.visit}"
        return f"{self.own.visit}: {self.own.code} and {self.reference.code}"

    def called(self, language: Language, person: str) -> Called:
        """Return how the two sides are called.

        Parameters
        ----------
        person : str
            Code.
        """
        texts, where = language.texts, f"{person} · {self.own.visit}"
        if self.kind == "visits":
            worn = _worn_at_both(self, language)
            return Called("visits", texts["when.before"], texts["when.now"], worn, where)
        before, here = (_named(one, self.kind, language) for one in (self.reference, self.own))
        return Called(self.kind, before, here, "", where)


def _named(one: StoredCondition, kind: Kind, language: Language) -> str:
    if kind == "named":
        return language.texts["when.named"].format(name=one.code)
    return language.texts["when.with_brace" if one.worn.is_braced else "when.without_brace"]


def _worn_at_both(view: PersonView, language: Language) -> str:
    braced = {view.reference.worn.is_braced, view.own.worn.is_braced}
    if braced == {True}:
        return language.texts["page.both_with"]
    return language.texts["page.both_without"] if braced == {False} else ""


def audiences_of(visit: VisitFacts | None) -> tuple[Audience, Audience]:
    """Return for whom a page can be written, the first unless somebody chooses."""
    facts = {} if visit is None else visit.facts
    years = facts.get("age_years")
    if facts.get("age_band") in CHILD_BANDS or (years is not None and years < ADULT_YEARS):
        return "parent", "child"
    return "person", "relatives"


def views_of(
    conditions: Sequence[StoredCondition], visit_id: int | None = None
) -> list[PersonView]:
    """Return the pairs that can be compared at a visit, the first to be shown first.

    Parameters
    ----------
    conditions : sequence of StoredCondition
        Of one person, in the order of time.
    visit_id : int, optional
        Row number of the visit looked at; the last one with walks when not given, or not there.

    Returns
    -------
    list of PersonView
        Empty when there is nothing to compare.
    """
    walked = [one for one in conditions if one.n_walks]
    if not walked:
        return []
    visits = list(dict.fromkeys(one.visit_id for one in conditions))
    wanted = visit_id if visit_id in {one.visit_id for one in walked} else walked[-1].visit_id
    day = [one for one in walked if one.visit_id == wanted]
    earlier = [one for one in walked if visits.index(one.visit_id) < visits.index(wanted)]
    return _of_one_day(day) + _over_visits(day, earlier)


def _of_one_day(day: Sequence[StoredCondition]) -> list[PersonView]:
    bare = [one for one in day if one.worn.is_braced is False]
    braced = [one for one in day if one.worn.is_braced]
    if bare and braced:
        worn = [each.worn for each in bare]
        fair = [bare[choose_reference([*worn, one.worn])] for one in braced]
        return [PersonView("brace", *pair) for pair in zip(fair, braced, strict=True)]
    return [PersonView("named", day[0], one) for one in day[1:]]


def _over_visits(
    day: Sequence[StoredCondition], earlier: Sequence[StoredCondition]
) -> list[PersonView]:
    braced_first = sorted(day, key=lambda one: not one.worn.is_braced)
    pairs = (
        (next((old for old in earlier if old.code == one.code), None), one) for one in braced_first
    )
    return [PersonView("visits", old, one) for old, one in pairs if old is not None]

"""Which two ways of walking the page for the person can compare, and how they are called.

In come the conditions of a person and the visit looked at, out come the pairs: with the brace
against without on that day, and each condition of that day against its first visit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from gaittrack.compare.fair_pair import choose_reference
from gaittrack.report.language import Language
from gaittrack.report.person_words import Called, Kind
from gaittrack.study.results.comparing import StoredCondition


@dataclass(frozen=True, slots=True)
class PersonView:
    """One pair to compare.

    Attributes
    ----------
    is_first_visit : bool
        Whether the reference was walked at the person's first visit.
    """

    kind: Kind
    reference: StoredCondition
    own: StoredCondition
    is_first_visit: bool = True

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
        before, here = (_named(one, self.kind, language) for one in (self.reference, self.own))
        worn = ""
        if self.kind == "visits":
            before = language.say(
                "when.first_visit" if self.is_first_visit else "when.earlier_visit"
            )
            here = language.say("when.this_visit")
            worn = _worn_at_both(self, language)
        return Called(self.kind, before, here, worn, f"{person} · {self.title}")


def _named(one: StoredCondition, kind: Kind, language: Language) -> str:
    if kind == "named":
        return language.say("when.named", name=one.code)
    return language.say("when.with_brace" if one.worn.is_braced else "when.without_brace")


def _worn_at_both(view: PersonView, language: Language) -> str:
    braced = {view.reference.worn.is_braced, view.own.worn.is_braced}
    if braced == {True}:
        return language.say("page.both_with")
    return language.say("page.both_without") if braced == {False} else ""


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
    return _of_one_day(day) + _over_visits(day, earlier, visits[0])


def _of_one_day(day: Sequence[StoredCondition]) -> list[PersonView]:
    bare = [one for one in day if one.worn.is_braced is False]
    braced = [one for one in day if one.worn.is_braced]
    if bare and braced:
        worn = [each.worn for each in bare]
        fair = [bare[choose_reference([*worn, one.worn])] for one in braced]
        return [PersonView("brace", *pair) for pair in zip(fair, braced, strict=True)]
    return [PersonView("named", day[0], one) for one in day[1:]]


def _over_visits(
    day: Sequence[StoredCondition], earlier: Sequence[StoredCondition], first_visit: int
) -> list[PersonView]:
    braced_first = sorted(day, key=lambda one: not one.worn.is_braced)
    pairs = (
        (next((old for old in earlier if old.code == one.code), None), one) for one in braced_first
    )
    return [
        PersonView("visits", old, one, old.visit_id == first_visit)
        for old, one in pairs
        if old is not None
    ]

"""The page of the chosen person, made from what is stored.

In come the choice of a browser tab, a pair, a language and an audience, out comes the page.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from gaittrack.report.language import Audience, language, language_codes
from gaittrack.report.patient import MEASURES_NEEDED, PersonPage, person_page
from gaittrack.report.person_views import PersonView, audiences_of, views_of
from gaittrack.study.people.facts import facts_of_conditions
from gaittrack.study.results.comparing import StoredComparison, compare_stored, conditions_of
from gaittrack.study.results.keeping import stale_trials
from gaittrack.study.store import Study

FILE_NAME: Final = "walking.html"
Choice = dict[str, int] | None
"""Row numbers of this browser tab."""


@dataclass(frozen=True, slots=True)
class Written:
    """A page, and for whom it can be written."""

    page: PersonPage
    audiences: tuple[Audience, Audience]
    audience: Audience


def views(study: Study, chosen: Choice) -> list[PersonView]:
    """Return the pairs of the chosen person and visit."""
    person = (chosen or {}).get("person")
    if person is None:
        return []
    return views_of(conditions_of(study, person), (chosen or {}).get("visit"))


def write(
    study: Study, chosen: Choice, pair: str | None, code: str | None, audience: str | None
) -> Written | None:
    """Return the page of the chosen person, or None when there is nothing to compare.

    Parameters
    ----------
    pair : str or None
        Key of a :class:`PersonView`; one that is not of this person gives the first of theirs.
    code : str or None
        Of the language; English for one that is not shipped.
    audience : str or None
        Who is spoken to; one that is not for this person gives the first that is.
    """
    offered = views(study, chosen)
    if not offered:
        return None
    view = next((each for each in offered if each.key == pair), offered[0])
    rows = (view.reference.id, view.own.id)
    found = compare_stored(study, rows, reference=rows[0], measures=MEASURES_NEEDED, joints=())
    if not found.comparison.rows:
        return None
    facts = facts_of_conditions(study, [view.own.id])
    visit = facts.visits[-1] if facts else None
    audiences = audiences_of(visit)
    own = next((each for each in audiences if each == audience), audiences[0])
    words = language(code if code in language_codes() else language_codes()[0])
    page = person_page(
        found.comparison,
        found.records,
        view.called(words, found.person),
        words,
        audience=own,
        visit=visit,
        n_stale=_n_stale(study, found, view),
    )
    return Written(page, audiences, own)


def _n_stale(study: Study, found: StoredComparison, view: PersonView) -> int:
    shown = {(one.visit, one.code) for one in (view.reference, view.own)}
    stale = stale_trials(study, person=found.person, damaged=found.damaged)
    return sum((trial.visit, trial.condition) in shown for trial, _ in stale)

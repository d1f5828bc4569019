"""The page for the file or the payer: what a brace changes, on two printed A4 sheets.

In come comparisons of stored walks, of one visit or of several, out comes HTML that loads nothing
from anywhere. It names the person by code only, and no file. What an answer says stands first; what
it is made of, and what could not be told, on the second sheet.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

from gaittrack import __version__
from gaittrack.answer import Answer, answers, several_sentences
from gaittrack.answer.outcome_words import source_words
from gaittrack.answer.outcomes import outcomes
from gaittrack.errors import StudyError
from gaittrack.figures.plain_numbers import with_minus
from gaittrack.notice import NOTICE
from gaittrack.record.visit_facts import PersonFacts, VisitFacts
from gaittrack.report import clinic_facts, clinic_fit, clinic_results, html_parts
from gaittrack.report.clinic_results import Effect
from gaittrack.report.comparison_page import page_title, walk_counts
from gaittrack.report.outcome_tables import everyday_lines
from gaittrack.study.history import current_user
from gaittrack.study.people.facts import facts_of_conditions
from gaittrack.study.people.things import kept_things
from gaittrack.study.results.compared_trials import (
    ComparedTrial,
    compared_trials,
    hash_of_settings,
    visits_of,
)
from gaittrack.study.results.comparing import StoredComparison
from gaittrack.study.store import Study

MOST_EFFECTS: Final = 3
"""Braces, settings or visits beside one another: what fits on two sheets."""


@dataclass(frozen=True, slots=True)
class Made:
    """Who made a page, and when."""

    by: str
    on: str


def made_now(by: str = "") -> Made:
    """Return who makes a page today: the one who is named, else who runs the program."""
    return Made(by or current_user(), date.today().isoformat())


def clinic_page(study: Study, found: Sequence[StoredComparison], made: Made | None = None) -> str:
    """Return comparisons as a page for the file.

    Parameters
    ----------
    found : sequence of StoredComparison
        Of one person: one, or one for each visit.

    Raises
    ------
    StudyError
        More effects than fit.
    """
    effects = _effects(found)
    if len(effects) > MOST_EFFECTS:
        raise StudyError.of(
            "page_holds_fewer_effects", where="conditions", n_most=MOST_EFFECTS, n=len(effects)
        )
    person = facts_of_conditions(study, [key for each in found for key in each.names])
    visits = person.visits if person else ()
    trials = [compared_trials(study, one) for one in found]
    sheets = [
        _first_sheet(study, found, effects, person),
        _second_sheet(found, effects, visits),
    ]
    title = page_title(found[-1].comparison)
    drawn = html_parts.filled(
        "clinic.html",
        title=title,
        head_text=_running_head(study, found, effects),
        who=clinic_facts.who_words(person),
        warnings=_warnings([each for own in trials for each in own]),
        sheets=sheets,
        fits=[clinic_fit.first_fit(sheets[0]), clinic_fit.second_fit(sheets[1])],
        made=made or made_now(),
        notice=NOTICE,
        stamp=_made_with(found, trials),
        labels=[each.label for each in effects],
        pairs=[_pair(each.answer) for each in effects],
    )
    styles = ("board.css", "clinic.css")
    return html_parts.page(title, [drawn], styles=styles, has_heading=False, kind="file-page")


def _effects(found: Sequence[StoredComparison]) -> list[Effect]:
    """Return what stands in a column each: conditions of one visit, the brace at each visit."""
    effects: list[Effect] = []
    for one in found:
        told = answers(one.comparison)
        visits = {record.session for record in one.records}
        for answer in told:
            names = [*(sorted(map(str, visits)) if len(found) > 1 else [])]
            names += [answer.condition] if len(told) > 1 else []
            effects.append(Effect(", ".join(names), answer, one.comparison))
    return effects


def _pair(answer: Answer) -> tuple[str, str]:
    """Return what reference and condition are called over their values."""
    if answer.is_brace_against_none:
        return "without", "with"
    return answer.reference, answer.condition


def _running_head(
    study: Study, found: Sequence[StoredComparison], effects: Sequence[Effect]
) -> str:
    days = {code: day for one in found for code, day in visits_of(study, one).items()}
    visits = "; ".join(f"{code} ({day})" for code, day in days.items())
    legs = dict.fromkeys(side for each in effects for side in each.answer.legs)
    sides = "both legs" if len(legs) > 1 else f"{next(iter(legs))} leg"
    return f"{visits} · {sides} · page for the file"


def _first_sheet(
    study: Study,
    found: Sequence[StoredComparison],
    effects: Sequence[Effect],
    person: PersonFacts | None,
) -> dict[str, object]:
    visits = person.visits if person else ()
    with study.read() as connection:
        things = kept_things(connection, person.id) if person else []
    return {
        "code": found[0].person,
        "sentences": _sentences(found),
        "questions": clinic_results.question_lines(effects),
        "shapes": clinic_results.shapes(),
        "aims": clinic_facts.aim_lines(things, visits),
        "worn": clinic_facts.worn_lines(
            [(name, one.comparison) for one, name in zip(found, _names_of(found), strict=True)]
        ),
        "examined": clinic_facts.examined(visits),
    }


def _names_of(found: Sequence[StoredComparison]) -> list[str]:
    if len(found) == 1:
        return [""]
    return [", ".join(sorted({str(record.session) for record in one.records})) for one in found]


def _sentences(found: Sequence[StoredComparison]) -> list[str]:
    told: list[str] = []
    for one, name in zip(found, _names_of(found), strict=True):
        own = [with_minus(each) for each in several_sentences(answers(one.comparison))]
        told += [f"{name}: {each}" for each in own] if name else own
    return told


def _second_sheet(
    found: Sequence[StoredComparison],
    effects: Sequence[Effect],
    visits: Sequence[VisitFacts],
) -> dict[str, object]:
    comparisons = [each.comparison for each in found]
    everyday = source_words(outcomes(comparisons[-1]))
    return {
        "walks": " ".join(map(walk_counts, comparisons)),
        "results": clinic_results.result_table(effects),
        "doubts": clinic_results.doubt_words(effects),
        "typical": clinic_results.typical_words(effects),
        "other_leg": clinic_results.other_leg_words(effects),
        "looked_at": clinic_results.looked_at(effects, visits),
        "untold": clinic_results.untold(effects),
        "unrecorded": clinic_facts.unrecorded(comparisons, visits),
        "measured": clinic_results.how_measured(comparisons),
        "errors": [*clinic_results.error_lines(effects), *((of, names) for names, of in everyday)],
        "everyday": list(everyday_lines(_names_of(found)[-1], comparisons[-1], visits)),
    }


def _warnings(trials: Sequence[ComparedTrial]) -> list[str]:
    stale = [each for each in trials if each.why_stale]
    missing = [each for each in trials if each.why_not]
    told = []
    if stale:
        why = "; ".join(dict.fromkeys(each.why_stale for each in stale))
        told.append(f"{len(stale)} of {len(trials)} results are stale: {why}.")
    if missing:
        told.append(f"{len(missing)} of {len(trials)} recordings give no number.")
    return told


def _made_with(found: Sequence[StoredComparison], trials: Sequence[Sequence[ComparedTrial]]) -> str:
    used = [each for own in trials for each in own if not each.why_not]
    versions = ", ".join(sorted({each.stamp[1] for each in used}))
    hashes = [hash_of_settings(one, own) for one, own in zip(found, trials, strict=True)]
    return (
        f"gaittrack {__version__}; walks measured by {versions}. "
        f"Files, settings and choices: SHA-256 {', '.join(hashes)}."
    )

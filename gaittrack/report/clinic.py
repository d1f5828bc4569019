"""The page for the file or the payer: a comparison on one or two printed A4 sheets.

In comes a comparison of stored walks, out comes HTML that loads nothing from anywhere. It names the
person by code only, and no file.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from html import escape
from typing import Final

from gaittrack import __version__
from gaittrack.answer import answers
from gaittrack.compare.row_words import (
    unit_words,
)
from gaittrack.compare.rows import ComparisonRow
from gaittrack.compare.walks import MEASURE_BY_NAME
from gaittrack.errors import StudyError
from gaittrack.notice import NOTICE
from gaittrack.record.registry import CONDITION, FACTS, LEG
from gaittrack.record.wording import NOT_RECORDED, fact_label, full_label
from gaittrack.report.answer_board import answer_html
from gaittrack.report.comparison_page import (
    fairness,
    page_title,
    unseen_words,
    walk_counts,
)
from gaittrack.report.comparison_tables import (
    NONE_WORN,
    sources_of_errors,
    what_was_worn,
)
from gaittrack.report.html_parts import page, paragraph, terms
from gaittrack.report.outcome_tables import EVERYDAY, outcome_sources_html, outcomes_html
from gaittrack.report.page_figures import ankle_figure, key_of_conditions
from gaittrack.study.people.facts import (
    BODY,
    EXAMINATION,
    PersonFacts,
    examined_points,
    facts_of_conditions,
    person_words,
    visit_table,
)
from gaittrack.study.results.compared_trials import (
    ComparedTrial,
    compared_trials,
    hash_of_settings,
    visits_of,
)
from gaittrack.study.results.comparing import StoredComparison
from gaittrack.study.store import Study
from gaittrack.vocabulary import Joint

JOINTS: Final[tuple[Joint, ...]] = ("ankle",)
"""Whose curves are on the page."""
N_CONDITIONS: Final = 2
"""The reference and one more: what fits on two sheets whatever must be said of it."""
_READING: Final = (
    "Values are means of walks. Interval: 95 %, with the walk as the unit and what putting markers "
    "on again can do; below it that of the walks alone. Error: the smallest difference beyond "
    "measurement error. Questions asked at once are judged as one family (Holm). 'Not shown' says "
    "nothing of how small a change is."
)
_FAIRNESS_FIELDS: Final = (
    *("orthosis", "orthosis_side", "days_worn", "footwear", "heel_sole_differential_mm"),
    *(
        "walking_aid",
        "hand_support",
        "speed_instruction",
        "markers_replaced",
        "markers_put_on_again",
    ),
)


def clinic_page(study: Study, found: StoredComparison) -> str:
    """Return a comparison as a page for the file.

    Parameters
    ----------
    found : StoredComparison
        With the curves of ``JOINTS``.

    Raises
    ------
    StudyError
        More conditions than fit.
    """
    if len(found.names) > N_CONDITIONS:
        raise StudyError.of(
            "page_holds_fewer_conditions",
            where="conditions",
            n_conditions=N_CONDITIONS,
            n_names=len(found.names),
        )
    styles = ("comparison.css", "board.css", "clinic.css")
    return page(page_title(found.comparison), _sections(study, found), styles=styles)


def _sections(study: Study, found: StoredComparison) -> Iterator[str]:
    comparison = found.comparison
    trials = compared_trials(study, found)
    person = facts_of_conditions(study, list(found.names))
    visits = person.visits if person else ()
    told = answers(comparison)
    yield from _warnings(trials)
    for answer in told:
        yield answer_html(answer, examined=examined_points(visits))
    yield paragraph(f"{_READING} {comparison.settings['caution']}", kind="soft")
    yield terms(_who_and_when(study, found, person))
    yield f"<h2>Is the comparison fair?</h2>{fairness(comparison)}"
    if everyday := outcomes_html(comparison, visits):
        yield f"<h2>{EVERYDAY}</h2>{everyday}"
    yield f'<div class="pair">{ankle_figure(comparison)}</div>'
    yield key_of_conditions(comparison)
    rows = [row for answer in told for finding in answer.findings for row in finding.rows]
    yield "<h2>What was measured, and where the errors come from</h2>"
    yield f'<div class="small">{terms(_definitions(rows))}{terms(_sources(rows))}'
    yield f"{outcome_sources_html(comparison)}</div>"
    yield paragraph(unseen_words(comparison, visits), kind="small")
    yield f'<p class="notice">{escape(NOTICE)}</p>'
    yield paragraph(_made_with(found, trials), kind="small hash")


_EXAMINED: Final = [fact_label(LEG.get(n) or FACTS["visit"][n]) for n in EXAMINATION]


def _who_and_when(
    study: Study, found: StoredComparison, person: PersonFacts | None
) -> Iterator[tuple[str, str]]:
    own = person_words(person) if person else []
    yield "Person", "; ".join([found.person, *(f"{name}: {words}" for name, words in own)])
    visits = visits_of(study, found)
    yield "Recorded", "; ".join(f"{code} ({day})" for code, day in visits.items())
    yield "Walks", walk_counts(found.comparison)
    rows, untold = what_was_worn(found.comparison)
    conditions = list(found.comparison.settings["conditions"])
    for place, name in enumerate(conditions, 1):
        told = [row for row in rows if row[place] not in (NOT_RECORDED, NONE_WORN)]
        worn = [f"{row[0]}: {row[place]}" for row in told]
        yield name, "; ".join(worn) or "nothing recorded of what was worn"
    not_said = [full_label(CONDITION[name]) for name in untold if name in _FAIRNESS_FIELDS]
    examined, unseen = visit_table(person.visits if person else (), (*EXAMINATION, *BODY))
    for place, visit in enumerate(person.visits if person else (), 1):
        facts = [f"{row[0]}: {row[place]}" for row in examined]
        yield f"Examination, {visit.code}", "; ".join(facts) or "nothing recorded"
    not_said += [name for name in unseen if name in _EXAMINED]
    if not_said:
        yield "Not recorded", ", ".join(not_said)


def _warnings(trials: Sequence[ComparedTrial]) -> Iterator[str]:
    stale = [each for each in trials if each.why_stale]
    missing = [each for each in trials if each.why_not]
    if stale:
        why = "; ".join(dict.fromkeys(each.why_stale for each in stale))
        yield paragraph(f"{len(stale)} of {len(trials)} results are stale: {why}.", kind="watch")
    if missing:
        yield paragraph(f"{len(missing)} of {len(trials)} recordings give no number.", kind="watch")


def _definitions(rows: Sequence[ComparisonRow]) -> Iterator[tuple[str, str]]:
    for name in dict.fromkeys(row.measure for row in rows):
        measure = MEASURE_BY_NAME[name]
        short = re.split(r"[:;] ", measure.definition)[0].rstrip(".")
        yield (
            f"{measure.title} ({unit_words(measure.unit)})",
            f"{short}. Positive: {measure.positive}",
        )


def _sources(rows: Sequence[ComparisonRow]) -> Iterator[tuple[str, str]]:
    for source, measures in sources_of_errors(rows):
        yield f"Error of {measures}", source


def _made_with(found: StoredComparison, trials: Sequence[ComparedTrial]) -> str:
    versions = sorted({each.stamp[1] for each in trials if not each.why_not})
    return (
        f"gaittrack {__version__}; walks measured by {', '.join(versions)}. "
        f"Files, settings and choices: SHA-256 {hash_of_settings(found, trials)}."
    )

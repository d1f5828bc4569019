"""A comparison as one page: offline, self-contained, readable on a screen, a phone and on paper.

In comes a comparison with its walks, out comes HTML that loads nothing from anywhere: style, script
and drawings are inside. It holds no file names, which may hold a person's.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from markupsafe import Markup

from gaittrack.answer import answers
from gaittrack.answer.outcome_words import source_words
from gaittrack.answer.outcomes import outcomes
from gaittrack.compare.comparison import Comparison
from gaittrack.compare.judged.watch import Status
from gaittrack.compare.row_words import (
    ALL_FAIR,
    count_words,
    fairness_points,
    family_words,
    sign_words,
)
from gaittrack.file_comparison import FileComparison
from gaittrack.notice import NOTICE
from gaittrack.record.visit_facts import VisitFacts, examined_points, examined_words
from gaittrack.report.board import answers_html
from gaittrack.report.comparison_tables import (
    definitions,
    examination,
    filters,
    interval_kinds,
    rows_table,
    settings_terms,
    sources_of_errors,
    typical_sources,
    walks_table,
    worn_table,
)
from gaittrack.report.html_parts import bullets, drawn, page, paragraph, terms
from gaittrack.report.outcome_tables import EVERYDAY, outcomes_html
from gaittrack.report.page_figures import (
    curve_figures,
    key_of_conditions,
    replay_figures,
)
from gaittrack.report.setting_panels import settings_html

EXAMINED: Final = "Examination on the day of the walks"
_READING: Final = (
    "Reference and here are means of walk values. The interval is of the difference, with the walk "
    "as the unit, and holds what putting the markers on again can do; that of the walks alone "
    "stands below it. Error is the smallest difference beyond measurement error. 'Not shown' says "
    "nothing of how small a change is."
)
CURVES_READING: Final = (
    "Lines: mean of walks; bands: 95 % for the whole mean curve at once. Shaded: stance, up to the "
    "earliest toe-off; upright lines: toe-off of each condition. Bar at the foot: where the "
    "conditions differ."
)
_STEPS_READING: Final = "Single steps: of more than 100 in a panel, evenly spaced ones."
REPLAY_READING: Final = (
    "One step each, from the recording's markers; the other leg is paler. It illustrates; the "
    "numbers above are of all walks."
)


def reading(comparison: Comparison) -> str:
    """Return how to read the rows of a comparison."""
    return " ".join(filter(None, (_READING, family_words(comparison))))


def unseen_words(comparison: Comparison, visits: Sequence[VisitFacts]) -> str:
    """Return what recordings cannot show, and what was examined of it at the visits."""
    return " ".join(filter(None, (comparison.settings["cannot_show"], examined_words(visits))))


def comparison_page(result: FileComparison, visits: Sequence[VisitFacts] = ()) -> str:
    """Return a comparison as an HTML page.

    Parameters
    ----------
    visits : sequence of VisitFacts
        What was examined when the walks were recorded; none for files, which do not tell.
    """
    title, parts = page_title(result.comparison), _sections(result, visits)
    return page(
        title,
        parts,
        styles=("comparison.css", "board.css", "several.css", "panels.css"),
        script="comparison.js",
    )


def page_title(comparison: Comparison) -> str:
    """Return what is compared with what, as a heading."""
    reference = comparison.settings["reference"]
    others = [name for name in comparison.settings["conditions"] if name != reference]
    return f"Walking: {', '.join(others)} against {reference}"


def _sections(result: FileComparison, visits: Sequence[VisitFacts]) -> Iterator[Markup]:
    comparison = result.comparison
    yield paragraph(walk_counts(comparison), kind="soft")
    told = answers(comparison)
    yield answers_html(told, examined=examined_points(visits))
    yield settings_html(told, comparison.settings["conditions"], by_date=len(visits) > 1)
    yield paragraph(comparison.settings["caution"], kind="soft")
    if everyday := outcomes_html(comparison, visits):
        yield _section(EVERYDAY, everyday)
    if visits:
        yield _section(EXAMINED, examination(visits))
    yield _section("Is the comparison fair?", fairness(comparison))
    yield _section("Through the step", _curves(result))
    yield _section("Walk replay", paragraph(REPLAY_READING, kind="soft") + replay_figures(result))
    yield _section("Signs looked for", _all_signs(comparison, visits))
    yield from _every_measure(comparison)
    yield _section("What was worn", worn_table(comparison))
    yield from _grounds(comparison)
    yield paragraph(NOTICE, kind="notice")


def _section(title: str, inside: Markup) -> Markup:
    return drawn("parts.section", title, inside)


def walk_counts(comparison: Comparison) -> str:
    """Return how many walks each condition has, the affected side and the version."""
    walks = comparison.settings["walks"]
    counts = ", ".join(
        f"{name}: {count_words(sum(walk['condition'] == name for walk in walks), 'walk')}"
        for name in comparison.settings["conditions"]
    )
    affected = comparison.settings["affected"]
    side = f" Affected side: {affected}." if affected else ""
    return f"{counts}.{side} gaittrack {comparison.settings['gaittrack_version']}."


def compared_conditions(comparison: Comparison) -> list[str]:
    """Return the conditions that are compared with the reference."""
    return list(dict.fromkeys(row.condition for row in comparison.rows))


def fairness(comparison: Comparison) -> Markup:
    """Return what differs between the conditions and what could not be checked."""
    if not comparison.fairness:
        return paragraph(ALL_FAIR)
    return Markup().join(
        paragraph(head) + bullets(texts) for head, texts in fairness_points(comparison).items()
    )


def _curves(result: FileComparison) -> Markup:
    button = Markup(
        '<div class="controls"><button type="button" id="show-steps" aria-pressed="false">'
        "Show single steps</button></div>"
    )
    reading = paragraph(f"{CURVES_READING} {_STEPS_READING}", kind="soft")
    return reading + key_of_conditions(result.comparison) + button + curve_figures(result)


def _all_signs(comparison: Comparison, visits: Sequence[VisitFacts]) -> Markup:
    words: dict[Status, str] = {
        "fires": "seen",
        "in_both": "seen in the reference too",
        "some_steps": "no sign",
        "clear": "not seen",
        "not_assessed": "not assessed",
    }
    texts = [f"{words[item.status]}: {sign_words(item)}" for item in comparison.watch]
    closing = paragraph(unseen_words(comparison, visits))
    return bullets(texts) + closing + paragraph(comparison.settings["caution"])


def _every_measure(comparison: Comparison) -> Iterator[Markup]:
    reference = comparison.settings["reference"]
    for condition in compared_conditions(comparison):
        inside = paragraph(reading(comparison), kind="soft") + rows_table(comparison, condition)
        yield _section(f"Every measure, {condition} against {reference}", inside)


def _grounds(comparison: Comparison) -> Iterator[Markup]:
    rows = comparison.rows
    yield _section("Walks, events and zero", walks_table(comparison))
    yield _section("Filters", filters(comparison))
    yield _section("How the intervals were made", interval_kinds(rows))
    sources = terms(sources_of_errors(rows)) + terms(source_words(outcomes(comparison)))
    yield _section("Measurement error and its sources", sources)
    yield _section("Typical ranges", typical_sources(comparison))
    yield _section("Settings", settings_terms(comparison))
    yield _section("Definitions", definitions(rows))

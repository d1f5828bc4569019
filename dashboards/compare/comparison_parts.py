"""A comparison as the screen shows it: what to watch, what changed, how fair; then the rest.

In comes a comparison of stored walks, out come components. Words and numbers are those of the page
that ``gaittrack compare`` writes. The rest, below the answer, is asked for by itself.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, Final

from dash import dcc, html
from dash.development.base_component import Component
from markupsafe import Markup as SafeText

from dashboards.compare.curve_panel import angles
from dashboards.parts.controls import aria, folded, table
from dashboards.parts.dash_private import Markup
from dashboards.parts.facts_shown import visit_facts
from dashboards.parts.markup import html_of, pressing
from dashboards.parts.outcomes_shown import compared_outcomes, shown_cell
from dashboards.parts.saving import BOTH, PICTURE, TABLE, save_menu
from dashboards.shell.handing_out import WHY_NOT
from gaittrack.answer import Answer
from gaittrack.compare.comparison import Comparison
from gaittrack.compare.judged.rows import ComparisonRow
from gaittrack.compare.row_words import (
    ALL_FAIR,
    count_words,
    fairness_points,
    shared_labels,
)
from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.reasons import Reason
from gaittrack.record.registry import CONDITION
from gaittrack.record.visit_facts import EXAMINATION, VisitFacts, examined_points
from gaittrack.record.wording import full_label
from gaittrack.report.board import answers_html
from gaittrack.report.clinic import MOST_EFFECTS
from gaittrack.report.comparison_page import (
    EXAMINED,
    compared_conditions,
    reading,
    unseen_words,
)
from gaittrack.report.comparison_tables import (
    ROW_HEADS,
    note_on_all,
    row_cells,
    rows_of,
    sources_of_errors,
    what_was_worn,
)
from gaittrack.report.setting_panels import settings_html
from gaittrack.study.results.compared_trials import ComparedTrial
from gaittrack.study.results.comparing import StoredComparison

ROW, GO = "compare-row", "compare-go"
"""Stores: keys of rows, of which the first's strides are asked for; the trial to look at."""
GROUP, SUMMARY = "compare-group", "compare-summary"
PAPER, EVERYTHING, WORKBOOK = "compare-paper", "compare-everything", "compare-workbook"
REPLAY, SHOW_REPLAY = "compare-replay", "compare-show-replay"
"""Stores but ``REPLAY``: what a button asks for; a page, a file, the replay."""
_STRIDES: Final = "Strides"


def answered(
    found: StoredComparison,
    told: Sequence[Answer],
    trials: Sequence[ComparedTrial],
    visits: Sequence[VisitFacts],
    *,
    may_export: bool,
) -> list[Component]:
    """Return the answer: what is below the fields up to the curves.

    Parameters
    ----------
    found : StoredComparison
        May lack rows, signs and walks.
    told : sequence of Answer
        Its answers.
    visits : sequence of VisitFacts
        What was found at the visits that are compared.
    may_export : bool
        Whether the visitor may take pages away.
    """
    comparison = found.comparison
    fair = html_of(_fairness(comparison))
    settings = settings_html(told, comparison.settings["conditions"], by_date=len(visits) > 1)
    saved = _saved(
        has_other_leg=any(each.other_leg for each in told),
        shows_settings='class="panels"' in settings,
    )
    return [
        *_about_recordings(trials),
        Markup(answers_html(told, examined=examined_points(visits), below=fair, opener=_opener)),
        Markup(settings),
        _papers(found, *saved) if may_export else html.P(WHY_NOT, className="soft no-print"),
        *compared_outcomes(comparison, visits),
    ]


def rest(found: StoredComparison, visits: Sequence[VisitFacts]) -> list[Component]:
    """Return what is below the answer, of a whole comparison; parameters as :func:`answered`."""
    comparison = found.comparison
    return [
        html.H2("Through the step"),
        *angles(found),
        _replay(),
        folded("What was worn", *_worn(comparison), className="card"),
        folded(EXAMINED, *_examined(comparison, visits), className="card"),
        folded("Every measure, with its strides", *_groups(comparison), className="card"),
        folded("Where the numbers come from", *_sources(comparison), className="card"),
    ]


def _opener(rows: Sequence[ComparisonRow]) -> SafeText:
    """Return the button that opens a line of the board: strides and source of its measures."""
    if not rows:
        return SafeText()
    opened = pressing(ROW, list(map(key_of, rows)))
    button = html.Button("›", className="opener", **aria(label=_strides_label(rows[0])), **opened)
    return html_of(button) or SafeText()


def key_of(row: ComparisonRow) -> tuple[str, str, str]:
    """Return what tells a row from all others of a comparison."""
    return row.measure, row.side, row.condition


def _strides_label(row: ComparisonRow) -> str:
    return f"Strides of {MEASURE_BY_NAME[row.measure].title}, {row.side}, {row.condition}"


def _about_recordings(trials: Sequence[ComparedTrial]) -> Iterator[Component]:
    stale = [each for each in trials if each.why_stale]
    if stale:
        why = "; ".join(dict.fromkeys(each.why_stale for each in stale))
        words = f"{len(stale)} of {len(trials)} results are stale ({why}): numbers below are old. "
        again = dcc.Link("Measure them again on the screen People", href="/")
        yield html.P([html.Strong(words), again, "."], className="watch")
    missing = [each for each in trials if each.why_not]
    if missing:
        lines = [html.Li([_name(each), f": {each.why_not} ", go_button(each)]) for each in missing]
        head = f"{len(missing)} of {len(trials)} recordings give no number:"
        yield html.Div([html.P(head), html.Ul(lines)], className="watch")


def _name(each: ComparedTrial) -> str:
    return f"{each.condition}, {each.trial.code}"


def go_button(each: ComparedTrial) -> Component:
    """Return the way from a recording to the screen Walks."""
    return html.Button(
        "Look at this walk",
        className="no-print",
        **aria(label=f"Look at this walk: {_name(each)}"),
        **pressing(GO, each.trial.id),
    )


def _examined(comparison: Comparison, visits: Sequence[VisitFacts]) -> Iterator[Component]:
    """Say what was examined, what recordings cannot show, and which signs were looked for."""
    yield from visit_facts(visits, EXAMINATION, EXAMINED)
    yield html.P(unseen_words(comparison, visits), className="soft")
    if clear := [item for item in comparison.watch if item.status == "clear"]:
        names = dict.fromkeys(str(Reason(item.sign)) for item in clear)
        yield html.P(f"Looked for and not seen: {', '.join(names)}.", className="soft")


def rows_table(comparison: Comparison, rows: Sequence[ComparisonRow], caption: str) -> Component:
    """Return rows of a comparison, each with the way to its strides."""
    shared = shared_labels(rows) if rows else ()
    lines = [_line(row, shared) for row in rows]
    heads = [*(cell.text for cell in ROW_HEADS), _STRIDES]
    numbers = [place for place, cell in enumerate(ROW_HEADS) if "number" in cell.kind]
    note = [html.P(note_on_all(shared), className="soft")] if shared else []
    shown = table(heads, lines, caption=caption, numbers=numbers)
    return html.Div([shown, *note], className="compare-rows")


def _line(row: ComparisonRow, shared: Sequence[Reason]) -> list[Any]:
    button = html.Button(
        _STRIDES,
        className="no-print",
        **aria(label=_strides_label(row)),
        **pressing(ROW, [key_of(row)]),
    )
    return [*map(shown_cell, row_cells(row, leave_out=shared)), button]


def _saved(*, has_other_leg: bool, shows_settings: bool) -> list[Component]:
    """Return the controls that save the board, that of the other leg, and the panels."""
    menus: list[Component] = [
        save_menu("board", BOTH, of="#compare-body .answer > .board", says="Save the board")
    ]
    if has_other_leg:
        other = "#compare-body .answer details .board"
        menus.append(save_menu("other leg", TABLE, of=other, says="Save the other leg"))
    if shows_settings:
        panels = save_menu(
            "settings", PICTURE, of="#compare-body .settings", says="Save the panels"
        )
        menus.append(panels)
    return menus


def _papers(found: StoredComparison, *more: Component) -> Component:
    everything = html.Button("Everything on one offline page", **pressing(EVERYTHING, True))
    book = html.Button("Workbook (XLSX)", **pressing(WORKBOOK, True))
    if len(found.names) > MOST_EFFECTS + 1:
        why = html.Span(f"A page for the file holds {MOST_EFFECTS} conditions beside a reference.")
        return html.Div([why, everything, book, *more], className="row no-print")
    paper = html.Button("Page for the file", className="main", **pressing(PAPER, True))
    return html.Div([paper, everything, book, *more], className="row no-print")


def _fairness(comparison: Comparison) -> Component:
    """Return in one line that opens how many walks there are and what was not the same."""
    points = fairness_points(comparison)
    warned = (note.reason.code for note in comparison.fairness if note.level == "warning")
    kinds = "; ".join(str(Reason(code)) for code in dict.fromkeys(warned))
    n_open = sum(note.level == "info" for note in comparison.fairness)
    differs = [f"Not the same in both: {kinds}."] if kinds else []
    unchecked = [f"Could not be checked: {n_open}."] if n_open else []
    said = " ".join([_counts(comparison), *(differs + unchecked or [ALL_FAIR])])
    parts = [
        part
        for head, texts in points.items()
        for part in (html.P(head), html.Ul([html.Li(text) for text in texts]))
    ]
    version = f"gaittrack {comparison.settings['gaittrack_version']}."
    caution = html.P([comparison.settings["caution"], " ", version], className="soft")
    return html.Details([html.Summary(said), *parts, caution], className="fair")


def _counts(comparison: Comparison) -> str:
    walks = [walk["condition"] for walk in comparison.settings["walks"]]
    counts = {name: walks.count(name) for name in comparison.settings["conditions"]}
    if len(set(counts.values())) == 1:
        return f"{count_words(next(iter(counts.values())), 'walk')} in each condition."
    return f"{', '.join(f'{name}: {n} walks' for name, n in counts.items())}."


def _replay() -> Component:
    words = "One step of each condition side by side, drawn from the recordings (takes a moment)."
    asked = pressing(SHOW_REPLAY, True)
    button = html.Button("Show the walk replay", **asked)
    ask = html.Div([html.P(words), button], className="no-print")
    return html.Div([ask, dcc.Loading(html.Div(id=REPLAY))])


def _groups(comparison: Comparison) -> Iterator[Component]:
    yield html.P(reading(comparison), className="soft")
    counts: dict[str, int] = {}
    for row in comparison.rows:
        own = MEASURE_BY_NAME[row.measure].group
        counts[own] = counts.get(own, 0) + 1
    for group, count in counts.items():
        words = f"{group.capitalize()} ({count_words(count, 'row')})"
        yield html.Details(
            [
                html.Summary(words, id={"type": SUMMARY, "group": group}),
                html.Div(id={"type": GROUP, "group": group}),
            ]
        )


def group_tables(comparison: Comparison, group: str) -> list[Component]:
    """Return the rows of one group of measures, condition by condition."""
    found = []
    for condition in compared_conditions(comparison):
        rows = [
            row
            for row in rows_of(comparison, condition)
            if MEASURE_BY_NAME[row.measure].group == group
        ]
        caption = f"{condition} against {comparison.settings['reference']}"
        found += [rows_table(comparison, rows, caption)] if rows else []
    return found


def _worn(comparison: Comparison) -> Iterator[Component]:
    rows, untold = what_was_worn(comparison)
    if rows:
        yield table(["Field", *comparison.settings["conditions"]], rows, caption="As recorded")
    if untold:
        yield folded(
            "Not recorded", html.P(f"{', '.join(full_label(CONDITION[name]) for name in untold)}.")
        )


def _sources(comparison: Comparison) -> Iterator[Component]:
    pairs = sources_of_errors(comparison.rows)
    terms = [part for source, names in pairs for part in (html.Dt(names), html.Dd(source))]
    yield folded("Measurement errors and their sources", html.Dl(terms))
    yield html.P(
        "Walks, events, filters, settings, typical ranges and definitions: on the offline page."
    )

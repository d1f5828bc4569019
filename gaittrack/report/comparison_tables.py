"""The tables of a page of comparison, and what stands at its end to defend every number.

In comes a comparison, out comes HTML. Files are named by condition, number and hash only: a file's
name may hold a person's.
"""

from __future__ import annotations

import json
import math
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from typing import Any, Final

from markupsafe import Markup

from gaittrack.compare.comparison import Comparison
from gaittrack.compare.fair.condition import Condition
from gaittrack.compare.intervals.verdict import LARGER
from gaittrack.compare.judged.rows import ComparisonRow
from gaittrack.compare.row_words import (
    affected_first,
    count_words,
    interval_words,
    measure_words,
    number,
    shared_labels,
    short_labels,
    signed,
    unit_words,
    verdict_words,
    walks_interval_words,
)
from gaittrack.compare.typical_values.typical_curves import TypicalCurve
from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.figures.curves_figure import JOINT_TITLES
from gaittrack.figures.plain_numbers import with_minus
from gaittrack.reasons import Reason
from gaittrack.record.published_errors import OUTCOMES
from gaittrack.record.registry import CONDITION
from gaittrack.record.visit_facts import (
    EXAMINATION,
    VisitFacts,
    notes_below,
    visit_table,
)
from gaittrack.record.wording import full_label, said_of
from gaittrack.report.html_parts import Cell, bullets, paragraph, table, terms
from gaittrack.vocabulary import Joint

NONE_WORN: Final = "none worn"
"""Stands for a fact of an orthosis where no orthosis was worn."""
ROW_HEADS: Final = (
    Cell("Measure"),
    Cell("Side"),
    Cell("Reference", kind="number"),
    Cell("Here", kind="number"),
    Cell("Change", kind="number"),
    Cell("95 % interval", kind="number"),
    Cell("Error", kind="number"),
    Cell("What may be said"),
)
_NOT_ON_PAGE: Final = ("notes", "standing_trial")
"""Free text and paths may hold a name."""


def rows_table(comparison: Comparison, condition: str) -> Markup:
    """Return the rows of one condition."""
    rows = rows_of(comparison, condition)
    shared = shared_labels(rows) if rows else ()
    note = paragraph(note_on_all(shared), kind="soft") if shared else Markup()
    return table(ROW_HEADS, (row_cells(row, leave_out=shared) for row in rows)) + note


def note_on_all(labels: Iterable[Reason]) -> str:
    """Return labels that stand on every row of a table, said once."""
    return f"On every row: {'; '.join(map(str, labels))}."


def rows_of(comparison: Comparison, condition: str) -> list[ComparisonRow]:
    """Return the rows of one condition as they are printed: the affected side first."""
    rows = affected_first(comparison.rows, comparison)
    return [row for row in rows if row.condition == condition]


def row_cells(row: ComparisonRow, *, leave_out: Collection[Reason] = ()) -> list[Cell]:
    """Return one row, a cell per head of ``ROW_HEADS``, without labels that are said elsewhere."""
    counts = (
        f"{row.n_walks_reference}+{row.n_walks} walks, "
        f"{row.n_strides_reference}+{row.n_strides} strides"
    )
    decimals = MEASURE_BY_NAME[row.measure].decimals
    past = "past" if row.verdict == LARGER else ""
    return [
        Cell(measure_words(row.measure), counts, "full"),
        Cell(row.side),
        Cell(number(row.reference_value, decimals), kind="number"),
        Cell(number(row.value, decimals), kind="number"),
        Cell(signed(row.difference, decimals), kind=f"number {past}"),
        Cell(interval_words(row.low, row.high, decimals), walks_interval_words(row), "number"),
        Cell(number(row.measurement_error, decimals), kind="number"),
        Cell(verdict_words(row), _below(row, decimals, leave_out), f"full {past}"),
    ]


def _below(row: ComparisonRow, decimals: int, leave_out: Collection[Reason]) -> str:
    said = short_labels(row, leave_out=leave_out)
    matched = row.matched
    if matched is not None and math.isfinite(matched.difference):
        interval = interval_words(matched.low, matched.high, decimals)
        change = signed(matched.difference, decimals)
        said = [f"at {matched.common_speed_m_s:.2f} m/s: change {change} ({interval})", *said]
    return with_minus("; ".join(said))


def worn_table(comparison: Comparison) -> Markup:
    """Return what was worn, one column per condition; what nobody recorded is listed below."""
    rows, untold = what_was_worn(comparison)
    heads = (Cell(""), *(Cell(name) for name in comparison.settings["conditions"]))
    shown = table(heads, [list(map(Cell, row)) for row in rows]) if rows else Markup()
    names = ", ".join(full_label(CONDITION[name]) for name in untold)
    return shown + (paragraph(f"Not recorded: {names}.", kind="soft") if untold else Markup())


def examination(visits: Sequence[VisitFacts]) -> Markup:
    """Return what was examined, one column per visit; what nobody recorded is listed below."""
    told, untold = visit_table(visits, EXAMINATION)
    if not told:
        return paragraph("Nothing recorded.")
    heads = (Cell(""), *(Cell(visit.code) for visit in visits))
    notes = (paragraph(note, kind="soft") for note in notes_below(told, untold))
    return table(heads, [list(map(Cell, row)) for row in told]) + Markup().join(notes)


def what_was_worn(comparison: Comparison) -> tuple[list[list[str]], list[str]]:
    """Return the words of each recorded field by condition, and the names of all other fields."""
    conditions: dict[str, dict[str, Any]] = comparison.settings["conditions"]
    elsewhere = (*_NOT_ON_PAGE, *OUTCOMES)
    names = [name for name in next(iter(conditions.values())) if name not in elsewhere]
    told = [n for n in names if any(worn[n] is not None for worn in conditions.values())]
    rows = [
        [full_label(CONDITION[name]), *(_worn_words(name, worn) for worn in conditions.values())]
        for name in told
    ]
    return rows, [name for name in names if name not in told]


def _worn_words(name: str, worn: Mapping[str, Any]) -> str:
    is_of_orthosis = name.startswith(("orthosis_", "brace", "setting")) or name == "days_worn"
    wears_none = Condition("", orthosis=worn["orthosis"]).is_braced is False
    is_none = is_of_orthosis and wears_none and worn[name] is None
    return NONE_WORN if is_none else said_of(CONDITION[name], worn[name])


def definitions(rows: Iterable[ComparisonRow]) -> Markup:
    """Return how each measure is defined, with its source."""
    measures = [MEASURE_BY_NAME[name] for name in dict.fromkeys(row.measure for row in rows)]
    return terms(
        (
            measure_words(each.name),
            f"{each.definition} Positive: {each.positive} Walk value: {each.walk_value} of its "
            f"strides. Source: {each.source}",
        )
        for each in measures
    )


def sources_of_errors(rows: Sequence[ComparisonRow]) -> list[tuple[str, str]]:
    """Return the sources of measurement error, each with the measures it is for."""
    found: dict[Reason, list[str]] = {}
    for row in rows:
        title = MEASURE_BY_NAME[row.measure].title
        found.setdefault(row.measurement_error_source, []).append(title)
    return [(str(source), ", ".join(dict.fromkeys(names))) for source, names in found.items()]


def interval_kinds(rows: Sequence[ComparisonRow]) -> Markup:
    """Return how intervals were made and why some are missing, with counts of rows."""
    counts: dict[str, int] = {}
    for row in rows:
        said = f"none: {row.interval_reason}" if row.interval_reason else str(row.interval_kind)
        counts[said] = counts.get(said, 0) + 1
    return bullets(f"{said}: {count_words(count, 'row')}" for said, count in counts.items())


def typical_sources(comparison: Comparison) -> Markup:
    """Return the typical ranges of what is compared, and the curves drawn, with their sources."""
    ranges: dict[str, dict[str, Any]] = comparison.settings["typical_ranges"]
    used = dict.fromkeys(row.measure for row in comparison.rows)
    found = [
        (
            MEASURE_BY_NAME[name].title,
            f"{each['low']:g} to {each['high']:g} {unit_words(MEASURE_BY_NAME[name].unit)}: "
            f"{each['source']}",
        )
        for name, each in ranges.items()
        if name in used
    ]
    curves: dict[Joint, TypicalCurve] = comparison.settings["typical_curves"]
    found += [(f"{JOINT_TITLES[joint][0]}, curve", each.words) for joint, each in curves.items()]
    return terms(found)


def walks_table(comparison: Comparison) -> Markup:
    """Return every walk with its hash, event source, zero, filters and rate."""
    heads = ("Walk", "Speed (m/s)", "Rate (Hz)", "Events", "Zero of the foot", "Angles", "SHA-256")
    return table([Cell(head) for head in heads], _walk_rows(comparison.settings["walks"]))


def _walk_rows(walks: Sequence[dict[str, Any]]) -> Iterator[list[Cell]]:
    counts: dict[str, int] = {}
    for walk in walks:
        counts[walk["condition"]] = counts.get(walk["condition"], 0) + 1
        part = f", {walk['part']}" if walk["part"] else ""
        yield [
            Cell(f"{walk['condition']} {counts[walk['condition']]}{part}"),
            Cell(number(walk["speed_m_s"], 2)),
            Cell(number(walk["rate_hz"], 0)),
            Cell(walk["event_source"] or "not known"),
            Cell(walk["neutral_source"] or "not known"),
            Cell(walk["angle_origin"] or "none"),
            Cell(walk["sha256"], kind="hash full"),
        ]


def filters(comparison: Comparison) -> Markup:
    """Return the filters in words, each once."""
    return bullets(dict.fromkeys(walk["smoothing"] for walk in comparison.settings["walks"]))


_SHOWN_ELSEWHERE: Final = (
    *("walks", "conditions", "typical_ranges", "typical_curves", "cannot_show", "caution"),
    *("standing", "refused", "not_walks"),
)


def settings_terms(comparison: Comparison) -> Markup:
    """Return every other setting, files by their hashes."""
    settings = comparison.settings
    pairs = [
        (name.replace("_", " "), _said(value))
        for name, value in settings.items()
        if name not in _SHOWN_ELSEWHERE
    ]
    standing = settings.get("standing", {})
    pairs += [(f"standing trial, {name}", _said(value)) for name, value in standing.items()]
    pairs += [
        (f"refused file, {each['condition']}", each["sha256"] or "could not be read")
        for each in settings.get("refused", ())
    ]
    if aside := settings.get("not_walks", ()):
        pairs.append(("files that are not walks", str(len(aside))))
    return terms(pairs)


def _said(value: Any) -> str:
    if value is None or value == [] or (isinstance(value, float) and math.isnan(value)):
        return "none"
    if isinstance(value, dict) and "sha256" in value:
        return f"SHA-256 {value['sha256']}"
    return value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)

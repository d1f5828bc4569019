"""The strides behind one row of a comparison: walk by walk, each with its value or its reason.

In come a row and the comparison, out comes what stands in the window that opens.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from dash import html
from dash.development.base_component import Component

from dashboards.compare.comparison_parts import ROW, go_button, key_of
from dashboards.parts.controls import table
from dashboards.parts.markup import pressing
from gaittrack.compare.judged.rows import ComparisonRow
from gaittrack.compare.row_words import count_words, doubts, number, unit_words, verdict_words
from gaittrack.compare.walked.walks import MEASURE_BY_NAME, WalkRecord, sample_of
from gaittrack.figures.plain_numbers import with_minus
from gaittrack.study.results.compared_trials import ComparedTrial
from gaittrack.study.results.comparing import StoredComparison
from gaittrack.words import unit_behind


def title(row: ComparisonRow) -> str:
    """Return what the window is called."""
    measure = MEASURE_BY_NAME[row.measure]
    return f"{measure.title} ({unit_words(row.unit)}), {row.side}"


def others(rows: Sequence[ComparisonRow]) -> Iterator[Component]:
    """Yield the ways to the measures that stand beside a row: its companions, the other leg.

    Parameters
    ----------
    rows : sequence of ComparisonRow
        The one that is shown first.
    """
    shown, *beside = rows
    buttons = []
    for row in beside:
        side = "" if row.side == shown.side else f", {row.side}"
        name = f"{MEASURE_BY_NAME[row.measure].title}{side}"
        again = [key_of(row), *(key_of(each) for each in rows if each is not row)]
        buttons.append(html.Button(name, className="quiet", **pressing(ROW, again)))
    if buttons:
        yield html.Div([html.Span("Beside it:"), *buttons], className="row")


def strides(
    found: StoredComparison, row: ComparisonRow, trials: Sequence[ComparedTrial]
) -> list[Component]:
    """Return the strides behind a row.

    Parameters
    ----------
    trials : sequence of ComparedTrial
        The recordings it was made from.
    """
    by_id = {each.trial.id: each for each in trials}
    return [
        *_about(row),
        *(
            part
            for name in (row.reference, row.condition)
            for part in _of_condition(found, row, name, by_id)
        ),
    ]


def _about(row: ComparisonRow) -> Iterator[Component]:
    measure = MEASURE_BY_NAME[row.measure]
    yield html.P(f"{row.condition} against {row.reference}: {verdict_words(row)}.")
    yield from (html.P(f"! {with_minus(each)}") for each in doubts(row.labels))
    facts = [
        ("Definition", measure.definition),
        ("Positive", measure.positive),
        ("Walk value", f"{measure.walk_value} of its strides"),
        ("Interval", str(row.interval_reason or row.interval_kind)),
        (
            "Measurement error",
            f"{number(row.measurement_error, measure.decimals)}{unit_behind(row.unit)}: "
            f"{row.measurement_error_source}",
        ),
    ]
    yield html.Dl([part for name, said in facts for part in (html.Dt(name), html.Dd(said))])


def _of_condition(
    found: StoredComparison, row: ComparisonRow, name: str, trials: Mapping[int, ComparedTrial]
) -> Iterator[Component]:
    yield html.H3(name)
    for record in found.records:
        if record.condition == name:
            yield from _of_walk(record, row, trials[found.trial_ids[record.walk_id]])


def _of_walk(record: WalkRecord, row: ComparisonRow, trial: ComparedTrial) -> Iterator[Component]:
    measure = MEASURE_BY_NAME[row.measure]
    own = record.tables.get((row.measure, row.side))
    place = f"{trial.trial.code}, {record.part}" if record.part else trial.trial.code
    if own is None:
        words = html.Span(f"no {row.side} stride counted")
        yield html.Div([html.Strong(place), words, go_button(trial)], className="row")
    else:
        sample = sample_of([own], measure)
        value = with_minus(number(sample.value, measure.decimals))
        counts = f"walk value {value}{unit_behind(row.unit)} of "
        counts += count_words(sample.n_strides, "stride")
        stale = [html.Strong(f"stale: {trial.why_stale}")] if trial.why_stale else []
        parts = [html.Strong(place), html.Span(counts), *stale, go_button(trial)]
        yield html.Div(parts, className="row")
        names, contacts = record.cycles[row.side], record.contacts[row.side]
        lines = [_line(each, measure.decimals) for each in zip(names, contacts, *own, strict=True)]
        heads = ("Stride", f"Value ({unit_words(row.unit)})", "Speed (m/s)", "Contact", "Note")
        yield table(heads, lines, caption=f"Counted strides of {place}", numbers=(1, 2))
    if left_out := [one for one in trial.not_counted if one[1] == row.side]:
        points = [html.Li(f"{cycle}: {why}") for cycle, _, why in left_out]
        yield html.Div([html.P("Not counted:"), html.Ul(points)], className="soft")


def _line(stride: Sequence[Any], decimals: int) -> list[str]:
    cycle, contact, value, reason, labels, speed_m_s = stride
    notes = "; ".join(str(each) for each in (reason, *labels) if each is not None)
    return [cycle, number(value, decimals), number(speed_m_s, 2), contact, notes]

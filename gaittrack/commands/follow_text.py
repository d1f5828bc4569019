"""What ``gaittrack follow`` prints: a table per measure, or JSON.

In come a person and a study folder, out comes text on stdout.
"""

from __future__ import annotations

import json
import math
from itertools import groupby
from typing import Any, Final

import click

from gaittrack.commands.outcome_text import plain_outcome, visits_outcomes_text
from gaittrack.commands.walk_text import wrapped
from gaittrack.compare.intervals.verdict import Verdict
from gaittrack.compare.measurement_error.marker_errors import How
from gaittrack.compare.row_words import count_words, doubts, missing_words
from gaittrack.compare.walked.plain import plain_value
from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.notice import NOTICE
from gaittrack.reasons import Reason
from gaittrack.report.html_parts import marks, numbered
from gaittrack.study.people.enrolled import find_person
from gaittrack.study.people.facts import facts_of_person
from gaittrack.study.results.follow import follow_person
from gaittrack.study.results.over_visits import Following, Progress
from gaittrack.study.results.visit_outcomes import VisitOutcomes, outcomes_over_visits
from gaittrack.study.store import Study

_ACROSS_DAYS: Final[tuple[How, ...]] = ("other day, same tester", "other tester")


def print_following(study: Study, person: str, *, as_json: bool) -> None:
    """Print a person's progress."""
    found, everyday = follow_person(study, person), _everyday(study, person)
    if as_json:
        values = as_plain(found) | {"outcomes": [_plain_visit(each) for each in everyday]}
        click.echo(json.dumps(values, indent=1, allow_nan=False))
        return
    parts = [following_text(found), visits_outcomes_text(everyday), wrapped(NOTICE)]
    click.echo("\n\n".join(filter(None, parts)))


def _everyday(study: Study, code: str) -> list[VisitOutcomes]:
    with study.read() as connection:
        person = facts_of_person(study, find_person(connection, code)["id"])
    return [] if person is None else outcomes_over_visits(study, person)


def _plain_visit(told: VisitOutcomes) -> dict[str, Any]:
    counted = {fact.name: said for fact, said in told.counted}
    own = list(map(plain_outcome, told.outcomes))
    return {"visit": told.visit.code, "outcomes": own, "counted": counted}


def as_plain(found: Following) -> dict[str, Any]:
    """Return plain values for JSON; NaN is None."""
    rows = [
        plain_value(row) | {"words": Verdict(row.verdict, row.reason).say()} for row in found.rows
    ]
    return {
        "person": found.person,
        "n_stale": found.n_stale,
        "notes": list(map(plain_value, found.notes)),
        "rows": rows,
        "notice": NOTICE,
    }


def following_text(found: Following) -> str:
    """Return the table for a terminal."""
    lines = [f"{found.person}: headline measures over visits"]
    if found.n_stale:
        lines.append(f"{found.n_stale} trials are stale: run gaittrack recompute --study DIR")
    for (name, side), rows in groupby(found.rows, key=lambda row: (row.measure, row.side)):
        measure = MEASURE_BY_NAME[name]
        lines += ["", f"{measure.title} ({measure.unit}), {side}"]
        own = list(rows)
        told = numbered(doubts(row.labels) for row in own)
        for row in own:
            lines += [_line(row, measure.decimals) + marks(told, doubts(row.labels))]
        lines += [wrapped(f"! {place} {text}") for text, place in told.items()]
        sources = dict.fromkeys(
            row.measurement_error_source
            for row in found.rows
            if row.measure == name and row.measurement_error_source
        )
        lines += [wrapped(_error_words(source)) for source in sources]
    lines += ["", *(wrapped(str(note)) for note in found.notes)] if found.notes else []
    return "\n".join(lines)


def _error_words(source: Reason) -> str:
    """Say first what kind of error it is, then where it comes from."""
    if source.code == "proposed":
        return f"{_error_words(source['source'])} (proposal)"
    if source.code == "in_situation" and source["how"] in _ACROSS_DAYS:
        return f"measurement error across days: {source['source']}; {source['how']}"
    return f"measurement error: {source}"


def _line(row: Progress, decimals: int) -> str:
    day = (
        f"day {row.days_since_first_visit:.0f}" if math.isfinite(row.days_since_first_visit) else ""
    )
    start = f"  {row.condition:<16.16} {row.visit:<10.10} {day:<8}"
    if not row.n_walks:
        return f"{start} {missing_words(row.reason)}"
    start += f" {row.value:8.{decimals}f} ({count_words(row.n_walks, 'walk')})"
    if not math.isfinite(row.difference):
        return f"{start}  {Verdict(row.verdict, row.reason).say()}"
    interval = (
        f" [{row.low:+.{decimals}f}, {row.high:+.{decimals}f}]" if math.isfinite(row.low) else ""
    )
    known = math.isfinite(row.measurement_error)
    error = f", error {row.measurement_error:.{decimals}f}" if known else ""
    said = Verdict(row.verdict, row.reason).say()
    return f"{start} {row.difference:+.{decimals}f}{interval}{error}: {said}"

"""Answer a question to a cohort in a terminal: the same numbers and words as on the screen.

In come the options of ``gaittrack cohort``, out come lines of text or one JSON object.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, Final

import click

from gaittrack.atomic_write import write_atomically
from gaittrack.cohort.asking.answering import CohortAnswer, answer_cohort
from gaittrack.cohort.asking.beside import Beside, beside
from gaittrack.cohort.asking.mean_curves import CohortCurve, cohort_curve
from gaittrack.cohort.asking.question import CohortQuestion, plain_codes
from gaittrack.cohort.asking.selection_words import refuse_unknown
from gaittrack.cohort.asking.view import CohortView, choices, read_cohort
from gaittrack.cohort.tables.selection import Selection
from gaittrack.commands.exporting import with_bar
from gaittrack.commands.running import refuse_no_folder, writing
from gaittrack.commands.walk_text import wrapped
from gaittrack.compare.walked.plain import plain_value
from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.notice import NOTICE
from gaittrack.reasons import Reason
from gaittrack.report.cohort_beside import TextTable, beside_tables, curve_lines
from gaittrack.report.cohort_rows import heads_of, texts_of
from gaittrack.report.table_files import csv_of
from gaittrack.study.store import Study
from gaittrack.vocabulary import JOINTS, Joint

_TOLD_EACH: Final = 10


def run_cohort(
    study: Study,
    *,
    measure: str,
    conditions: tuple[str, str] | None,
    side_role: str,
    all_visits: bool,
    with_beside: bool,
    as_json: bool,
    rows: Path | None,
    joints: Sequence[str] = (),
    **words: tuple[Any, ...],
) -> None:
    """Print the answer to one question."""
    if rows is not None:
        refuse_no_folder(rows, "--rows ")
    view = read_cohort(study, progress=_tell_progress)
    chosen = Selection(**words)
    refuse_unknown(chosen, choices(view))
    if not all_visits and not chosen.visit_no and not chosen.visit_kind:
        chosen = Selection(**{**words, "visit_no": (1,)})
    question = CohortQuestion(chosen, _measure(view, measure), side_role, _pair(view, conditions))
    answer = answer_cohort(view, question)
    more = beside(view, answer) if with_beside or as_json else None
    if rows is not None:
        content = csv_of([list(heads_of(answer.measure)), *texts_of(answer.changes)])
        with writing(rows, "--rows "):
            write_atomically(rows, content)
    curves = [cohort_curve(study, answer, _joint(name), with_bar) for name in joints]
    if as_json:
        plain = _plain_answer(answer, more) | {"curves": [_plain_curve(each) for each in curves]}
        click.echo(json.dumps(plain, indent=2, allow_nan=False))
        return
    for line in answer_lines(answer, more):
        click.echo(wrapped(line))
    for each in curves:
        click.echo(wrapped("\n".join(curve_lines(each))))
    click.echo(wrapped(NOTICE))


def _tell_progress(n_done: int, n_all: int) -> None:
    """Say every now and then how many people were compared of those who had to be."""
    if n_done % _TOLD_EACH == 0:
        click.echo(f"comparing people: {n_done} of {n_all} done", err=True)


def _measure(view: CohortView, name: str) -> str:
    if name not in view.measures:
        known = ", ".join(each for each in MEASURE_BY_NAME if each in view.measures)
        raise click.UsageError(f"Nobody has a change of {name}. There are: {known or 'none'}.")
    return name


def _joint(name: str) -> Joint:
    found = next((each for each in JOINTS if each == name), None)
    if found is None:
        raise click.UsageError(f"{name} is no angle. There are: {', '.join(JOINTS)}.")
    return found


def _pair(view: CohortView, given: tuple[str, str] | None) -> tuple[str, str]:
    known = view.pairs
    if given and tuple(given) not in known:
        told = "; ".join(" ".join(pair) for pair in known)
        raise click.UsageError(
            f"Nobody walked in {given[0]} against {given[1]}. There are: {told}."
        )
    return given or known[0]


def answer_lines(answer: CohortAnswer, more: Beside | None) -> Iterator[str]:
    """Yield the answer in lines of text, with what stands beside the mean where it was asked."""
    names = answer.question.names
    yield f"{answer.measure.title}: {names[0]} against {names[1]}, for {answer.question.who}"
    yield str(answer.say())
    yield from map(str, answer.warnings())
    yield "  ".join(f"{each.text} {each.words}" for each in answer.figures())
    for group in answer.left_out:
        yield f"left out: {plain_codes(str(group.reason))}: {', '.join(group.people)}"
    if answer.n_missing:
        yield f"{Reason('cohort_without_pair')}: {answer.n_missing}"
    if answer.other is not None:
        other = MEASURE_BY_NAME[answer.other.measure]
        yield f"{other.title} ({other.name}) compares {answer.other.n_people}."
    for table in beside_tables(answer, more) if more is not None else ():
        yield from _table_lines(table)


def _table_lines(table: TextTable) -> Iterator[str]:
    rows = [list(table.heads), *table.rows]
    widths = [max(len(row[place]) for row in rows) for place in range(len(table.heads))]
    yield f"\n{table.title}"
    for row in rows:
        yield "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
    yield table.note


def _plain_answer(answer: CohortAnswer, more: Beside | None) -> dict[str, Any]:
    mean, low, high = answer.mean
    found = {
        "question": answer.question,
        "who": answer.question.who,
        "answer": answer.say(),
        "warnings": answer.warnings(),
        "unit": answer.measure.unit,
        "n_people": answer.n_people,
        "mean": mean,
        "low": low,
        "high": high,
        "differences": answer.differences.to_dict(),
        "counts": dict(answer.counts),
        "ways": dict(answer.ways),
        "left_out": answer.left_out,
        "n_missing": answer.n_missing,
        "other": answer.other,
        "beside": more,
        "notice": NOTICE,
    }
    return {name: plain_value(value) for name, value in found.items()}


def _plain_curve(curve: CohortCurve) -> dict[str, Any]:
    band = {name: getattr(curve.band, name).tolist() for name in ("mean", "low", "high")}
    told = {"joint": curve.joint, "says": curve.say(), "people": curve.people}
    more = {"left_out": curve.left_out, "stretches_percent": curve.stretches, **band}
    return {name: plain_value(value) for name, value in (told | more).items()}

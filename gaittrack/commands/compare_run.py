"""Run a comparison for the command line: read the options, compare, print, write the page.

In come the options of ``gaittrack compare``, out come text or JSON on stdout, problems on stderr, a
page if asked for, and the exit code.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from importlib import import_module
from pathlib import Path
from typing import Any

import click

from gaittrack.answer import answers, as_plain_answer
from gaittrack.answer.outcomes import outcomes
from gaittrack.atomic_write import write_text_atomically
from gaittrack.commands.compare_text import comparison_text
from gaittrack.commands.named_paths import by_name, split_name
from gaittrack.commands.outcome_text import plain_outcome
from gaittrack.commands.running import (
    DONE,
    NOT_ALL_WELL,
    mistakes_told,
    refuse_no_folder,
    tell_of_files,
    writing,
)
from gaittrack.commands.walk_text import wrapped
from gaittrack.compare.comparison import comparison_dict
from gaittrack.compare.walked.questions import QUESTION_CODES, QuestionCode
from gaittrack.errors import GaitTrackError, Problem
from gaittrack.file_comparison import FileComparison
from gaittrack.library.comparisons import WITH, WITHOUT, compare
from gaittrack.notice import NOTICE
from gaittrack.plain_files import open_plain
from gaittrack.readable_names import readable
from gaittrack.reasons import Reason
from gaittrack.record.visit_facts import VisitFacts, examined_points
from gaittrack.study.people.description import described_facts

_PAGE_BEGINS = b"<!doctype html"


def run_comparison(
    *,
    visit: str | None = None,
    without: Sequence[str],
    with_: Sequence[str],
    named: Sequence[str],
    standing: Sequence[str],
    events: Sequence[str],
    aims: Sequence[str],
    **given: Any,
) -> FileComparison:
    """Compare what the options say.

    Parameters
    ----------
    visit : str, optional
        Folder of a visit, in place of the conditions one by one.
    without, with_, named : sequence of str
        Paths and patterns of the short form; ``NAME=PATH``.
    standing, events : sequence of str
        ``NAME=FILE`` and ``FILE=CSV``.
    aims : sequence of str
        Questions, by their code or its number in the list.
    **given
        As :func:`gaittrack.compare`.

    Raises
    ------
    click.UsageError
        Options that do not fit, a file beside the walks that cannot be used, or walks that cannot
        be compared.
    """
    conditions = _named_one_by_one(without, with_, named)
    if len(conditions) < 2 if visit is None else conditions:
        raise click.UsageError(
            "Give --without PATH and --with PATH, or --condition NAME=PATH at least twice, or "
            "VISIT alone."
        )
    with mistakes_told(ValueError):
        return compare(
            visit or conditions,
            standing=dict(split_name(text, "--standing") for text in standing),
            events=dict(split_name(text, "--events") for text in events),
            aims=aimed_at(aims),
            **given,
        )


def _named_one_by_one(
    without: Sequence[str], with_: Sequence[str], named: Sequence[str]
) -> dict[str, list[str]]:
    conditions = by_name(named, "--condition")
    for name, places in ((WITH, with_), (WITHOUT, without)):
        if places:
            conditions = {name: [*places, *conditions.pop(name, [])], **conditions}
    return conditions


def aimed_at(aims: Sequence[str]) -> list[QuestionCode]:
    """Return the questions that are aims.

    Raises
    ------
    click.UsageError
        One is none of the eight.
    """
    numbered = {str(number): code for number, code in enumerate(QUESTION_CODES, 1)}
    known: dict[str, QuestionCode] = {**numbered, **{code: code for code in QUESTION_CODES}}
    for aim in aims:
        if aim not in known:
            told = ", ".join(f"{number} {code}" for number, code in numbered.items())
            raise click.UsageError(f"--aim {aim}: use one of: {told}.")
    return [known[aim] for aim in aims]


def _refuse_bad_target(target: Path | None) -> None:
    if target is None:
        return
    refuse_no_folder(target, "--html ")
    if target.exists() and not _is_page(target):
        raise click.UsageError(f"--html {target}: would overwrite a file that is no page.")


def _is_page(path: Path) -> bool:
    with open_plain(path) as file:
        return file.read(len(_PAGE_BEGINS)).lower() == _PAGE_BEGINS


def print_comparison(
    *, everything: bool, as_json: bool, html_out: Path | None, **given: Any
) -> int:
    """Compare, print it, write the page if asked for, and return the exit code.

    Parameters
    ----------
    everything : bool
        Also the table of all measures.
    **given
        As :func:`run_comparison`.

    Raises
    ------
    click.UsageError
        As :func:`run_comparison`, or the page cannot be written where it shall go.
    """
    _refuse_bad_target(html_out)
    result = run_comparison(**given)
    visits, unread = _examined(result)
    tell_of_files(result.refused, [*result.problems, *unread])
    examined = examined_points(visits)
    if html_out is not None:
        with writing(html_out, "--html "):
            write_text_atomically(html_out, _page(result, visits))
    if as_json:
        told = [as_plain_answer(each) for each in answers(result.comparison)]
        everyday = list(map(plain_outcome, outcomes(result.comparison)))
        values = {"answer": told, "examined": examined, "outcomes": everyday}
        values |= {**comparison_dict(result.comparison), "notice": NOTICE}
        click.echo(json.dumps(values, indent=1, allow_nan=False))
    else:
        text = comparison_text(result.comparison, examined, everything=everything)
        click.echo("\n\n".join([text, wrapped(NOTICE)]))
    return NOT_ALL_WELL if result.refused else DONE


def _page(result: FileComparison, visits: Sequence[VisitFacts]) -> str:
    """Return the page; only who asks for one waits until what draws it, and stores, is loaded."""
    room = import_module("gaittrack.report.comparison_page")
    page: str = room.comparison_page(result, visits)
    return page


def _examined(result: FileComparison) -> tuple[list[VisitFacts], list[Problem]]:
    """Return what the files beside the walks say was examined, and which of them cannot be read."""
    visits: list[VisitFacts] = []
    unread: list[Problem] = []
    for path in result.conditions_files:
        try:
            visits.append(described_facts(path))
        except GaitTrackError as error:
            reason = Reason("examination_not_read", why=str(error))
            unread.append(Problem("warning", reason, readable(path)))
    return visits, unread

"""Run a comparison for the command line: read the options, compare, print, write the page.

In come the options of ``gaittrack compare``, out come text or JSON on stdout, problems on stderr, a
page if asked for, and the exit code.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import click

from gaittrack.answer import answers, as_plain_answer
from gaittrack.atomic_write import write_text_atomically
from gaittrack.commands.compare_text import comparison_text
from gaittrack.commands.named_paths import by_name, split_name
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
from gaittrack.compare.family import Affected
from gaittrack.compare.questions import QUESTION_CODES, QuestionCode
from gaittrack.file_comparison import FileComparison
from gaittrack.library.comparisons import WITH, WITHOUT, compare
from gaittrack.notice import NOTICE
from gaittrack.report.comparison_page import comparison_page

_PAGE_BEGINS = b"<!doctype html"


@dataclass(frozen=True, slots=True)
class CompareOptions:
    """The options of ``gaittrack compare``.

    Attributes
    ----------
    without, with_, named : sequence of str
        Paths and patterns of the short form; ``NAME=PATH``.
    standing, events : sequence of str
        ``NAME=FILE`` and ``FILE=CSV``.
    aims : sequence of str
        Questions, by their code or its number in the list.
    typical : str or None
        ``adult``, ``child`` or a file; None: as the age band beside the walks says, else adult.
    """

    without: Sequence[str]
    with_: Sequence[str]
    named: Sequence[str]
    reference: str | None
    standing: Sequence[str]
    events: Sequence[str]
    map_file: Path | None
    worn_file: Path | None
    errors_file: Path | None
    affected: Affected | None
    aims: Sequence[str]
    typical: str | None
    rate_hz: float | None
    html_out: Path | None


def run_comparison(asked: CompareOptions) -> FileComparison:
    """Compare what the options say.

    Raises
    ------
    click.UsageError
        Options that do not fit, a file beside the walks that cannot be used, or walks that cannot
        be compared.
    """
    conditions = by_name(asked.named, "--condition")
    for name, places in ((WITH, asked.with_), (WITHOUT, asked.without)):
        if places:
            conditions = {name: [*places, *conditions.pop(name, [])], **conditions}
    if len(conditions) < 2:
        raise click.UsageError(
            "Give --without PATH and --with PATH, or --condition NAME=PATH at least twice."
        )
    _refuse_bad_target(asked.html_out)
    with mistakes_told(ValueError):
        return compare(
            conditions,
            reference=asked.reference,
            standing=dict(split_name(text, "--standing") for text in asked.standing),
            events=dict(split_name(text, "--events") for text in asked.events),
            lab_map=asked.map_file,
            conditions_file=asked.worn_file,
            affected=asked.affected,
            aims=aimed_at(asked.aims),
            errors=asked.errors_file,
            typical=asked.typical,
            rate_hz=asked.rate_hz,
        )


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
    with path.open("rb") as file:
        return file.read(len(_PAGE_BEGINS)).lower() == _PAGE_BEGINS


def print_comparison(
    result: FileComparison, *, everything: bool, as_json: bool, html_out: Path | None
) -> int:
    """Print a comparison, write the page if asked for, and return the exit code.

    Parameters
    ----------
    everything : bool
        Also the table of all measures.

    Raises
    ------
    click.UsageError
        The page cannot be written where it shall go.
    """
    tell_of_files(result.refused, result.problems)
    if html_out is not None:
        with writing(html_out, "--html "):
            write_text_atomically(html_out, comparison_page(result))
    if as_json:
        told = [as_plain_answer(each) for each in answers(result.comparison)]
        values = {"answer": told, **comparison_dict(result.comparison), "notice": NOTICE}
        click.echo(json.dumps(values, indent=1, allow_nan=False))
    else:
        text = comparison_text(result.comparison, everything=everything)
        click.echo("\n\n".join([text, wrapped(NOTICE)]))
    return NOT_ALL_WELL if result.refused else DONE

"""What ``gaittrack report`` does: find the conditions by name, compare, write the page.

In come names, out comes HTML on stdout or in a file, problems on stderr.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import click

from gaittrack.atomic_write import write_atomically
from gaittrack.commands.running import opened, writing
from gaittrack.report.clinic import JOINTS, clinic_page
from gaittrack.report.pdf import pdf_of
from gaittrack.study.people.enrolled import find_person
from gaittrack.study.results.comparing import compare_stored, conditions_of
from gaittrack.study.results.first_choice import choose_by_name
from gaittrack.study.store import Study


@dataclass(frozen=True, slots=True)
class ReportOptions:
    """The options of ``gaittrack report``."""

    person: str
    folder: Path
    url: str | None
    visits: Sequence[str]
    conditions: Sequence[str]
    reference: str | None


def write_report(asked: ReportOptions, out: Path | None) -> None:
    """Write or print the page.

    Raises
    ------
    click.UsageError
        A name is not known, there is nothing to compare, no browser prints, or the file cannot be
        written.
    """
    with opened(asked.folder, asked.url) as study:
        page = _page(study, asked)
        is_pdf = out is not None and out.suffix.lower() == ".pdf"
        content = pdf_of(page) if is_pdf else page.encode()
    if out is None:
        click.echo(page, nl=False)
        return
    with writing(out, "--out "):
        write_atomically(out, content)
    click.echo(f"wrote {out}", err=True)


def _page(study: Study, asked: ReportOptions) -> str:
    with study.read() as connection:
        person = find_person(connection, asked.person)
    chosen = choose_by_name(
        conditions_of(study, person["id"]),
        visits=asked.visits,
        names=asked.conditions,
        reference=asked.reference,
    )
    compared = compare_stored(study, chosen.conditions, reference=chosen.reference, joints=JOINTS)
    return clinic_page(study, compared)

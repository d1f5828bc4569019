"""What ``gaittrack report`` does: find the conditions by name, compare, write the page.

In come names, out comes HTML on stdout or in a file, problems on stderr.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click

from gaittrack.atomic_write import write_atomically
from gaittrack.commands.running import writing
from gaittrack.report.clinic import clinic_page
from gaittrack.report.guide import guide_of
from gaittrack.report.pdf import pdf_of
from gaittrack.study.people.enrolled import find_person
from gaittrack.study.results.comparing import compare_stored, conditions_of
from gaittrack.study.results.first_choice import choose_by_name
from gaittrack.study.store import Study


def write_report(study: Study, out: Path | None, **given: Any) -> None:
    """Write or print the page.

    Parameters
    ----------
    **given
        As :func:`chosen_page`.

    Raises
    ------
    click.UsageError
        The file cannot be written.
    """
    _write(chosen_page(study, **given), out)


def write_guide(study: Study, out: Path | None) -> None:
    """Write or print the guide of a laboratory; raise as :func:`write_report`."""
    _write(guide_of(study), out)


def _write(page: str, out: Path | None) -> None:
    if out is None:
        click.echo(page, nl=False)
        return
    content = pdf_of(page) if out.suffix.lower() == ".pdf" else page.encode()
    with writing(out, "--out "):
        write_atomically(out, content)
    click.echo(f"wrote {out}", err=True)


def chosen_page(
    study: Study,
    *,
    person: str,
    visits: Sequence[str],
    conditions: Sequence[str],
    reference: str | None,
) -> str:
    """Return the page of the conditions that are named; without names of each visit's fair pair."""
    with study.read() as connection:
        person_id = find_person(connection, person)["id"]
    own = conditions_of(study, person_id)
    groups = [visits] if conditions or reference else [[visit] for visit in visits]
    chosen = [choose_by_name(own, visits=g, names=conditions, reference=reference) for g in groups]
    found = [
        compare_stored(study, each.conditions, reference=each.reference, with_curves=False)
        for each in chosen
    ]
    return clinic_page(study, found)

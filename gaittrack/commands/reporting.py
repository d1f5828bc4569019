"""What ``gaittrack report`` does: find the conditions by name, compare, write the page.

In come names, out comes HTML on stdout or in a file, problems on stderr.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

import click

from gaittrack.atomic_write import write_atomically
from gaittrack.errors import GaitTrackError, StudyError
from gaittrack.report.clinic import JOINTS, clinic_page
from gaittrack.report.pdf import pdf_of
from gaittrack.study.people.enrolled import find_person
from gaittrack.study.results.comparing import StoredCondition, compare_stored, conditions_of
from gaittrack.study.results.first_choice import ComparisonChoice, first_choice
from gaittrack.study.store import Study, open_study


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
    try:
        with closing(open_study(asked.folder, url=asked.url)) as study:
            page = _page(study, asked)
        is_pdf = out is not None and out.suffix.lower() == ".pdf"
        content = pdf_of(page) if is_pdf else page.encode()
    except GaitTrackError as error:
        raise click.UsageError(str(error)) from error
    if out is None:
        click.echo(page, nl=False)
        return
    try:
        write_atomically(out, content)
    except OSError as error:
        raise click.UsageError(f"--out {out}: {error.strerror}.") from error
    click.echo(f"wrote {out}", err=True)


def _page(study: Study, asked: ReportOptions) -> str:
    with study.read() as connection:
        person = find_person(connection, asked.person)
    found = _of_visits(conditions_of(study, person["id"]), asked.visits)
    chosen = _chosen(found, asked)
    compared = compare_stored(study, chosen.conditions, reference=chosen.reference, joints=JOINTS)
    return clinic_page(study, compared)


def _of_visits(
    conditions: Sequence[StoredCondition], visits: Sequence[str]
) -> dict[str, StoredCondition]:
    """Return the conditions of the visits by the names they are asked for."""
    known = dict.fromkeys(each.visit for each in conditions)
    for visit in visits:
        if visit not in known:
            raise _unknown("visit", visit, known)
    own = [each for each in conditions if each.visit in visits]
    if len(set(visits)) == 1:
        return {each.code: each for each in own}
    return {f"{each.code}, {each.visit}": each for each in own}


def _chosen(found: Mapping[str, StoredCondition], asked: ReportOptions) -> ComparisonChoice:
    names = [*asked.conditions, *filter(None, [asked.reference])]
    for name in names:
        if name not in found:
            raise _unknown("condition", name, found)
    wanted = [found[name] for name in dict.fromkeys(names)] if asked.conditions else []
    visits = {each.visit_id for each in found.values()}
    choice = first_choice(wanted or list(found.values()), visits=visits)
    if choice is None:
        raise StudyError(
            "Fewer than two conditions have walks to compare.",
            where=", ".join(asked.visits),
            action="Give another --visit, or two of them.",
        )
    reference = found[asked.reference].id if asked.reference else choice.reference
    ids = [each.id for each in wanted] or choice.conditions
    return ComparisonChoice(tuple(dict.fromkeys([*ids, reference])), reference)


def _unknown(kind: str, name: str, known: Mapping[str, object]) -> StudyError:
    return StudyError(
        f"There is no {kind} {name!r}.",
        where=f"--{kind}",
        action=f"There are: {'; '.join(known) or 'none'}.",
    )

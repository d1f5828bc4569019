"""Say what was exported of a study, and which of its releases a folder is.

In come an open study and, if given, a folder or a person, out come lines of text and the exit code.
"""

from __future__ import annotations

from pathlib import Path

import click

from gaittrack.cohort.release.releases import (
    PastRelease,
    release_in,
    releases_of,
    releases_with,
)
from gaittrack.commands.running import DONE, NOT_ALL_WELL
from gaittrack.study.store import Study


def run_releases(study: Study, *, exported: Path | None, person: str | None) -> int:
    """Print releases and return the exit code."""
    if exported is not None:
        return _which(study, exported)
    with study.read() as connection:
        found = (
            releases_of(connection)
            if person is None
            else releases_with(connection, study.folder, person)
        )
    for each in found:
        click.echo(_line(each))
    if not found:
        click.echo("Nothing was exported." if person is None else "No known release holds them.")
    return DONE


def _which(study: Study, folder: Path) -> int:
    with study.read() as connection:
        found, changed = release_in(connection, folder)
        newest = len(releases_of(connection))
    for name in changed:
        click.echo(f"changed since it was written, gone or added: {name}", err=True)
    if found is None:
        click.echo("No release of this study, or its tables were changed.")
        return NOT_ALL_WELL
    click.echo(_line(found))
    click.echo(f"It shows the study as it stood after entry {found.entry} of its history.")
    if found.number < newest:
        click.echo(f"There is a newer one: {newest}.")
    return NOT_ALL_WELL if changed else DONE


def _line(each: PastRelease) -> str:
    facts = each.facts
    people, own = facts.get("n_people", "?"), each.export_hash or "none kept"
    of = f", {facts['selection']}" if facts.get("selection") else ""
    erased = f"; {each.n_erased} of them erased since" if each.n_erased else ""
    return (
        f"{each.number}: {each.utc[:10]} by {each.who}, {facts.get('release', '?')}, "
        f"{people} people{of}{erased}; hash {own}"
    )

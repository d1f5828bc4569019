"""Notes of a study as lines of text.

In come words, out come the notes in which they occur.
"""

from __future__ import annotations

import click

from gaittrack.study.people.notes import find_notes
from gaittrack.study.store import Study


def run_notes(study: Study, *, text: str) -> None:
    """List notes in which words occur."""
    found = find_notes(study, text)
    for each in found:
        click.echo(f"{each.place}: {each.label}: {each.text}")
    if not found:
        click.echo("No note holds these words." if text else "There are no notes.")

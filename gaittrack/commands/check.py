"""``gaittrack check``: what is in a file, and what can be measured from it."""

from __future__ import annotations

import click

from gaittrack.commands.options import runs, walk_options


@click.command()
@walk_options
@runs("commands.batch.check_files")
def check() -> None:
    """Show what is in a file: landmarks, events by source, cycles, problems.

    FILE is a recording; a folder means the recordings in it. Exit codes: 0 done, 1 some files were
    refused, 2 wrong use.
    """

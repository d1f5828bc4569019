"""``gaittrack check``: what is in a file, and what can be measured from it."""

from __future__ import annotations

import sys
from typing import Any

import click

from gaittrack.commands.options import walk_options


@click.command()
@walk_options
def check(**given: Any) -> None:
    """Show what is in a file: landmarks, events by source, cycles, problems.

    FILE is a recording; a folder means the recordings in it. Exit codes: 0 done, 1 some files were
    refused, 2 wrong use.
    """
    from gaittrack.commands.batch import open_batch, print_checks

    sys.exit(print_checks(open_batch(**given)))

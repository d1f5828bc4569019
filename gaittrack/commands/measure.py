"""``gaittrack measure``: files in, measures out."""

from __future__ import annotations

import click

from gaittrack.commands.options import output_options, runs, walk_options


@click.command()
@walk_options
@output_options
@runs("commands.batch.measure_files")
def measure() -> None:
    """Measure walks: the four headline values of every step, and per walk.

    FILE is a recording; a folder means the recordings in it. Results go to stdout, problems to
    stderr. Exit codes: 0 done, 1 some files were refused, 2 wrong use.
    """

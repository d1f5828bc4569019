"""``gaittrack measure``: files in, measures out."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import click

from gaittrack.commands.options import output_options, walk_options


@click.command()
@walk_options
@output_options
def measure(as_json: bool, csv_out: Path | None, **given: Any) -> None:
    """Measure walks: the four headline values of every step, and per walk.

    FILE is a recording; a folder means the recordings in it. Results go to stdout, problems to
    stderr. Exit codes: 0 done, 1 some files were refused, 2 wrong use.
    """
    from gaittrack.commands.batch import open_batch, print_measures

    batch = open_batch(**given, csv_out=csv_out)
    sys.exit(print_measures(batch, as_json=as_json, csv_out=csv_out))

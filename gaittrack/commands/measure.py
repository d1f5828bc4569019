"""``gaittrack measure``: files in, measures out."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from gaittrack.commands.walk_options import output_options, walk_options


@click.command()
@walk_options
@output_options
def measure(
    paths: tuple[Path, ...],
    map_file: Path | None,
    standing: Path | None,
    events_csv: Path | None,
    rate_hz: float | None,
    as_json: bool,
    csv_out: Path | None,
) -> None:
    """Measure walks: the four headline values of every step, and per walk.

    FILE is a recording; a folder means the recordings in it. Results go to stdout, problems to
    stderr. Exit codes: 0 done, 1 some files were refused, 2 wrong use.
    """
    from gaittrack.commands.batch import open_batch, print_measures

    batch = open_batch(
        paths,
        map_file=map_file,
        standing=standing,
        events_csv=events_csv,
        rate_hz=rate_hz,
        csv_out=csv_out,
    )
    sys.exit(print_measures(batch, as_json=as_json, csv_out=csv_out))

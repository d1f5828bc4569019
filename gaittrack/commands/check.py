"""``gaittrack check``: what is in a file, and what can be measured from it."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from gaittrack.commands.walk_options import walk_options


@click.command()
@walk_options
def check(
    paths: tuple[Path, ...],
    map_file: Path | None,
    standing: Path | None,
    events_csv: Path | None,
    rate_hz: float | None,
) -> None:
    """Show what is in a file: landmarks, events by source, cycles, problems.

    FILE is a recording; a folder means the recordings in it. Exit codes: 0 done, 1 some files were
    refused, 2 wrong use.
    """
    from gaittrack.commands.batch import open_batch, print_checks

    batch = open_batch(
        paths, map_file=map_file, standing=standing, events_csv=events_csv, rate_hz=rate_hz
    )
    sys.exit(print_checks(batch))

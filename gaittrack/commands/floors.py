"""``gaittrack floors``: repeat visits in, the laboratory's own measurement error out."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import click

from gaittrack.commands.options import NEW_FILE, map_option


@click.command()
@click.argument("out", type=NEW_FILE, metavar="OUT.toml")
@click.option(
    "--visit",
    "visits",
    multiple=True,
    required=True,
    metavar="PERSON=PATH",
    help="Walks of one visit of a person; at least two visits of three persons.",
)
@click.option(
    "--situation",
    type=click.Choice(["untouched", "moved", "other-day"]),
    default="other-day",
    show_default=True,
    help="Markers between visits: left on, taken off on the same day, another day.",
)
@click.option("--laboratory", default="", metavar="NAME", help="Named where the floors are cited.")
@map_option
def floors(out: Path, visits: tuple[str, ...], **given: Any) -> None:
    """Turn repeat visits, when nothing had changed, into your own measurement error.

    PATH is a file, a folder or a pattern in quotes; the visits of a person count in the order
    given. Write PERSON as a code. The same condition must have been worn at all visits. The file
    OUT.toml serves "gaittrack compare --floors". Exit codes: 0 done, 1 some files were refused or
    some measures have too few persons, 2 wrong use.
    """
    from gaittrack.commands.repeat_measuring import write_own_floors

    sys.exit(write_own_floors(out, visits, **given))

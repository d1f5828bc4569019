"""``gaittrack errors``: repeat visits in, the laboratory's own measurement error out."""

from __future__ import annotations

import click

from gaittrack.commands.options import NEW_FILE, map_option, runs


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
    "--markers",
    "handling",
    type=click.Choice(["left-on", "same-day", "other-day", "other-tester"]),
    default="other-tester",
    show_default=True,
    help="Between visits: left on; put on again by the same person on the same day, or on another "
    "day; put on by whoever was there.",
)
@click.option("--laboratory", default="", metavar="NAME", help="Named where the errors are cited.")
@map_option
@runs("commands.repeat_measuring.write_own_errors")
def errors() -> None:
    """Turn repeat visits, when nothing had changed, into your own measurement error.

    PATH is a file, a folder or a pattern in quotes; the visits of a person count in the order
    given. Write PERSON as a code. The same condition must have been worn at all visits. The file
    OUT.toml serves "gaittrack compare --errors". Exit codes: 0 done, 1 some files were refused or
    some measures have too few persons, 2 wrong use.
    """

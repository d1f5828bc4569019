"""``gaittrack compare``: walks of several conditions in, what changed and how sure out."""

from __future__ import annotations

import click

from gaittrack.commands.options import FILE, NEW_FILE, map_option, rate_option, runs


@click.command()
@click.argument("visit", required=False)
@click.option(
    "--without", multiple=True, metavar="PATH", help="Walks without the brace: the reference."
)
@click.option("--with", "with_", multiple=True, metavar="PATH", help="Walks with the brace.")
@click.option(
    "--condition", "named", multiple=True, metavar="NAME=PATH", help="Walks of any condition."
)
@click.option("--reference", metavar="NAME", help="The condition the others are compared with.")
@click.option(
    "--standing", multiple=True, metavar="NAME=FILE", help="Quiet standing of a condition."
)
@map_option
@click.option(
    "--events", multiple=True, metavar="FILE=CSV", help="Events table of one of the walks."
)
@click.option(
    "--affected",
    type=click.Choice(["left", "right", "both"]),
    help="Affected side; shown first.",
)
@click.option(
    "--conditions",
    "conditions_file",
    type=FILE,
    metavar="TOML",
    help="What was worn, by condition.",
)
@click.option("--errors", type=FILE, metavar="TOML", help="Own errors: gaittrack errors.")
@click.option(
    "--aim",
    "aims",
    multiple=True,
    metavar="QUESTION",
    help="A question recorded as an aim before the first comparison; its change is judged first. "
    "[default: those of conditions.toml]",
)
@click.option(
    "--typical",
    metavar="adult|child|TOML",
    help="Typical ranges, of a file curves too. [default: by the age band in conditions.toml, "
    "else adult]",
)
@rate_option
@click.option("--all", "everything", is_flag=True, help="Also the table of all measures.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON in place of the table.")
@click.option(
    "--html", "html_out", type=NEW_FILE, metavar="OUT", help="Also write one offline page."
)
@runs("commands.compare_run.print_comparison")
def compare() -> None:
    """Compare walks without and with a brace, or of any conditions.

    VISIT is a folder with a folder for each condition that its conditions.toml describes. Without
    it conditions are named one by one: PATH is a file, a folder or a pattern in quotes; --without,
    --with and --condition may be repeated. The names of the short form are "without brace" and
    "with brace". A file whose name begins with "standing" is that condition's standing trial.
    Without --conditions a file conditions.toml in or beside the folders is used.

    Results go to stdout, problems to stderr. Exit codes: 0 done, 1 some files were refused, 2 wrong
    use.
    """

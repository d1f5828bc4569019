"""``gaittrack demo``: the measures of a made-up department's walks."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from gaittrack.commands.walk_options import output_options


@click.command()
@click.option("--all", "everything", is_flag=True, help="All walks, not one per condition.")
@output_options
def demo(everything: bool, as_json: bool, csv_out: Path | None) -> None:
    """Measure the sample walks: four made-up people, without and with a brace.

    Shows the first walk of each condition at the first visit. The files are those of the folder
    sample_trials; where there is none they are made anew. No person stands behind them.
    """
    from gaittrack.commands.batch import print_measures
    from gaittrack.commands.sample_walks import sample_walks

    with sample_walks(everything=everything, csv_out=csv_out) as batch:
        code = print_measures(batch, as_json=as_json, csv_out=csv_out)
    sys.exit(code)

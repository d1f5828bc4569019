"""``gaittrack demo``: the measures of a made-up department's walks, or its whole study."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from gaittrack.commands.walk_options import output_options


@click.command()
@click.option("--all", "everything", is_flag=True, help="All walks, not one per condition.")
@click.option(
    "--study",
    "folder",
    type=click.Path(file_okay=False, path_type=Path),
    metavar="DIR",
    help="Make a study in this new folder, with more made-up people, in place of measuring.",
)
@click.option(
    "--people",
    "n_people",
    type=click.IntRange(min=0, max=90),
    default=40,
    show_default=True,
    metavar="N",
    help="How many more people in the study.",
)
@output_options
def demo(
    everything: bool, folder: Path | None, n_people: int, as_json: bool, csv_out: Path | None
) -> None:
    """Measure the sample walks: four made-up people, without and with a brace.

    Shows the first walk of each condition at the first visit. The files are those of the folder
    sample_trials; where there is none they are made anew. No person stands behind them.
    """
    if folder is not None:
        if everything or as_json or csv_out is not None:
            raise click.UsageError("--study does not go together with --all, --json or --csv.")
        from gaittrack.commands.made_up_study import build_made_up_study

        sys.exit(build_made_up_study(folder, n_people))
    from gaittrack.commands.batch import print_measures
    from gaittrack.commands.sample_walks import sample_walks

    with sample_walks(everything=everything, csv_out=csv_out) as batch:
        code = print_measures(batch, as_json=as_json, csv_out=csv_out)
    sys.exit(code)

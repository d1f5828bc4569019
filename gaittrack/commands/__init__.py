"""The command line: one file per command, gathered here under ``gaittrack``.

In come arguments, out go results on stdout and problems on stderr. Exit codes: 0 done, 1 some
files were refused, 2 wrong use. Nothing heavy is imported before a command runs, so that
``--help`` answers at once.
"""

from __future__ import annotations

import io
import os
import sys
from typing import Any

import click

from gaittrack import __version__
from gaittrack.commands.check import check
from gaittrack.commands.cohort import cohort
from gaittrack.commands.compare import compare
from gaittrack.commands.correct import correct
from gaittrack.commands.dashboard import dashboard
from gaittrack.commands.demo import demo
from gaittrack.commands.export import export
from gaittrack.commands.follow import follow
from gaittrack.commands.import_files import import_command
from gaittrack.commands.measure import measure
from gaittrack.commands.measurement_errors import errors
from gaittrack.commands.recompute import recompute
from gaittrack.commands.report import report
from gaittrack.commands.study import study
from gaittrack.commands.users import users
from gaittrack.readable_names import readable


class _Program(click.Group):
    """The commands together: whatever a disk refuses of any of them is said in words."""

    def main(self, *given: Any, **named: Any) -> Any:
        """Run the command that was asked for."""
        try:
            return super().main(*given, **named)
        except OSError as error:
            place = f"{readable(error.filename)}: " if isinstance(error.filename, str) else ""
            click.echo(f"Error: {place}{error.strerror or error}.", err=True)
            sys.exit(2)


@click.group(
    cls=_Program, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100}
)
@click.version_option(__version__, prog_name="gaittrack")
def main() -> None:
    """Measure what an ankle-foot orthosis changes in walking.

    Reads C3D files, joint-angle sheets (CSV, tab text, XLSX) and tables of marker coordinates.
    """
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # threads wait longer than they work here
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")


for command in (
    *(check, measure, compare, errors, demo, import_command, follow),
    *(report, correct, recompute, study, cohort, export, dashboard, users),
):
    main.add_command(command)

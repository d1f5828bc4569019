"""Build the made-up study of ``gaittrack demo --study``.

In come a new folder and a number of people, out come a study with the sample walks and as many
more made-up people, what became of the files, and what to try next.
"""

from __future__ import annotations

import sys
import tempfile
from collections import Counter
from pathlib import Path

import click

from gaittrack.commands.sample_walks import sample_folder
from gaittrack.commands.walk_text import wrapped
from gaittrack.errors import GaitTrackError
from gaittrack.notice import NOTICE
from gaittrack.simulate.more_patients import more_patients
from gaittrack.simulate.sample_trials import write_visit
from gaittrack.simulate.scenario import PATIENTS, VISIT_DAYS
from gaittrack.study.importing import import_files
from gaittrack.study.planning import ReportRow, plan_folders
from gaittrack.study.store import Study, create_study

DONE, SOME_REFUSED = 0, 1
_NEXT = """\
The study is in {folder}. Try next:
  gaittrack follow P01 --study {folder}
  gaittrack export --study {folder} --out {out}
The export refuses, and shows who is too easy to tell apart; these people are made up, so:
  gaittrack export --study {folder} --out {out} --override-reason "made-up data"\
"""


def build_made_up_study(folder: Path, n_people: int) -> int:
    """Make the study, print what to try next and return the exit code.

    Parameters
    ----------
    folder : Path
        New or empty: made-up people never go into a study that exists.
    n_people : int
        Besides the four of the sample walks.

    Returns
    -------
    int

    Raises
    ------
    click.UsageError
        The folder is not empty, or cannot be written.
    """
    try:
        study = create_study(folder)
        try:
            rows = _fill(study, n_people)
        finally:
            study.close()
    except GaitTrackError as error:
        raise click.UsageError(str(error)) from error
    counts = Counter(row.state for row in rows)
    click.echo(", ".join(f"{count} recordings {state}" for state, count in counts.items()))
    out = folder.with_name(f"{folder.name}-export")
    click.echo(_NEXT.format(folder=folder, out=out))
    click.echo(wrapped(NOTICE))
    return SOME_REFUSED if counts["refused"] else DONE


def _fill(study: Study, n_people: int) -> list[ReportRow]:
    with (
        sample_folder(n_visits=len(VISIT_DAYS)) as samples,
        tempfile.TemporaryDirectory(prefix="gaittrack-demo-") as name,
    ):
        more = more_patients(n_people)
        hidden = not sys.stderr.isatty()
        with click.progressbar(
            more, label="Making walks", file=sys.stderr, hidden=hidden
        ) as patients:
            for patient in patients:
                write_visit(patient, 0, Path(name) / patient.code / "visit-1")
        plan = plan_folders([*(samples / patient.code for patient in PATIENTS), Path(name)])
        rows = []
        with click.progressbar(
            import_files(study, plan, who="demo"),
            length=len(plan.files) + len(plan.refused),
            label="Importing",
            file=sys.stderr,
            hidden=hidden,
        ) as imported:
            for row in imported:
                rows.append(row)
                if row.state != "added":
                    click.echo(f"{row.state}: {row.path.as_posix()}: {row.message}", err=True)
    return rows

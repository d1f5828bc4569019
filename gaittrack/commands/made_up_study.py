"""Make the study of ``gaittrack demo``.

In come a folder and a number of people, out come a study with the sample walks and as many more
made-up people, whole or not at all, and what to try with it.
"""

from __future__ import annotations

import shutil
import tempfile
from collections import Counter
from pathlib import Path
from typing import Final

import click
from sqlalchemy import select

from gaittrack.commands.running import bar_over
from gaittrack.commands.walk_text import wrapped
from gaittrack.errors import StudyError
from gaittrack.file_comparison import FileComparison
from gaittrack.library.comparisons import compare
from gaittrack.notice import NOTICE
from gaittrack.simulate.more_patients import more_patients
from gaittrack.simulate.sample_trials import write_visit
from gaittrack.simulate.scenario import PATIENTS
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import ReportRow, plan_folders
from gaittrack.study.recordings.together import AT_ONCE
from gaittrack.study.results.processes import in_processes, processes_for
from gaittrack.study.store import DATABASE, Study, create_study, explained, open_study
from gaittrack.study.tables import HISTORY

MAKER: Final = "demo"
"""Who made it, in the history: only such a study is opened as the made-up one."""
_BESIDE_CHECKOUT: Final = Path(__file__).resolve().parents[2] / "sample_trials"
_NEXT: Final = """\
The study is in {folder}. Try next:
  gaittrack dashboard --study {folder}
  gaittrack follow P01 --study {folder}
  gaittrack export --study {folder} --out {out}
The export withholds what would single somebody out and says what that cost; where too few people
are left, it refuses.
"""


def ensure_made_up_study(folder: Path, n_people: int) -> int:
    """Make the study, or leave the one that is there; print what became of the recordings.

    Parameters
    ----------
    folder : Path
        Missing, empty, or with a study that was made here before.
    n_people : int
        Besides the four of the sample walks.

    Returns
    -------
    int
        Number of recordings that were refused.

    Raises
    ------
    StudyError
        Something else is in the folder, or it cannot be written.
    """
    if (folder / DATABASE).is_file():
        _refuse_another(folder)
        click.echo("The made-up study is there already.")
        return 0
    with explained(folder):
        folder.parent.mkdir(parents=True, exist_ok=True)
        if folder.is_dir():
            _refuse_filled(folder)
            folder.rmdir()
        part = Path(tempfile.mkdtemp(prefix=f".{folder.name}-", dir=folder.parent))
    try:
        rows = _filled(part, n_people)
        with explained(folder):
            part.rename(folder)
    finally:
        shutil.rmtree(part, ignore_errors=True)
    counts = Counter(row.state for row in rows)
    click.echo(", ".join(f"{count} recordings {state}" for state, count in counts.items()))
    return counts["refused"]


def next_steps(folder: Path) -> str:
    """Return what to try with the study, and the notice."""
    out = folder.with_name(f"{folder.name}-export")
    return _NEXT.format(folder=folder, out=out) + wrapped(NOTICE)


def made_up_comparison() -> FileComparison:
    """Compare the walks of one made-up person; nothing of it is kept."""
    with tempfile.TemporaryDirectory(prefix="gaittrack-demo-") as name:
        write_visit(PATIENTS[1], 0, Path(name))
        return compare(name)


def _refuse_another(folder: Path) -> None:
    study = open_study(folder)
    try:
        with study.read() as connection:
            first = select(HISTORY.c.who).order_by(HISTORY.c.sequence).limit(1)
            maker = connection.execute(first).scalar()
    finally:
        study.close()
    if maker != MAKER:
        raise StudyError.of("study_is_your_own", where=folder)


def _refuse_filled(folder: Path) -> None:
    names = sorted(path.name for path in folder.iterdir())
    if names:
        raise StudyError.of("demo_folder_not_empty", where=folder, names=", ".join(names[:5]))


def _filled(folder: Path, n_people: int) -> list[ReportRow]:
    study = create_study(folder)
    try:
        with tempfile.TemporaryDirectory(prefix="gaittrack-demo-") as walks:
            return _imported(study, _walk_folders(Path(walks), n_people))
    finally:
        study.close()


def _walk_folders(folder: Path, n_people: int) -> list[Path]:
    """Write walks; return the folders of all people, those of the checkout where there is one."""
    more = [(patient, 1) for patient in more_patients(n_people)]
    four = [_BESIDE_CHECKOUT / patient.code for patient in PATIENTS]
    if not _BESIDE_CHECKOUT.is_dir():
        more += [(patient, patient.n_visits) for patient in PATIENTS]
        four = []
    with bar_over(more, len(more), "Making walks") as patients:
        for patient, n_visits in patients:
            for visit in range(n_visits):
                write_visit(patient, visit, folder / patient.code / f"visit-{visit + 1}")
    return [*four, folder]


def _imported(study: Study, folders: list[Path]) -> list[ReportRow]:
    plan = plan_folders(folders)
    rows = []
    n_files = len(plan.files) + len(plan.refused)
    with in_processes(processes_for(len(plan.files))) as measure_all:
        found = import_files(study, plan, who=MAKER, measure_all=measure_all, at_once=AT_ONCE)
        with bar_over(found, n_files, "Importing") as imported:
            for row in imported:
                rows.append(row)
                if row.state != "added":
                    click.echo(f"{row.state}: {row.path.as_posix()}: {row.message}", err=True)
    return rows

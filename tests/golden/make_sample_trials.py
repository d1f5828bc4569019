"""Remake ``sample_trials``: run ``python -m tests.golden.make_sample_trials FOLDER``.

In comes the scenario, out go one folder per person and visit, and ``broken/``. The same bytes are
written each time.
"""

from __future__ import annotations

import sys
from pathlib import Path

from gaittrack.simulate.sample_trials import write_visit
from gaittrack.simulate.scenario import PATIENTS
from tests.broken_files import write_broken


def write_sample_trials(folder: Path) -> None:
    """Write the whole scenario into ``folder``."""
    for patient in PATIENTS:
        for visit in range(patient.n_visits):
            write_visit(patient, visit, folder / patient.code / f"visit-{visit + 1}")
    write_broken(folder / "broken")


if __name__ == "__main__":
    write_sample_trials(Path(sys.argv[1] if len(sys.argv) > 1 else "sample_trials"))

"""The made-up department's walks as a batch, wherever the package runs.

Beside a checkout the files of ``sample_trials`` are measured as they lie there; from an installed
package the same files are made in a temporary folder, which goes when the batch is done.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import chain
from pathlib import Path

from gaittrack.commands.batch import Batch, open_batch
from gaittrack.pipeline import files_in
from gaittrack.simulate.sample_trials import write_visit
from gaittrack.simulate.scenario import PATIENTS, VISIT_DAYS, WEARS

_BESIDE_CHECKOUT = Path(__file__).resolve().parents[2] / "sample_trials"


@contextmanager
def sample_walks(*, everything: bool, csv_out: Path | None) -> Iterator[Batch]:
    """Give the sample walks, each condition with its own standing trial.

    Parameters
    ----------
    everything : bool
        All walks of all visits; else the first walk of each condition at the first visit.
    csv_out : Path or None
        File that will be written; it must not be one of the walks.
    """
    with sample_folder(n_visits=len(VISIT_DAYS) if everything else 1) as folder:
        yield _batch_in(folder, everything, csv_out)


@contextmanager
def sample_folder(*, n_visits: int) -> Iterator[Path]:
    """Give the folder of the sample walks, with at least the first ``n_visits`` of each person."""
    if _BESIDE_CHECKOUT.is_dir():
        here = Path.cwd()
        inside = _BESIDE_CHECKOUT.is_relative_to(here)
        yield _BESIDE_CHECKOUT.relative_to(here) if inside else _BESIDE_CHECKOUT
        return
    with tempfile.TemporaryDirectory(prefix="sample_trials-") as name:
        for patient in PATIENTS:
            for visit in range(n_visits):
                write_visit(patient, visit, Path(name) / patient.code / f"visit-{visit + 1}")
        yield Path(name)


def _batch_in(folder: Path, everything: bool, csv_out: Path | None) -> Batch:
    batches = [
        _condition(visit, wear, everything, csv_out)
        for patient in PATIENTS
        for visit in sorted((folder / patient.code).glob("visit-*" if everything else "visit-1"))
        for wear in WEARS
    ]
    return Batch(
        chain.from_iterable(batch.results for batch in batches),
        sum(batch.n_files for batch in batches),
    )


def _condition(visit: Path, wear: str, everything: bool, csv_out: Path | None) -> Batch:
    walks = files_in([visit / wear])
    standing = visit / "standing" / f"{wear}.c3d"
    return open_batch(
        walks if everything else walks[:1],
        standing=standing if standing.is_file() else None,
        csv_out=csv_out,
    )

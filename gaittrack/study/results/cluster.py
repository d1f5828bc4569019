"""Measure recordings of a study on a cluster that somebody runs.

In comes the address of a Dask scheduler, out comes a function that measures recordings there, with
the same function as here. Workers must run the same version and see the same study folder: each
piece of work checks both, so that nothing is stored that was measured otherwise.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from concurrent.futures import CancelledError
from contextlib import contextmanager
from dataclasses import replace
from functools import partial
from typing import Any, Final

from distributed import Client, KilledWorker

from gaittrack import __version__
from gaittrack.errors import StudyError
from gaittrack.measured_walk import Result
from gaittrack.pipeline import Recording
from gaittrack.study.results.keeping import MeasureAll, measure_apart

LONGEST_WAIT_S: Final = 15
"""How long to try to reach a scheduler; own choice."""


@contextmanager
def on_cluster(address: str) -> Iterator[MeasureAll]:
    """Give a function that measures recordings on a cluster.

    Parameters
    ----------
    address : str
        Of the scheduler: ``tcp://HOST:PORT``.

    Yields
    ------
    MeasureAll
        For :func:`gaittrack.study.results.keeping.recompute`.

    Raises
    ------
    StudyError
        No scheduler answers, a worker has another version or does not see the study, or the
        cluster stops while it measures.
    """
    try:
        client = Client(address, timeout=LONGEST_WAIT_S, set_as_default=False)
    except (OSError, ValueError) as error:
        raise StudyError.of("no_scheduler_answers", where=address, error=str(error)) from error
    with client:
        _refuse_no_workers(client, address)
        yield partial(_measure_on, client)


def _refuse_no_workers(client: Client, address: str) -> None:
    if not client.scheduler_info(n_workers=-1)["workers"]:
        raise StudyError.of("scheduler_no_workers", where=address)


def _measure_on(client: Client, recordings: Iterable[Recording]) -> Iterator[Result]:
    """Measure on the workers; results come in order, each forgotten there when it is here."""
    futures = client.map(
        measure_elsewhere, list(map(_absolute, recordings)), version=__version__, pure=False
    )
    for future in futures:
        try:
            result: Result = future.result()
        except (KilledWorker, CancelledError, OSError) as error:
            raise StudyError.of(
                "cluster_stopped_measuring", where="cluster", name=type(error).__name__
            ) from error
        future.release()
        yield result


def _absolute(recording: Recording) -> Recording:
    given: dict[str, Any] = recording.files()
    files = {use: replace(file, path=file.path.resolve()) for use, file in given.items()}
    return replace(recording, **files)


def measure_elsewhere(recording: Recording, *, version: str) -> Result:
    """Measure a recording on another machine, if it is set up as the one that asks.

    Parameters
    ----------
    recording : Recording
        With absolute paths.
    version : str
        Of the program that asks.

    Raises
    ------
    StudyError
        Another version, or the recording is not there.
    """
    if version != __version__:
        raise StudyError.of(
            "worker_of_other_version", where="cluster", own=__version__, asked=version
        )
    missing = [file.path for file in recording.files().values() if not file.path.is_file()]
    if missing:
        raise StudyError.of("worker_does_not_see", where="cluster", missing=missing[0])
    return measure_apart(recording)

"""Measure recordings of a study on a cluster that somebody runs.

In comes the address of a Dask scheduler, out comes a function that measures recordings there, with
the same function as here. Workers must run the same version and see the same study folder: each
piece of work checks both, so that nothing is stored that was measured otherwise.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import CancelledError
from contextlib import contextmanager
from dataclasses import replace
from functools import partial
from typing import Any, Final

from distributed import Client, KilledWorker

from gaittrack import __version__
from gaittrack.errors import StudyError
from gaittrack.pipeline import Recording
from gaittrack.study.results.keeping import MeasureAll
from gaittrack.study.results.kept_walk import KeptWalk, measure_to_keep

LONGEST_WAIT_S: Final = 15
"""How long to try to reach a scheduler; own choice."""
_MOST_AT_ONCE: Final = 5
"""Recordings of a piece of work; own choice: telling of a piece takes a tenth of measuring one."""
_MANY: Final = 50
"""Recordings of which each piece holds one more, so that few are spread over many workers."""


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


def _measure_on(client: Client, recordings: Iterable[Recording]) -> Iterator[KeptWalk]:
    """Measure on the workers; results come in order, each forgotten there when it is here."""
    known = list(map(_absolute, recordings))
    n_at_once = min(_MOST_AT_ONCE, 1 + len(known) // _MANY)
    some = [known[start : start + n_at_once] for start in range(0, len(known), n_at_once)]
    for future in client.map(measure_elsewhere, some, version=__version__, pure=False):
        try:
            results: list[KeptWalk] = future.result()
        except (KilledWorker, CancelledError, OSError) as error:
            raise StudyError.of(
                "cluster_stopped_measuring", where="cluster", name=type(error).__name__
            ) from error
        future.release()
        yield from results


def _absolute(recording: Recording) -> Recording:
    given: dict[str, Any] = recording.files()
    files = {use: replace(file, path=file.path.resolve()) for use, file in given.items()}
    return replace(recording, **files)


def measure_elsewhere(recordings: Sequence[Recording], *, version: str) -> list[KeptWalk]:
    """Measure recordings on another machine, if it is set up as the one that asks.

    Parameters
    ----------
    recordings : sequence of Recording
        With absolute paths.
    version : str
        Of the program that asks.

    Raises
    ------
    StudyError
        Another version, or a recording is not there.
    """
    if version != __version__:
        raise StudyError.of(
            "worker_of_other_version", where="cluster", own=__version__, asked=version
        )
    files = [file.path for recording in recordings for file in recording.files().values()]
    missing = [path for path in files if not path.is_file()]
    if missing:
        raise StudyError.of("worker_does_not_see", where="cluster", missing=missing[0])
    return list(map(measure_to_keep, recordings))

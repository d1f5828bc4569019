"""Measure recordings of a study in several processes of this machine.

In comes a number of processes, out comes a function that measures recordings there, with the same
function as here and the results in the same order. A process that dies costs the file it was
working on, not the batch.
"""

from __future__ import annotations

import os
import signal
import threading
from collections import deque
from collections.abc import Iterable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from itertools import islice
from multiprocessing import get_context, parent_process
from typing import Final

from gaittrack.errors import ReaderFailedError
from gaittrack.measured_walk import RefusedFile
from gaittrack.pipeline import Recording
from gaittrack.study.results.keeping import MeasureAll, measure_here
from gaittrack.study.results.kept_walk import KeptWalk, kept_of, measure_to_keep

AHEAD: Final = 2
"""Recordings waiting for each process, so that none idles; own choice."""
FEWEST_EACH: Final = 60
"""Recordings for which one more process pays: on two quiet processors 78 recordings took 8 s in
one process and 11 s in two, whose start costs 3 s each."""


def processes_for(n_recordings: int) -> int:
    """Return how many processes to use: one per processor, fewer for few recordings."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    return max(1, min(cores or 1, n_recordings // FEWEST_EACH))


@contextmanager
def in_processes(n_processes: int) -> Iterator[MeasureAll]:
    """Give a function that measures recordings in several processes.

    Parameters
    ----------
    n_processes : int
        With 1 everything is measured in this process.

    Yields
    ------
    MeasureAll
        For imports and recomputing. The processes end with the context; those that still measure
        are waited for.
    """
    if n_processes < 2:
        yield measure_here
        return
    pool = _Pool(n_processes)
    try:
        yield pool.measure
    finally:
        pool.close()


class _Pool:
    """Processes that are started when first needed, and anew when one has died."""

    def __init__(self, n_processes: int) -> None:
        self._n_processes = n_processes
        self._executor: ProcessPoolExecutor | None = None

    def measure(self, recordings: Iterable[Recording]) -> Iterator[KeptWalk]:
        """Measure recordings; a few are under way ahead of the one whose turn it is."""
        waiting = iter(recordings)
        ahead: deque[tuple[Recording, Future[KeptWalk]]] = deque()
        while True:
            for recording in islice(waiting, self._n_processes * AHEAD - len(ahead)):
                ahead.append((recording, self._submit(recording)))
            if not ahead:
                return
            try:
                result = ahead[0][1].result()
            except BrokenProcessPool:
                yield from self._one_by_one([recording for recording, _ in ahead])
                ahead.clear()
                continue
            ahead.popleft()
            yield result

    def close(self) -> None:
        """End the processes; what has not begun is not measured any more."""
        executor, self._executor = self._executor, None
        if executor is not None:
            executor.shutdown(wait=True, cancel_futures=True)

    def _submit(self, recording: Recording) -> Future[KeptWalk]:
        if self._executor is None:
            self._executor = ProcessPoolExecutor(
                self._n_processes, mp_context=get_context("spawn"), initializer=_start
            )
        try:
            return self._executor.submit(measure_to_keep, recording)
        except BrokenProcessPool as error:
            failed: Future[KeptWalk] = Future()
            failed.set_exception(error)
            return failed

    def _one_by_one(self, recordings: Iterable[Recording]) -> Iterator[KeptWalk]:
        """Measure what was under way when a process died, each alone: one of them is to blame."""
        self.close()
        for recording in recordings:
            try:
                yield self._submit(recording).result()
            except BrokenProcessPool:
                self.close()
                yield _refused(recording)


def _refused(recording: Recording) -> KeptWalk:
    error = ReaderFailedError.of("process_measured_file_died", where=recording.file.name)
    return kept_of(recording, RefusedFile(recording.file.known_path, None, error))


def _start() -> None:
    """Set a new process up: the one that started it takes Ctrl-C, and is not outlived."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)

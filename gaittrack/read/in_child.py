"""Read files in a worker process, so that a bad file costs one row and not the run.

In goes a function of this package and its arguments; out comes what it returned or the error it
raised. The worker is started once and reused, limited in time and memory, and replaced when a file
kills it or overruns. Messages are pickles with their length in front, between two processes of our
own; what native code prints goes nowhere.
"""

from __future__ import annotations

import atexit
import os
import pickle
import struct
import subprocess
import sys
import threading
from collections.abc import Callable
from contextlib import suppress
from importlib import import_module
from pathlib import Path
from typing import Any, BinaryIO, cast

from gaittrack.errors import GaitTrackError, ReaderFailedError
from gaittrack.plain_files import LONGEST_S

if sys.platform != "win32":
    import resource
if sys.platform == "linux":
    import fcntl

MEMORY_LIMIT_BYTES = 6 * 1024**3
"""Address space of the worker, where the system can limit it; our choice."""
PIPE_BYTES = 1024**2
"""What the pipe of answers holds, where the system lets us say so; our choice: an answer of some
megabytes comes in a few waits, not in a hundred."""
ANOTHER_EXPORT = "Leave this file out, or export it again from the recording."

_LENGTH = struct.Struct("<Q")
_START = "from gaittrack.read.in_child import serve; serve()"
_PACKAGE_FOLDER = Path(__file__).resolve().parents[2]


class Worker:
    """One worker process that runs functions for this one; safe to share between threads.

    Parameters
    ----------
    time_limit_s : float
        Longest time for one call.
    """

    def __init__(self, *, time_limit_s: float = LONGEST_S) -> None:
        self.time_limit_s = time_limit_s
        self._lock = threading.Lock()
        self._process: subprocess.Popen[bytes] | None = None

    def call(
        self, function: Callable[..., Any], *arguments: Any, where: str, spent_s: float = 0.0
    ) -> Any:
        """Return ``function(*arguments)`` as run by the worker.

        Parameters
        ----------
        function : callable
            A function at the top of an importable module.
        *arguments : object
            Anything that can be pickled.
        where : str
            File name for messages.
        spent_s : float
            What of the longest time was spent on the file before.

        Returns
        -------
        object
            A pickled copy of what the function returned.

        Raises
        ------
        ReaderFailedError
            The worker died, overran its time or its memory; the next call starts a new one.
        GaitTrackError
            Whatever the function raised.
        """
        task = pickle.dumps((function.__module__, function.__name__, arguments, where), protocol=5)
        with self._lock:
            answer = self._exchange(task, where, spent_s)
        if isinstance(answer, GaitTrackError):
            raise answer
        return answer

    def close(self) -> None:
        """End the worker process."""
        process, self._process = self._process, None
        if process is None:
            return
        process.kill()
        process.wait()
        for pipe in (process.stdin, process.stdout):
            with suppress(OSError):
                cast(BinaryIO, pipe).close()

    def forget(self) -> None:
        """Leave the process to the parent; called in a fork of this process."""
        self._lock, self._process = threading.Lock(), None

    def _exchange(self, task: bytes, where: str, spent_s: float) -> Any:
        process = self._running()
        overran = threading.Event()
        timer = threading.Timer(max(self.time_limit_s - spent_s, 0.0), _end, (process, overran))
        timer.daemon = True
        timer.start()
        try:
            _send(cast(BinaryIO, process.stdin), task)
            return pickle.loads(_receive(cast(BinaryIO, process.stdout)))
        except (OSError, EOFError, pickle.UnpicklingError) as error:
            self.close()
            what = (
                f"Reading took longer than {self.time_limit_s:g} s and was stopped."
                if overran.is_set()
                else f"The reader process died on this file (exit code {process.returncode})."
            )
            raise ReaderFailedError(what, where=where, action=ANOTHER_EXPORT) from error
        except BaseException:
            self.close()
            raise
        finally:
            timer.cancel()

    def _running(self) -> subprocess.Popen[bytes]:
        if self._process is not None and self._process.poll() is None:
            return self._process
        self.close()
        folders = (str(_PACKAGE_FOLDER), os.environ.get("PYTHONPATH", ""))
        self._process = subprocess.Popen(
            [sys.executable, "-P", "-c", _START],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env={
                **os.environ,
                "PYTHONPATH": os.pathsep.join(filter(None, folders)),
                "OPENBLAS_NUM_THREADS": "1",
            },
        )
        _widen(cast(BinaryIO, self._process.stdout))
        return self._process


WORKER = Worker()
"""The worker that all reading of this process shares."""
atexit.register(WORKER.close)
if hasattr(os, "register_at_fork"):
    os.register_at_fork(after_in_child=WORKER.forget)


def serve() -> None:
    """Answer calls on standard input until it closes; this is the worker's whole life."""
    calls = os.fdopen(os.dup(0), "rb")
    answers = os.fdopen(os.dup(1), "wb")
    nowhere = os.open(os.devnull, os.O_RDWR)
    os.dup2(nowhere, 0)
    os.dup2(nowhere, 1)
    _limit_memory()
    with suppress(EOFError, BrokenPipeError):
        while True:
            _send(answers, pickle.dumps(_run(_receive(calls)), protocol=5))


def _run(task: bytes) -> Any:
    module, name, arguments, where = pickle.loads(task)
    try:
        return _only_own_errors(getattr(import_module(module), name), arguments, where)
    except GaitTrackError as error:
        return error


def _only_own_errors(function: Callable[..., Any], arguments: Any, where: str) -> Any:
    """Run the function; a reader's own fault must cost one file, not the batch."""
    try:
        return function(*arguments)
    except GaitTrackError:
        raise
    except MemoryError as error:
        what = "Reading needed more memory than a reader may use."
        raise ReaderFailedError(what, where=where, action=ANOTHER_EXPORT) from error
    except Exception as error:
        what = f"The reader failed on this file ({type(error).__name__})."
        raise ReaderFailedError(what, where=where, action=ANOTHER_EXPORT) from error


def _limit_memory() -> None:
    if sys.platform == "win32":
        return
    with suppress(ValueError, OSError):
        resource.setrlimit(resource.RLIMIT_AS, (MEMORY_LIMIT_BYTES, MEMORY_LIMIT_BYTES))


def _widen(pipe: BinaryIO) -> None:
    if sys.platform == "linux":
        with suppress(OSError):
            fcntl.fcntl(pipe.fileno(), fcntl.F_SETPIPE_SZ, PIPE_BYTES)


def _end(process: subprocess.Popen[bytes], overran: threading.Event) -> None:
    overran.set()
    process.kill()


def _send(pipe: BinaryIO, message: bytes) -> None:
    pipe.write(_LENGTH.pack(len(message)))
    pipe.write(message)
    pipe.flush()


def _receive(pipe: BinaryIO) -> bytes:
    head = pipe.read(_LENGTH.size)
    if len(head) < _LENGTH.size:
        raise EOFError
    (length,) = _LENGTH.unpack(head)
    message = pipe.read(length)
    if len(message) < length:
        raise EOFError
    return message

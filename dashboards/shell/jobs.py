"""Long work that a screen waits for: done in a thread, asked after by a secret number.

In come steps that are done as they are asked for, out comes how far they are and what they gave.
A job answers only to the session that started it. All of it lives in this process.
"""

from __future__ import annotations

import secrets
import threading
import time
from collections.abc import Generator, Iterator
from dataclasses import dataclass, field
from typing import Any, Final

from flask import g

from dashboards.shell.access import LOG, NotAllowedError
from dashboards.shell.doors import place_of
from gaittrack.errors import GaitTrackError

KEPT_S: Final = 3600.0
"""How long the outcome of a job can be asked for; own choice."""

_WENT_WRONG: Final = "Something went wrong here; it is in the log. What was done before is kept."
UNFORESEEN: Final = (ArithmeticError, AttributeError, LookupError, OSError, TypeError, ValueError)
"""What a fault in long work raises: told and logged, so that the screen does not wait for ever."""


@dataclass(slots=True)
class Job:
    """Work that goes on.

    Attributes
    ----------
    owner : object
        The session that started it.
    what : str
        Its kind; see :meth:`Jobs.start`.
    n : int
        Steps in all, as far as known.
    done : list
        What the steps gave so far.
    error : str
        Why it ended early; empty otherwise.
    is_stopped : bool
        Somebody asked it to end after the step at hand.
    """

    owner: object
    what: str
    n: int
    done: list[Any] = field(default_factory=list)
    error: str = ""
    is_over: bool = False
    is_stopped: bool = False
    ended_s: float = 0.0

    @property
    def is_cut_short(self) -> bool:
        """Whether it was stopped before all was done."""
        return self.is_stopped and len(self.done) < self.n

    def run(self, steps: Iterator[Any]) -> None:
        """Do the steps; what goes wrong ends the job and is told."""
        error = _WENT_WRONG
        try:
            for one in steps:
                self.done.append(one)
                if self.is_stopped:
                    break
            if isinstance(steps, Generator):
                steps.close()  # what the work holds is let go before it is over
            error = ""
        except GaitTrackError as foreseen:
            error = str(foreseen)
        except UNFORESEEN as fault:
            LOG.error("unforeseen %s in %s", type(fault).__name__, place_of(fault))
        finally:
            self.error, self.ended_s, self.is_over = error, time.monotonic(), True


def session() -> object:
    """Return the session that asks; only itself is equal to it."""
    return g.session


class Jobs:
    """The jobs of one server."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._held: dict[str, Job] = {}

    def start(self, what: str, steps: Iterator[Any], n: int, *, alone: bool = False) -> str:
        """Begin a job for the session that asks.

        Parameters
        ----------
        what : str
            Its kind.
        steps : iterator
            The work: each item is one step.
        n : int
            Steps in all.
        alone : bool
            Refuse while another job of this kind goes on.

        Returns
        -------
        str
            Its secret number.

        Raises
        ------
        GaitTrackError
            Another one goes on.
        """
        job, key = Job(session(), what, n), secrets.token_urlsafe(16)
        with self._lock:
            self._forget_old()
            if alone and any(one.what == what and not one.is_over for one in self._held.values()):
                raise GaitTrackError.of("being_done_already", where=what)
            self._held[key] = job
        threading.Thread(target=job.run, args=(steps,), daemon=True).start()
        return key

    def find(self, key: str) -> Job:
        """Return a job of the session that asks.

        Raises
        ------
        NotAllowedError
            There is none with this number, or it is somebody else's.
        """
        with self._lock:
            job = self._held.get(key)
        if job is None or job.owner is not session():
            raise NotAllowedError.of("begun_no_longer_known", where="request")
        return job

    def going_on(self, what: str) -> str | None:
        """Return the number of a job of this kind that the session began and that goes on."""
        mine = session()
        with self._lock:
            for key, job in self._held.items():
                if job.what == what and job.owner is mine and not job.is_over:
                    return key
        return None

    def _forget_old(self) -> None:
        now = time.monotonic()
        for key, job in list(self._held.items()):
            if job.is_over and now - job.ended_s > KEPT_S:
                del self._held[key]

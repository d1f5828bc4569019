"""The cohort of a study, compared once and kept in the server's memory.

In comes a study, out comes its :class:`CohortView` as soon as it is made. Making it takes a second
for each person who is new or has changed, so it is done in a thread; meanwhile the screen says how
far it is.
"""

from __future__ import annotations

import logging
import threading
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from typing import Final

from dashboards.doors import place_of
from gaittrack.cohort.view import CohortView, is_current, read_cohort
from gaittrack.errors import GaitTrackError
from gaittrack.study.store import Study

LOG: Final = logging.getLogger("gaittrack.dashboard")


@dataclass(frozen=True, slots=True)
class Look:
    """What there is of a cohort at the moment.

    Attributes
    ----------
    view : CohortView or None
        None while the first one is being made; else the last one, perhaps of an older state.
    is_reading : bool
        A newer one is being made.
    n_done, n_all : int
        People compared so far, of those that have to be.
    error : str
        Why the last reading failed; empty otherwise.
    """

    view: CohortView | None
    is_reading: bool
    n_done: int
    n_all: int
    error: str


class CohortMemory:
    """The cohort of one study, shared by everybody who looks at it."""

    def __init__(self, study: Study) -> None:
        self._study = study
        self._lock = threading.Lock()
        self._reader = ThreadPoolExecutor(1, thread_name_prefix="cohort")
        self._reading: Future[CohortView] | None = None
        self._view: CohortView | None = None
        self._steps = (0, 0)

    def look(self) -> Look:
        """Return what there is; begin to read when the study has changed.

        Returns
        -------
        Look
            A failed reading is told once; the next look begins another.
        """
        with self._lock:
            error = self._take_in()
            if not error and self._reading is None and not self._is_current():
                self._steps = (0, 0)
                self._reading = self._reader.submit(
                    read_cohort, self._study, earlier=self._view, progress=self._note
                )
            return Look(self._view, self._reading is not None, *self._steps, error)

    def _take_in(self) -> str:
        """Take in a reading that has ended; return why it failed, or ""."""
        if self._reading is None or not self._reading.done():
            return ""
        ended, self._reading = self._reading, None
        error = ended.exception()
        if error is None:
            self._view = ended.result()
            return ""
        if not isinstance(error, Exception):
            raise error
        if isinstance(error, GaitTrackError):
            return str(error)
        LOG.error("unforeseen %s in %s", type(error).__name__, place_of(error))
        return "The cohort could not be read; the reason is in the log."

    def _is_current(self) -> bool:
        return self._view is not None and is_current(self._view, self._study)

    def _note(self, n_done: int, n_all: int) -> None:
        self._steps = (n_done, n_all)

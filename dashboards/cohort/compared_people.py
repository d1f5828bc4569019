"""The cohort of a study, compared once and kept in the server's memory.

In comes a study, out comes its :class:`CohortView` as soon as it is made. Making it takes a second
for each person who is new or has changed, so it is done in a thread; meanwhile the screen says how
far it is.
"""

from __future__ import annotations

import logging
import threading
from dataclasses import dataclass
from typing import Final

from dashboards.shell.doors import place_of
from dashboards.shell.jobs import UNFORESEEN
from gaittrack.cohort.view import CohortView, is_current, read_cohort
from gaittrack.errors import GaitTrackError
from gaittrack.study.store import Study

LOG: Final = logging.getLogger("gaittrack.dashboard")
_WENT_WRONG: Final = "The cohort could not be read; the reason is in the log."


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
        self._is_reading = False
        self._view: CohortView | None = None
        self._error = ""
        self._steps = (0, 0)

    def look(self) -> Look:
        """Return what there is; begin to read when the study has changed.

        Returns
        -------
        Look
            A failed reading is told once; the next look begins another.
        """
        with self._lock:
            error, self._error = self._error, ""
            if not error and not self._is_reading and not self._is_current():
                self._is_reading, self._steps = True, (0, 0)
                # A pool of threads would be waited for when the program ends.
                threading.Thread(target=self._read, args=(self._view,), daemon=True).start()
            return Look(self._view, self._is_reading, *self._steps, error)

    def _read(self, earlier: CohortView | None) -> None:
        view, error = earlier, _WENT_WRONG
        try:
            view = read_cohort(self._study, earlier=earlier, progress=self._note)
            error = ""
        except GaitTrackError as foreseen:
            error = str(foreseen)
        except UNFORESEEN as fault:
            LOG.error("unforeseen %s in %s", type(fault).__name__, place_of(fault))
        finally:
            with self._lock:
                self._view, self._error, self._is_reading = view, error, False

    def _is_current(self) -> bool:
        return self._view is not None and is_current(self._view, self._study)

    def _note(self, n_done: int, n_all: int) -> None:
        self._steps = (n_done, n_all)

"""The cohort of a study as it was compared, kept in the server's memory.

In comes a study, out comes its :class:`CohortView`, at once: nobody is compared here. Who is not
compared yet is by and by, beside the screens; meanwhile the screen says how far that is.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from flask import Flask

from dashboards.shell.keeper import Keeper, keeper_of
from gaittrack.cohort.asking.view import CohortView, is_current, kept_cohort
from gaittrack.study.store import Study

_EXTENSION: Final = "gaittrack-cohort"
_GROWS: Final = 1.25
"""While people are compared, the view is read again when so many times as many are; own choice."""
_PAUSE_S: Final = 1.0
_BETWEEN_S: Final = 0.05
"""Room for the screens between two measures; own choice."""


@dataclass(frozen=True, slots=True)
class Look:
    """What there is of a cohort at the moment.

    Attributes
    ----------
    view : CohortView
        Of those who are compared.
    is_comparing : bool
        Others are being compared.
    n_done, n_all : int
        People compared, of those in the study.
    """

    view: CohortView
    is_comparing: bool
    n_done: int
    n_all: int


class CohortMemory:
    """The cohort of one study, shared by everybody who looks at it."""

    def __init__(self, study: Study, keeper: Keeper) -> None:
        self._study = study
        self._keeper = keeper
        self._lock = threading.Lock()
        self._view: CohortView | None = None
        self._is_wanted = True
        keeper.make_ready(self._read_all)

    def look(self) -> Look:
        """Return what there is; read it again when the study has changed or more is compared."""
        self._is_wanted = True
        return self._looked()

    def in_hand(self) -> Look | None:
        """Return what there is where it was read before and holds; nobody waits for it."""
        view = self._view
        return self.look() if view is not None and is_current(view, self._study) else None

    def _looked(self) -> Look:
        kept = self._keeper.look()
        n_done = len(kept.compared.about)
        with self._lock:
            view = self._view
            if view is None or not self._is_current(view, n_done, kept.is_comparing):
                view = self._view = kept_cohort(self._study, kept.compared, kept.fresh)
            return Look(view, kept.is_comparing, n_done, len(kept.compared.stamps))

    def _read_all(self) -> Iterator[None]:
        """Read measure after measure, so that whoever chooses one need not wait for that.

        At the start, and after a change where somebody looks at the cohort.
        """
        if not self._is_wanted:
            return
        self._is_wanted = False
        time.sleep(_PAUSE_S)  # the first screen comes first
        yield
        view = self._looked().view
        for measure in view.measures:
            yield
            view.changes_of(measure)
            time.sleep(_BETWEEN_S)

    def _is_current(self, view: CohortView, n_done: int, is_comparing: bool) -> bool:
        n_before = len(view.about)
        has_enough = n_done == n_before or (is_comparing and n_done < _GROWS * n_before)
        return is_current(view, self._study) and has_enough


def memory_of(server: Flask, study: Study) -> CohortMemory:
    """Return the cohort of a study that all visitors of a server share."""
    if _EXTENSION not in server.extensions:
        server.extensions[_EXTENSION] = CohortMemory(study, keeper_of(server, study))
    found: CohortMemory = server.extensions[_EXTENSION]
    return found

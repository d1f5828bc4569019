"""What waits in the walks of everybody, counted once and then kept up with the history.

In comes a study, out come counts by person, at once; the first count of a large study goes on in
the background meanwhile. Everything that changes a study stands in its history, whoever did it.
"""

from __future__ import annotations

import threading
from collections.abc import Iterable, Iterator
from typing import Final

from sqlalchemy import select

from gaittrack.errors import GaitTrackError
from gaittrack.study.overview import Changes, Waiting, changes_since, waiting_of, waiting_of_all
from gaittrack.study.store import Study
from gaittrack.study.tables import PERSON

MOST_AT_ONCE: Final = 4
"""People counted anew before an answer; more are counted in the background."""
_PATIENCE_S: Final = 0.1


class Lookout:
    """What waits in one study.

    Parameters
    ----------
    study : Study
    """

    def __init__(self, study: Study) -> None:
        self._study = study
        self._lock = threading.Lock()
        self._found: dict[int, Waiting] = {}
        self._last: int | None = None
        self._counting: threading.Thread | None = None
        self._error: GaitTrackError | None = None

    def look(self) -> tuple[dict[int, Waiting], bool]:
        """Return what waits by the number of the person, and whether all of it is counted.

        Raises
        ------
        GaitTrackError
            The study could not be read; the next look tries again.
        """
        with self._lock:
            if self._counting is None:
                self._keep_up()
            thread = self._counting
        if thread is not None:
            thread.join(_PATIENCE_S)
        with self._lock:
            error, self._error = self._error, None
            if error is not None:
                raise error
            return dict(self._found), self._counting is None

    def _keep_up(self) -> None:
        changes = changes_since(self._study, self._last or 0)
        if self._last is None or changes.concerns_all:
            self._count_later(waiting_of_all(self._study), changes)
            return
        people = self._numbers_of(changes.people)
        anew = ((person, waiting_of(self._study, person)) for person in people)
        if len(people) > MOST_AT_ONCE:
            self._count_later(anew, changes)
            return
        self._found.update(anew)
        self._last = changes.last

    def _numbers_of(self, codes: Iterable[str]) -> list[int]:
        with self._study.read() as connection:
            query = select(PERSON.c.id).where(PERSON.c.code.in_(list(codes)))
            return list(connection.execute(query).scalars())

    def _count_later(self, counts: Iterator[tuple[int, Waiting]], changes: Changes) -> None:
        self._counting = threading.Thread(target=self._count, args=(counts, changes), daemon=True)
        self._counting.start()

    def _count(self, counts: Iterator[tuple[int, Waiting]], changes: Changes) -> None:
        try:
            for person, waiting in counts:
                with self._lock:
                    self._found[person] = waiting
            self._last = changes.last
        except GaitTrackError as error:
            self._error = error
        finally:
            with self._lock:
                self._counting = None

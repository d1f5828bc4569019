"""Who is there and what waits, looked up once and then kept up with the history.

In comes a study, out come its people and counts by person, at once; the first count of a large
study goes on in the background meanwhile. Everything that changes a study stands in its history,
whoever did it.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from gaittrack.errors import GaitTrackError
from gaittrack.study.people.enrolled import ids_of
from gaittrack.study.recordings.overview import (
    ListedPerson,
    Waiting,
    changes_since,
    last_entry,
    list_people,
    waiting_of,
    waiting_of_all,
)
from gaittrack.study.store import Study

MOST_AT_ONCE: Final = 4
"""People counted anew before an answer; more are counted in the background."""
_PATIENCE_S: Final = 0.1
"""For a count that begins: of a small study it is done by then. Nobody waits for one under way."""


@dataclass(frozen=True, slots=True)
class Seen:
    """What a look shows.

    Attributes
    ----------
    counts : dict of int to Waiting
        By the number of the person; of those counted so far.
    is_counted : bool
        Whether all of it is counted.
    """

    people: list[ListedPerson]
    counts: dict[int, Waiting]
    is_counted: bool


class Lookout:
    """Who is in one study, and what waits there."""

    def __init__(self, study: Study) -> None:
        self._study = study
        self._lock = threading.Lock()
        self._found: dict[int, Waiting] = {}
        self._last: int | None = None
        self._people: list[ListedPerson] = []
        self._people_at = -1
        self._counting: threading.Thread | None = None
        self._error: GaitTrackError | None = None

    def look(self) -> Seen:
        """Return who is there and what waits, as of now.

        Raises
        ------
        GaitTrackError
            The study could not be read; the next look tries again.
        """
        with self._lock:
            before = self._counting
            self._keep_up()
            begun = self._counting
        if before is None and begun is not None:
            begun.join(_PATIENCE_S)
        with self._lock:
            error, self._error = self._error, None
            if error is not None:
                raise error
            known = {one.id for one in self._people}
            counts = {person: one for person, one in self._found.items() if person in known}
            return Seen(self._people, counts, self._counting is None)

    def _keep_up(self) -> None:
        last = last_entry(self._study)
        if last != self._people_at:
            with self._study.read() as connection:
                self._people = list_people(connection)
            self._people_at = last
        if self._counting is not None or last == self._last:
            return
        if self._last is None:
            self._count_later(waiting_of_all(self._study), last)
            return
        changes = changes_since(self._study, self._last)
        with self._study.read() as connection:
            people = ids_of(connection, changes.people)
        anew = ((person, waiting_of(self._study, person)) for person in people.values())
        if changes.concerns_all or len(people) > MOST_AT_ONCE:
            everybody = waiting_of_all(self._study)
            self._count_later(everybody if changes.concerns_all else anew, changes.last)
            return
        self._found.update(anew)
        self._last = changes.last

    def _count_later(self, counts: Iterator[tuple[int, Waiting]], last: int) -> None:
        self._counting = threading.Thread(target=self._count, args=(counts, last), daemon=True)
        self._counting.start()

    def _count(self, counts: Iterator[tuple[int, Waiting]], last: int) -> None:
        try:
            for person, waiting in counts:
                with self._lock:
                    self._found[person] = waiting
            self._last = last
        except GaitTrackError as error:
            self._error = error
        finally:
            with self._lock:
                self._counting = None

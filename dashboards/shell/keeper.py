"""What was compared of everybody in a study, kept up beside the screens.

In comes a study, out comes what is kept of its people and holds, at once. Whoever is new or has
changed since is compared in a thread, one after the other, and kept; a program that ends meanwhile
leaves only that they are not compared yet. No screen waits for it.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final

from flask import Flask

from dashboards.shell.access import LOG
from dashboards.shell.doors import place_of
from dashboards.shell.jobs import UNFORESEEN
from gaittrack.cohort.asking.view import Fresh
from gaittrack.cohort.kept.compared import Compared, compare_and_keep, kept_of
from gaittrack.cohort.kept.kept_changes import ABOUT
from gaittrack.errors import GaitTrackError
from gaittrack.study.people.enrolled import ids_of
from gaittrack.study.recordings.overview import changes_since, last_entry
from gaittrack.study.store import Study

_PATIENCE_S: Final = 5.0
"""For what is kept to be read; nobody waits for a comparison."""
_END_S: Final = 2.0
_PAUSE_S: Final = 0.5
"""Before people are compared after a change: the screen it was made on is drawn first."""
_EXTENSION: Final = "gaittrack-keeper"


@dataclass(frozen=True, slots=True)
class KeptUp:
    """What there is at the moment.

    Attributes
    ----------
    compared : Compared
        Who is missing is not compared yet, or again.
    fresh : mapping of person to Fresh
        Of whom it cannot be kept.
    is_comparing : bool
        Somebody is being compared.
    """

    compared: Compared
    fresh: Mapping[str, Fresh]
    is_comparing: bool


class Keeper:
    """Compares who is new or has changed, of one study; safe between threads."""

    def __init__(self, study: Study) -> None:
        self._study = study
        self._lock = threading.Lock()
        self._at: int | None = None
        self._about: dict[str, Mapping[str, Any]] = {}
        self._stamps: dict[str, str] = {}
        self._fresh: dict[str, Fresh] = {}
        self._thread: threading.Thread | None = None
        self._is_comparing = False
        self._ready: list[Callable[[], Iterable[object]]] = []
        self._is_read = threading.Event()
        self._is_stopped = False

    def look(self) -> KeptUp:
        """Return what there is now; begin to catch up when the study has changed."""
        self.poke()
        self._is_read.wait(_PATIENCE_S)
        with self._lock:
            compared = Compared(dict(self._stamps), dict(self._about))
            return KeptUp(compared, dict(self._fresh), self._is_comparing)

    def make_ready(self, steps: Callable[[], Iterable[object]]) -> None:
        """Do something beside the screens, step by step, once what is kept was read."""
        self._ready.append(steps)

    def stop(self) -> None:
        """Begin with nobody any more, and wait a little for who is being compared."""
        self._is_stopped = True
        thread = self._thread
        if thread is not None:
            thread.join(_END_S)

    def poke(self) -> None:
        """Begin to catch up when the study has changed; what does not hold is gone at once."""
        with self._lock:
            if self._is_stopped:
                return
            if not self._is_comparing and last_entry(self._study) != self._at:
                people = self._forget_changed()
                self._is_read.clear()
                self._is_comparing = True
                self._thread = threading.Thread(target=self._run, args=(people,), daemon=True)
                self._thread.start()

    def _forget_changed(self) -> list[int] | None:
        """Drop who changed since; return their row numbers, None where that may be everybody."""
        if self._at is None:
            return None
        changes = changes_since(self._study, self._at)
        unkept, self._fresh = self._fresh, {}
        for code in list(self._stamps) if changes.is_nameless else (*changes.people, *unkept):
            self._about.pop(code, None)
            self._stamps.pop(code, None)
        if changes.is_nameless or unkept:
            return None
        with self._study.read() as connection:
            return list(ids_of(connection, changes.people).values())

    def _run(self, people: list[int] | None) -> None:
        try:
            while not self._caught_up(people):
                with self._lock:
                    self._forget_changed()
                people = None  # those that are left, too
        except GaitTrackError as error:
            LOG.warning("what was compared of people is not kept up: %s", type(error).__name__)
        finally:
            with self._lock:
                self._is_comparing = False
            self._is_read.set()
        self._make_ready()

    def _make_ready(self) -> None:
        try:
            for steps in self._ready:
                for _ in steps():
                    if self._is_stopped or self._is_comparing:
                        return
        except (GaitTrackError, *UNFORESEEN) as fault:
            LOG.warning("not made ready: %s in %s", type(fault).__name__, place_of(fault))

    def _caught_up(self, people: list[int] | None) -> bool:
        """Compare who is missing; return whether nothing changed meanwhile."""
        last = last_entry(self._study)
        found = kept_of(self._study, people)
        with self._lock:
            is_first, self._at = self._at is None, last
            self._stamps |= found.stamps
            self._about |= found.about
        self._is_read.set()
        if found.missing and not is_first:
            time.sleep(_PAUSE_S)
        for code in found.missing:
            if self._is_stopped:
                return True
            if last_entry(self._study) != last:
                return False
            self._compare(code, found.stamps[code])
        return last_entry(self._study) == last

    def _compare(self, code: str, stamp: str) -> None:
        try:
            done = compare_and_keep(self._study, code, stamp)
        except (GaitTrackError, *UNFORESEEN) as fault:
            LOG.error(
                "a person could not be compared: %s in %s", type(fault).__name__, place_of(fault)
            )
            return
        if done is not None:
            parts, is_kept = done
            with self._lock:
                self._about[code] = parts[ABOUT]
                if not is_kept:
                    self._fresh[code] = stamp, parts


def keeper_of(server: Flask, study: Study) -> Keeper:
    """Return the keeper of a study that all screens of a server share."""
    found: Keeper = server.extensions.setdefault(_EXTENSION, Keeper(study))
    return found

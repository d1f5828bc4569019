"""Which files of an import are put into the study at once, so that each costs less.

In come files whose turn has come, each decided or new, out come their report rows, in that order. A
row is given when its file is in the study.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from typing import Final

from gaittrack.study.recordings.adding import NewFile, SeenStudy, add_files
from gaittrack.study.recordings.planning import PlannedFile, ReportRow
from gaittrack.study.store import Study

AT_ONCE: Final = 8
"""Files of an archive that go in at once; own choice: what they share then costs each little."""
_LONGEST_S: Final = 1.0
"""Longest time that a measured file waits for others; own choice: large ones go in alone."""


class Together:
    """Walks of one condition that follow each other quickly; the study is asked of none between.

    Parameters
    ----------
    study : Study or None
        None where nothing is added.
    most : int
        So many at once.
    """

    def __init__(self, study: Study | None, who: str, seen: SeenStudy, *, most: int) -> None:
        """Begin without any file."""
        self._study, self._who, self._seen, self._most = study, who, seen, most
        self._waiting: list[ReportRow | NewFile] = []
        self._since_s = 0.0

    def is_apart(self, file: PlannedFile) -> bool:
        """Tell whether those that wait have to be in the study before a file is looked at."""
        new = self._new()
        return bool(new) and _group_of(new[0].file) != _group_of(file)

    def put(self, decided: ReportRow | NewFile) -> None:
        """Take the next file."""
        if not self._new():
            self._since_s = time.monotonic()
        self._waiting.append(decided)

    def is_due(self) -> bool:
        """Tell whether those that wait shall wait no longer."""
        new = self._new()
        return (
            not new
            or len(new) >= self._most
            or new[0].file.kind == "standing"
            or time.monotonic() - self._since_s > _LONGEST_S
        )

    def stored(self) -> Iterator[tuple[ReportRow, NewFile | None]]:
        """Put all that wait into the study, and give their rows; with each what was new.

        Raises
        ------
        StudyError
            The study cannot be written.
        """
        waiting, new, self._waiting = self._waiting, self._new(), []
        told = iter(
            add_files(self._study, new, who=self._who, seen=self._seen)
            if new and self._study is not None
            else []
        )
        for each in waiting:
            if isinstance(each, ReportRow):
                yield each, None
            else:
                state, message = next(told)
                yield ReportRow(each.file.path, state, each.file.place, message), each

    def _new(self) -> list[NewFile]:
        return [each for each in self._waiting if isinstance(each, NewFile)]


def _group_of(file: PlannedFile) -> tuple[object, ...]:
    return file.kind, id(file.visit), file.condition

"""The walks looked at last, measured: so that moving a line or a cursor reads no file again.

In comes a trial's recording, out comes what measuring it gives. What was measured is known by
everything it was measured from, so that a correction or another map is never shown stale.
"""

from __future__ import annotations

from threading import Lock
from typing import Final

from gaittrack.measured_walk import MeasuredWalk, Result
from gaittrack.pipeline import Recording, measure_recording

MOST_WALKS: Final = 6
"""Walks kept; one of a minute takes some 20 MB. Own choice."""


class WalkMemory:
    """The last few measured walks of one running program; safe between threads."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._kept: list[tuple[Recording, MeasuredWalk]] = []

    def measured(self, recording: Recording) -> Result:
        """Return what measuring a recording gives; what cannot be measured is tried each time."""
        with self._lock:
            for pair in self._kept:
                if pair[0] == recording:
                    self._kept.remove(pair)
                    self._kept.append(pair)
                    return pair[1]
        result = measure_recording(recording)
        self.keep(recording, result)
        return result

    def keep(self, recording: Recording, result: Result | None) -> None:
        """Keep what was measured elsewhere; the walk that was not looked at longest goes."""
        if not isinstance(result, MeasuredWalk):
            return
        with self._lock:
            others = [pair for pair in self._kept if pair[0] != recording]
            self._kept = [*others, (recording, result)][-MOST_WALKS:]

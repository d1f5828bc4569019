"""The comparisons looked at last, so that opening a row or another angle compares nothing again.

In comes what is compared with what, out comes the comparison of what is stored now. A comparison is
kept with everything it was made from, so that a change of the study is never overlooked.
"""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass
from threading import Lock
from typing import Final

from gaittrack.study.results.comparing import (
    StoredComparison,
    compare_stored,
    damaged_of,
    state_of,
)
from gaittrack.study.results.first_choice import ComparisonChoice
from gaittrack.study.store import Study

MOST_COMPARISONS: Final = 8
"""Comparisons kept; one takes some megabytes. Own choice."""


@dataclass(frozen=True, slots=True)
class _Kept:
    choice: ComparisonChoice
    state: Hashable
    found: StoredComparison


class CompareMemory:
    """The last few comparisons of one running program; safe between threads."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._kept: list[_Kept] = []

    def compared(self, study: Study, choice: ComparisonChoice) -> StoredComparison:
        """Return a comparison without curves: those are compared when they are looked at.

        Raises
        ------
        StudyError, ComparisonError
            As :func:`gaittrack.study.results.comparing.compare_stored`.
        """
        state = state_of(study, choice.conditions)
        with self._lock:
            for one in self._kept:
                if (one.choice, one.state) == (choice, state) and _is_sound(study, one):
                    return one.found
        found = compare_stored(study, choice.conditions, reference=choice.reference, joints=())
        with self._lock:
            others = [one for one in self._kept if one.choice != choice]
            self._kept = [*others, _Kept(choice, state, found)][-MOST_COMPARISONS:]
        return found


def _is_sound(study: Study, kept: _Kept) -> bool:
    return damaged_of(study, kept.choice.conditions) == kept.found.damaged

"""What every change on the screen Laboratory takes and says: a reason, and what is stale then."""

from __future__ import annotations

from typing import Final

from gaittrack.compare.row_words import count_words
from gaittrack.errors import StudyError
from gaittrack.study.results.keeping import stale_trials
from gaittrack.study.store import Study

WHY: Final = "laboratory-why"
"""The field for the reason."""


def reason_of(typed: str | None) -> str:
    """Return the reason that was typed.

    Raises
    ------
    StudyError
        There is none.
    """
    if not (typed or "").strip():
        raise StudyError.of("reason_missing", where="Why")
    return str(typed).strip()


def stale_words(study: Study) -> str:
    """Return how many results do not hold any more, and what to do; compared are they by itself."""
    n = len(stale_trials(study))
    if not n:
        return "No result is stale; what was compared is compared anew by itself."
    return f"{count_words(n, 'result')} stale: press “Measure stale results again” on People."

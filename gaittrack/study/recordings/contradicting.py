"""Whether what a file shows goes with what is said of it: its condition, the side of a brace."""

from __future__ import annotations

import re
from collections.abc import Sequence

from gaittrack.errors import ComparisonError, StudyError
from gaittrack.study.recordings.planning import PlannedFile
from gaittrack.study.results.kept_walk import WalkSeen
from gaittrack.vocabulary import Side


def refuse_other_condition(file: PlannedFile, names: Sequence[str]) -> None:
    """Let a shared sheet go only to the conditions it names: "with shoe" is not "with-brace"."""
    if len(names) < 2:
        raise StudyError.of(
            "file_of_no_condition",
            where=file.place,
            conditions=", ".join(file.visit.conditions),
        )
    if _words(file.condition) not in map(_words, names):
        raise ComparisonError.of(
            "sheet_does_not_hold_condition",
            where=file.path.name,
            condition=file.condition,
            names=", ".join(names),
        )


def _words(name: str) -> list[str]:
    return re.findall(r"\w+", name.lower().replace("_", " "))


def is_other_condition(file: PlannedFile, place: str) -> bool:
    """Tell whether a place is in the file's visit, in another condition."""
    visit = f"{file.visit.person}/{file.visit.code}/"
    return place.startswith(visit) and not place.startswith(f"{visit}{file.condition}/")


def notes_on(file: PlannedFile, seen: WalkSeen) -> str:
    """Return what to know of a walk that can be kept: its brace's side, a rate that was told."""
    return " ".join(filter(None, (_side_note(file, seen.sides), seen.rate_note)))


def _side_note(file: PlannedFile, seen: frozenset[Side]) -> str:
    """Say so when a brace is on a side of which the file shows nothing."""
    condition = file.visit.conditions.get(file.condition)
    side = condition.orthosis_side if condition is not None else None
    if side not in ("left", "right") or not seen or side in seen:
        return ""
    return f"The brace is on the {side}, but the file shows only the {next(iter(seen))} side."

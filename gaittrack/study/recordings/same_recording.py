"""Whether a new file is a recording that its condition has already, in another format.

In come a planned file and what was measured from it, out comes which walk of the condition it
repeats: told when it comes in, before anybody counts it twice.
"""

from __future__ import annotations

from contextlib import suppress
from typing import Final

from sqlalchemy import bindparam, select

from gaittrack.compare.walked.same_walks import ALIKE, ReadValues, is_one_recording, read_of
from gaittrack.errors import GaitTrackError, StudyError
from gaittrack.study.recordings.planning import PlannedFile
from gaittrack.study.results.packing import stored_walks
from gaittrack.study.store import Study
from gaittrack.study.tables import CONDITION, PERSON, RESULT, TRIAL, VISIT

_WALKS_AT: Final = (
    select(TRIAL, RESULT)
    .select_from(PERSON.join(VISIT).join(CONDITION).join(TRIAL).join(RESULT))
    .where(PERSON.c.code == bindparam("person"), VISIT.c.code == bindparam("visit"))
    .where(CONDITION.c.code == bindparam("condition"), TRIAL.c.kind == "walk")
)
"""Asked for each condition of an import, so made once."""
_Place = tuple[str, str, str]
"""Person, visit and condition."""
_MOST_PLACES: Final = 100
"""So many are held where the study can be asked again; own choice."""


class Readings:
    """What is compared of the last conditions; in a dry run, of all it would add too."""

    def __init__(self) -> None:
        """Begin without any walk."""
        self._places: dict[_Place, list[tuple[str, str, list[ReadValues]]]] = {}

    def check(
        self,
        study: Study | None,
        file: PlannedFile,
        sha256: str,
        read: list[ReadValues],
        *,
        dry_run: bool,
    ) -> None:
        """Refuse a walk whose recording its condition has already.

        Raises
        ------
        StudyError
            It looks like that of another file; parts of one file may be alike.
        """
        place = file.visit.person, file.visit.code, file.condition
        if place not in self._places:
            self._places[place] = [] if study is None else _stored(study, place)
            if not dry_run and len(self._places) > _MOST_PLACES:
                del self._places[next(iter(self._places))]
        for other, its_sha256, theirs in self._places[place]:
            if sha256 != its_sha256 and any(
                is_one_recording(one, each) for one in read for each in theirs
            ):
                raise StudyError.of("one_recording_of_visit", where=file.place, other=other)
        self._places[place].append((file.place, sha256, read))


def _stored(study: Study, place: _Place) -> list[tuple[str, str, list[ReadValues]]]:
    """Read the walks of a condition in the study."""
    with study.read() as connection:
        given = dict(zip(("person", "visit", "condition"), place, strict=True))
        rows = [dict(row) for row in connection.execute(_WALKS_AT, given).mappings()]
    found = []
    for row in rows:
        with suppress(GaitTrackError):  # what is damaged is told wherever it is shown
            walks = stored_walks(
                row, row, condition="", session="", measures=ALIKE, with_curves=False
            )
            found.append(
                ("/".join((*place, row["code"])), row["sha256"], [read_of(walk) for walk in walks])
            )
    return found

"""Whether a new walk is of the person whose other walks are there.

In come a planned file and what was measured from it, out comes by which segments it differs from
every visit of that person. Somebody else's walk among a person's own spoils all that is compared.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Mapping, Sequence

import numpy as np
from sqlalchemy import Connection, select

from gaittrack.errors import StudyError
from gaittrack.kinematics.segments import SAME_PERSON_M, other_body
from gaittrack.quick_numpy import median_of
from gaittrack.study.recordings.planning import PlannedFile
from gaittrack.study.store import Study
from gaittrack.study.tables import CONDITION, PERSON, RESULT, TRIAL, VISIT

Segments = Mapping[str, float]


class OtherPersonError(StudyError):
    """A walk seems to be another person's than its place says."""


class Bodies:
    """The lengths of segments of people, by visit, as far as they were asked for.

    It also holds what a dry run would add.
    """

    def __init__(self) -> None:
        """Begin without anybody."""
        self._visits: dict[str, dict[str, list[Segments]]] = {}
        self._middles: dict[tuple[str, str], Segments] = {}

    def check(
        self, study: Study | None, file: PlannedFile, segments: Segments, *, is_same: bool
    ) -> None:
        """Ask about a walk that fits no visit of its person, unless somebody said who it is.

        Raises
        ------
        OtherPersonError
            It seems to be of somebody else, or its markers sit elsewhere.
        """
        person = file.visit.person
        if study is not None and person not in self._visits:
            with study.read() as connection:
                self._look_up(connection, person)
        if not is_same:
            self._ask(person, segments, file.place)
        self._note(person, file.visit.code, segments)

    def _note(self, person: str, visit: str, segments: Segments) -> None:
        self._visits.setdefault(person, {}).setdefault(visit, []).append(segments)
        self._middles.pop((person, visit), None)

    def _middle_at(self, person: str, visit: str) -> Segments:
        key = person, visit
        if key not in self._middles:
            self._middles[key] = _middle(self._visits[person][visit])
        return self._middles[key]

    def _look_up(self, connection: Connection, person: str) -> None:
        self._visits[person] = {}
        query = (
            select(VISIT.c.code, RESULT.c.facts)
            .select_from(PERSON.join(VISIT).join(CONDITION).join(TRIAL).join(RESULT))
            .where(PERSON.c.code == person, TRIAL.c.kind == "walk")
        )
        for visit, facts in connection.execute(query):
            self._note(person, visit, json.loads(facts).get("segments_m", {}))

    def _ask(self, person: str, segments: Segments, place: str) -> None:
        known = [self._middle_at(person, visit) for visit in self._visits.get(person, {})]
        apart = [other_body(segments, middle, SAME_PERSON_M) for middle in known if middle]
        if not apart or not all(apart):
            return
        raise OtherPersonError.of(
            "seems_another_person", where=place, person=person, lengths=min(apart, key=len)
        )


def check_header(file: PlannedFile, people: Collection[str], codes: Mapping[str, str]) -> None:
    """Ask about a walk whose header names somebody else of the study.

    Parameters
    ----------
    people : collection of str
        Keys of those whom its header names.
    codes : mapping of str to str
        People by their :func:`gaittrack.part_names.person_key`.

    Raises
    ------
    OtherPersonError
        It does, and not the person whose walk it is said to be.
    """
    named = [codes[key] for key in people if key in codes]
    if named and file.visit.person not in named:
        person, other = file.visit.person, min(named)
        raise OtherPersonError.of(
            "header_of_another_person", where=file.place, person=person, other=other
        )


def _middle(walks: Sequence[Segments]) -> Segments:
    names = dict.fromkeys(name for each in walks for name in each)
    return {n: median_of(np.array([each[n] for each in walks if n in each])) for n in names}

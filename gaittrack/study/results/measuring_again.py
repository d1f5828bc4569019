"""Measure stored walks again, on the points that all of a comparison have.

In come walks that were read from the study, out come the same walks measured from their originals
on no more than what they share. This is rare, and kept for when it is asked again.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import nullcontext
from dataclasses import dataclass, replace
from typing import Final, NamedTuple

from sqlalchemy import Connection

from gaittrack.compare.walked.same_points import NO_STRIDE, not_measured_so
from gaittrack.compare.walked.walks import WalkRecord
from gaittrack.errors import ReaderFailedError
from gaittrack.kinematics.shared import Shared
from gaittrack.measured_walk import RefusedFile
from gaittrack.part_names import recording_key
from gaittrack.pipeline import Recording, measure_recording
from gaittrack.reasons import Reason
from gaittrack.study.results.sources import recording_of, settings_hash
from gaittrack.study.store import Study
from gaittrack.walk_records import walk_records

_MOST_KEPT: Final = 64


class _Found(NamedTuple):
    """The walks of a recording, and why there are not all of them."""

    walks: tuple[WalkRecord, ...]
    why: Reason | str


_KEPT: dict[tuple[str, str, Shared], _Found] = {}
"""By original, settings and what is shared; the newest."""


@dataclass(frozen=True, eq=False, slots=True)
class MeasuresAgain:
    """Measures walks of a study again.

    Attributes
    ----------
    trial_ids : mapping of str to int
        Row number of the recording of each walk, by the walk's id.
    connection : Connection or None
        Where the walks were read, if that state of the study is meant; else that of the moment.
    """

    study: Study
    trial_ids: Mapping[str, int]
    connection: Connection | None = None

    def __call__(self, walks: Sequence[WalkRecord], shared: Shared) -> list[WalkRecord]:
        """Return the walks on what they share; those that cannot be measured so say why."""
        with nullcontext(self.connection) if self.connection else self.study.read() as connection:
            recordings = {
                walk.walk_id: recording_of(connection, self.study, self.trial_ids[walk.walk_id])
                for walk in walks
            }
        return [
            _again(walk, _measured(replace(recordings[walk.walk_id], shared=shared), shared))
            for walk in walks
        ]


def _again(walk: WalkRecord, found: _Found) -> WalkRecord:
    """Return a walk as it was measured again, under its names."""
    new = next((each for each in found.walks if each.part == walk.part), None)
    if new is None:
        return not_measured_so(walk, found.why)
    return new.known_as(
        **{name: getattr(walk, name) for name in ("walk_id", "condition", "session")}
    )


def _measured(recording: Recording, shared: Shared) -> _Found:
    file = recording.file
    key = recording_key(file.sha256, file.name), settings_hash(recording), shared
    if key not in _KEPT:
        while len(_KEPT) >= _MOST_KEPT:
            _KEPT.pop(next(iter(_KEPT)), None)
        _KEPT[key] = _records(recording)
    return _KEPT[key]


def _records(recording: Recording) -> _Found:
    result = measure_recording(recording)
    if isinstance(result, RefusedFile):
        error = result.error
        if isinstance(error, ReaderFailedError) or isinstance(error.__cause__, OSError):
            raise error  # of the disk or the machine: the walk may well give it
        return _Found((), error.what)
    return _Found(tuple(walk_records(result, recording.condition)), Reason(NO_STRIDE))

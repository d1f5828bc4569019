"""What a study keeps of a measured recording, made where it is measured.

In comes a recording, out come the rows that are stored of it, and what an import asks of a walk
before it stores them. They are a fiftieth of all that was measured: other processes give nothing
else back, and who waits to store holds nothing else.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from gaittrack.compare.walked.same_walks import ALIKE, ReadValues
from gaittrack.errors import GaitTrackError
from gaittrack.measured_walk import MeasuredWalk, RefusedFile, Result
from gaittrack.pipeline import Recording, measure_recording
from gaittrack.study.checksums import checksums
from gaittrack.study.results.packing import event_rows, result_row
from gaittrack.study.results.sources import result_hash
from gaittrack.study.results.walk_means import mean_rows
from gaittrack.study.standing_content import is_still
from gaittrack.vocabulary import Side
from gaittrack.walk_records import kept_parts

_RATES: Final = ("rate_as_told", "rate_of_laboratory")


@dataclass(frozen=True, slots=True)
class WalkSeen:
    """What an import asks of a walk.

    Attributes
    ----------
    sha256 : str
        Of the bytes that were read.
    people : frozenset of str
        Keys of those that the header names.
    segments_m : mapping of str to float
        Lengths of segments.
    read : list of ReadValues
        What two readings of one recording share, of each pass.
    sides : frozenset of Side
        Of which cycles were cut.
    conditions : tuple of str
        That a sheet of curves names.
    rate_note : str
        That the rate was told, where it was.
    stands_still : bool
        No stride was kept, and somebody stands.
    """

    sha256: str
    people: frozenset[str]
    segments_m: Mapping[str, float]
    read: list[ReadValues]
    sides: frozenset[Side]
    conditions: tuple[str, ...]
    rate_note: str
    stands_still: bool


@dataclass(frozen=True, slots=True)
class KeptWalk:
    """What is stored of a recording.

    Attributes
    ----------
    row : dict
        Of ``result``, without its trial.
    events, means : list of tuple
        ``EVENT_COLUMNS`` and ``MEAN_COLUMNS`` of the rows of ``event`` and ``trial_mean``.
    seen : WalkSeen or GaitTrackError
        Why it was refused, for a file that was.
    """

    row: dict[str, Any]
    events: list[tuple[Any, ...]]
    means: list[tuple[Any, ...]]
    seen: WalkSeen | GaitTrackError

    @property
    def error(self) -> GaitTrackError | None:
        """Why it was refused; None for a walk."""
        return self.seen if isinstance(self.seen, GaitTrackError) else None


def measure_to_keep(recording: Recording) -> KeptWalk:
    """Measure a recording, and return what a study keeps of it."""
    return kept_of(recording, measure_recording(recording))


def kept_of(recording: Recording, result: Result) -> KeptWalk:
    """Return what a study keeps of a result, sealed with the hash of the file it was made from."""
    condition = recording.condition
    row = result_row(result, result_hash(recording, result), condition=condition)
    events, means = event_rows(result), mean_rows(result)
    seen = result.error if isinstance(result, RefusedFile) else _seen(result, condition)
    sha256 = recording.file.sha256 or (seen.sha256 or "")
    return KeptWalk(row | checksums(sha256, row, events, means), events, means, seen)


def _seen(walk: MeasuredWalk, condition: str) -> WalkSeen:
    trial = walk.trial
    told = (each.what for each in trial.problems if each.reason.code in _RATES)
    is_any_kept = any(cycle.is_kept for cycle in walk.cycles)
    return WalkSeen(
        sha256=trial.provenance.sha256,
        people=trial.provenance.people,
        segments_m=walk.motion.markers.segments_m,
        read=what_was_read(walk, condition),
        sides=frozenset(cycle.side for cycle in walk.cycles),
        conditions=tuple(dict.fromkeys(curve.condition for curve in trial.curves)),
        rate_note=next(told, ""),
        stands_still=not is_any_kept and bool(is_still(trial)),
    )


def what_was_read(walk: MeasuredWalk, condition: str) -> list[ReadValues]:
    """Return what is compared of each pass of a measured file, as ``read_of`` of its walks."""
    alike = [row for row in walk.rows if row.measure in ALIKE and row.reason is None]
    found: list[ReadValues] = []
    for _, cycles in kept_parts(walk, condition):
        own = {cycle.id for cycle in cycles}
        read: dict[tuple[str, Side], list[float]] = {}
        for row in alike:
            if row.cycle in own:
                read.setdefault((row.measure, row.side), []).append(row.value)
        found.append({key: tuple(values) for key, values in read.items()})
    return found

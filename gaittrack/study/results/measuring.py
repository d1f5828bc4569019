"""Measure one recording of a study, with what people corrected in it.

In come a file, its standing trial, the laboratory's map and the corrections; out comes a
:class:`MeasuredWalk`, or the reason why there is none. The same function measures at import and
whenever something changed.
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from gaittrack.cycles import cut_cycles
from gaittrack.errors import GaitTrackError, MissingSignalError
from gaittrack.kinematics import Motion, describe_motion
from gaittrack.lab_map import LabMap
from gaittrack.measured_walk import MeasuredWalk, RefusedFile, Result
from gaittrack.measures import measure_cycles
from gaittrack.plausibility import doubts
from gaittrack.read import read_trial
from gaittrack.read.given_events import given_events
from gaittrack.study.corrections.applying import (
    Correction,
    events_with,
    is_swapped,
    map_with,
    swap_sides,
    without_excluded,
)
from gaittrack.study.originals import hash_of
from gaittrack.trial import Trial, with_step
from gaittrack.walk_records import walk_records

_UNFORESEEN = (ArithmeticError, LookupError, MemoryError, OSError, TypeError, ValueError)
"""What a fault of this program looks like: it costs one file, not the batch."""


@dataclass(frozen=True, slots=True)
class Recording:
    """What is measured, and with what.

    Attributes
    ----------
    path : Path
        Where its bytes lie.
    file_name : str
        What people call it.
    condition : str
        Which condition of a sheet that holds several.
    standing_sha256 : str
        Hash of its bytes; empty without one.
    corrections, standing_corrections : tuple of Correction
        Those that count, in order.
    events : Path or None
        The events table that came with the file.
    events_name, events_sha256 : str
        What people call it, and the hash of its bytes; empty without one.
    """

    path: Path
    file_name: str
    condition: str
    standing: Path | None = None
    standing_sha256: str = ""
    lab_map: LabMap = LabMap()
    corrections: tuple[Correction, ...] = ()
    standing_corrections: tuple[Correction, ...] = ()
    events: Path | None = None
    events_name: str = ""
    events_sha256: str = ""

    @property
    def is_swapped(self) -> bool:
        """Whether left and right change places."""
        return is_swapped(self.corrections)


def measure_recording(recording: Recording) -> Result:
    """Measure a recording with its corrections."""
    with ExitStack() as names:
        path = names.enter_context(_under_its_name(recording.path, recording.file_name))
        try:
            if recording.events is not None:
                named = _under_its_name(recording.events, recording.events_name)
                recording = replace(recording, events=names.enter_context(named))
            return _measure(path, recording)
        except GaitTrackError as error:
            return RefusedFile(path, hash_of(path), error)
        except _UNFORESEEN as fault:
            return RefusedFile(path, None, _unforeseen(fault, path))


def _unforeseen(fault: Exception, path: Path) -> GaitTrackError:
    error = GaitTrackError(
        f"The program failed on this file ({type(fault).__name__}: {fault}).",
        where=path.name,
        action="The file was not measured; please report this.",
    )
    error.__cause__ = fault
    return error


def check_standing(path: Path, lab_map: LabMap) -> Trial:
    """Read a standing trial; raise what is wrong with it."""
    trial = read_trial(path, lab_map=lab_map)
    if not trial.markers:
        raise MissingSignalError(
            "A standing trial needs markers.", where=path.name, action="Leave it out."
        )
    return trial


@contextmanager
def _under_its_name(path: Path, name: str) -> Iterator[Path]:
    """Give the file under the name people know, so that messages name it."""
    if path.name == name:
        yield path
        return
    with tempfile.TemporaryDirectory(prefix="gaittrack-") as folder:
        named = Path(folder) / name
        try:
            named.symlink_to(path.resolve())
        except OSError:
            shutil.copyfile(path, named)
        yield named


def _measure(path: Path, recording: Recording) -> MeasuredWalk:
    trial, motion = _described(path, recording)
    events = events_with(motion, recording.corrections)
    cycles, lost = without_excluded(
        cut_cycles(motion, events), recording.corrections, recording.file_name
    )
    rows = tuple(measure_cycles(motion, cycles))
    problems = (
        *trial.problems,
        *motion.problems,
        *events.problems,
        *doubts(cycles, path.name),
        *lost,
    )
    walk = MeasuredWalk(path, trial, motion, events, cycles, rows, tuple(dict.fromkeys(problems)))
    return _of_condition(walk, recording.condition)


def _described(path: Path, recording: Recording) -> tuple[Trial, Motion]:
    """Return the trial with its own events, and its motion; sides and landmarks as corrected."""
    own = map_with(recording.lab_map, recording.corrections)
    theirs = map_with(recording.lab_map, recording.standing_corrections)
    trial = _with_given_events(read_trial(path, lab_map=recording.lab_map), recording)
    standing = None
    if recording.standing is not None:
        standing = check_standing(recording.standing, recording.lab_map)
        if is_swapped(recording.standing_corrections):
            standing = swap_sides(standing, describe_motion(standing, lab_map=theirs))
    motion = describe_motion(trial, lab_map=own, standing=standing, standing_map=theirs)
    if recording.is_swapped:
        trial = swap_sides(trial, motion)
        motion = describe_motion(trial, lab_map=own, standing=standing, standing_map=theirs)
    return trial, motion


def _with_given_events(trial: Trial, recording: Recording) -> Trial:
    if recording.events is None:
        return trial
    given, problems = given_events(recording.events, trial)
    return with_step(
        replace(trial, events=given), f"events from {recording.events_name}", *problems
    )


def _of_condition(walk: MeasuredWalk, condition: str) -> MeasuredWalk:
    """Keep the strides of one condition, where a sheet holds several."""
    records = walk_records(walk, condition)
    own = {cycle for record in records for of_side in record.cycles.values() for cycle in of_side}
    cycles = tuple(
        cycle
        if cycle.id in own or not cycle.is_kept
        else replace(cycle, reject_reasons=("of another condition",))
        for cycle in walk.cycles
    )
    return replace(walk, cycles=cycles, rows=tuple(row for row in walk.rows if row.cycle in own))

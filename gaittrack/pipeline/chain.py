"""Measure one recording: the only chain from a file to a measured walk.

In comes a :class:`Recording`, which says what is measured and with what, out comes a
:class:`MeasuredWalk`, or a :class:`RefusedFile` that says why there is none.
"""

from __future__ import annotations

import shutil
import tempfile
import traceback
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from gaittrack.corrected import (
    Change,
    events_with,
    is_swapped,
    map_with,
    on_other_side,
    swap_sides,
    with_signs,
    without_excluded,
)
from gaittrack.cycles import cut_cycles
from gaittrack.errors import BadFileError, GaitTrackError, LayoutError, MissingSignalError, Problem
from gaittrack.kinematics import Motion, describe_motion
from gaittrack.kinematics.landmarks import has_sides, unsided_landmarks
from gaittrack.kinematics.lone_samples import lone_sample_problems
from gaittrack.kinematics.segments import leg_length
from gaittrack.kinematics.shared import Shared
from gaittrack.kinematics.walker_points import MOST_LABELS_TOLD
from gaittrack.lab_defaults import LabDefaults
from gaittrack.lab_map import LabMap
from gaittrack.map_fit import TakenMap, map_for_landmarks, names_of
from gaittrack.measured_walk import MeasuredWalk, RefusedFile, Result
from gaittrack.measures import measure_cycles
from gaittrack.measures.trust import spoiled_curves, trusted_cycles, without_spoiled
from gaittrack.plausibility import doubts, lost_strides, moved_markers, rising_strides
from gaittrack.read import read_trial
from gaittrack.read.given_events import given_events
from gaittrack.read.sheets.angle_signs import doubts_between_events
from gaittrack.reasons import Reason
from gaittrack.trial import Trial, with_step
from gaittrack.walk_records import of_condition

_UNFORESEEN = (ArithmeticError, LookupError, MemoryError, OSError, TypeError, ValueError)
"""What a fault of this program, or of the disk, looks like: it costs one file, not the batch."""


@dataclass(frozen=True, slots=True)
class InputFile:
    """A file that goes into a measuring.

    Attributes
    ----------
    path : Path
        Where its bytes lie.
    name : str
        What people call it; as on the disk when empty.
    sha256 : str
        Hash of its bytes, where it is known; others are refused.
    spent_s : float
        Seconds spent on it before, as on that hash.
    """

    path: Path
    name: str = ""
    sha256: str = ""
    spent_s: float = field(default=0.0, compare=False)

    def __post_init__(self) -> None:
        """Name it as on the disk when nobody calls it otherwise."""
        object.__setattr__(self, "name", self.name or self.path.name)

    @property
    def known_path(self) -> Path:
        """Its path, ending with the name people know."""
        is_known = self.path.name == self.name
        return self.path if is_known else self.path.with_name(self.name)

    @contextmanager
    def under_its_name(self) -> Iterator[Path]:
        """Give the file under the name people know, so that messages name it."""
        if self.path.name == self.name:
            yield self.path
            return
        with tempfile.TemporaryDirectory(prefix="gaittrack-", ignore_cleanup_errors=True) as folder:
            named = Path(folder) / self.name
            try:
                named.symlink_to(self.path.resolve())
            except OSError:
                shutil.copyfile(self.path, named)
            yield named


@dataclass(frozen=True, slots=True)
class Recording:
    """What is measured, and with what.

    Attributes
    ----------
    maps : tuple of LabMap
        The laboratory's own names: each file takes the map that fits it.
    standing : InputFile or None
        Quiet standing with the same markers, for the foot's neutral.
    events : InputFile or None
        A table of events, in the place of the marks in the file.
    rate_hz : float or None
        Frames per second in place of what the files say, also for the standing trial.
    condition : str
        Which condition of a sheet that holds several; all of them when empty.
    usual : LabDefaults
        What holds in the laboratory where a file says nothing.
    corrections, standing_corrections : tuple of Change
        Those that count, in order.
    shared : Shared or None
        Use no more than this of it: what recordings it is compared with have too.
    """

    file: InputFile
    maps: tuple[LabMap, ...] = ()
    standing: InputFile | None = None
    events: InputFile | None = None
    rate_hz: float | None = None
    usual: LabDefaults = LabDefaults()
    condition: str = ""
    corrections: tuple[Change, ...] = ()
    standing_corrections: tuple[Change, ...] = ()
    shared: Shared | None = None

    def files(self) -> dict[str, InputFile]:
        """Return the files that are read for it, by the name of their field."""
        given = {"file": self.file, "standing": self.standing, "events": self.events}
        return {use: file for use, file in given.items() if file is not None}


def measure_recording(
    recording: Recording,
    *,
    trial: Callable[[], Trial] | None = None,
    standing: Trial | None = None,
) -> Result:
    """Measure a recording; what stands in the way of it is a refusal.

    Parameters
    ----------
    trial : callable, optional
        Gives what :func:`read_recording` read of it already.
    standing : Trial, optional
        What :func:`read_standing` read already.
    """
    file, sha256 = recording.file, None
    try:
        found = trial() if trial is not None else read_recording(recording)
        sha256 = found.provenance.sha256
        return _measure(recording, found, standing or read_standing(recording))
    except GaitTrackError as error:
        return RefusedFile(file.known_path, sha256 or error.sha256, error)
    except _UNFORESEEN as fault:
        return RefusedFile(file.known_path, sha256, _unforeseen(fault, file.name))


def read_recording(recording: Recording) -> Trial:
    """Read the trial of a recording as it was recorded."""
    return _read(recording.file, recording)


def read_standing(recording: Recording) -> Trial | None:
    """Read the standing trial that goes with a recording, its sides as corrected.

    Returns
    -------
    Trial or None
        None when there is none.

    Raises
    ------
    GaitTrackError
        It cannot be read, or it shows no markers.
    """
    if recording.standing is None:
        return None
    trial = _read(recording.standing, recording)
    if not trial.markers:
        raise MissingSignalError.of("standing_trial_needs_markers", where=recording.standing.name)
    if is_swapped(recording.standing_corrections):
        return swap_sides(trial, describe_motion(trial, lab_map=_map_of_standing(recording, trial)))
    return trial


def _read(file: InputFile, recording: Recording) -> Trial:
    usual = recording.usual
    with file.under_its_name() as path:
        try:
            trial = read_trial(
                path, lab_map=recording.maps, rate_hz=recording.rate_hz, spent_s=file.spent_s
            )
        except BadFileError as error:
            trial = _at_usual_rate(path, recording, error)
    if file.sha256 and trial.provenance.sha256 != file.sha256:
        raise BadFileError.of("bytes_are_others", where=file.name)
    if usual.plates == "ignored" and trial.plates:
        problem = Problem("info", Reason("plates_ignored"), file.name)
        trial = with_step(replace(trial, plates=()), "", problem)
    return trial


def _at_usual_rate(path: Path, recording: Recording, error: BadFileError) -> Trial:
    """Read a table that lacks nothing but its rate; else raise what it was refused for."""
    rate_hz = recording.usual.rate_hz
    if rate_hz is None or recording.rate_hz is not None or path.suffix.lower() == ".c3d":
        raise error
    try:
        trial = read_trial(path, lab_map=recording.maps, rate_hz=rate_hz)
    except BadFileError:
        raise error from None
    problem = Problem("info", Reason("rate_of_laboratory", rate_hz=rate_hz), path.name)
    told = [each for each in trial.problems if each.reason.code != "rate_as_told"]
    return replace(trial, problems=(*told, problem))


def _measure(recording: Recording, trial: Trial, standing: Trial | None) -> MeasuredWalk:
    changes = recording.corrections
    trial = with_signs(_with_given_events(trial, recording), changes)
    trial, motion = _described(recording, trial, standing)
    if is_swapped(changes):
        changes = tuple(map(on_other_side, changes))
    events = events_with(motion, changes)
    name = recording.file.name
    cycles, lost = without_excluded(cut_cycles(motion, events), changes, name)
    told = (
        *trial.problems,
        *motion.problems,
        *events.problems,
        *doubts(cycles, name, leg_m=leg_length(motion.points)),
        *lost_strides(motion, cycles, name),
        *rising_strides(motion, cycles, name),
        *moved_markers(motion, cycles),
        *lone_sample_problems(trial, motion.problems),
        *lost,
    )
    problems = tuple(dict.fromkeys(told))
    rows = without_spoiled(measure_cycles(motion, cycles), problems, cycles, rate_hz=trial.rate_hz)
    walk = MeasuredWalk(
        path=recording.file.known_path,
        trial=trial,
        motion=motion,
        events=events,
        cycles=trusted_cycles(cycles, rows),
        rows=rows,
        problems=problems,
        spoiled_curves=spoiled_curves(motion, problems, cycles),
        standing_names=() if standing is None else names_of(standing),
    )
    return of_condition(walk, recording.condition) if recording.condition else walk


def _described(recording: Recording, trial: Trial, standing: Trial | None) -> tuple[Trial, Motion]:
    """Return the trial and its motion; sides and landmarks as corrected."""
    found = taken_map(trial, recording.maps)
    own = map_with(found.lab_map, recording.corrections)
    theirs = None if standing is None else _map_of_standing(recording, standing)
    with_it: dict[str, Any] = {"lab_map": own, "standing": standing, "standing_map": theirs}
    trial = replace(trial, problems=(*trial.problems, *found.problems))
    if is_swapped(recording.corrections):
        trial = swap_sides(trial, describe_motion(trial, **with_it))
    return trial, describe_motion(trial, **with_it, shared=recording.shared)


def taken_map(trial: Trial, maps: Sequence[LabMap]) -> TakenMap:
    """Return the map that the markers of a trial take.

    Raises
    ------
    LayoutError
        Maps that fit alike contradict each other; or nothing but a map could name the markers, and
        none fits.
    """
    labels, name = tuple(trial.markers), trial.provenance.file_name
    names = names_of(trial)
    found = map_for_landmarks(names, maps, file_name=name) if labels else TakenMap()
    is_lost = found.problems and found.lab_map == LabMap() and labels
    if is_lost and not has_sides(labels) and not unsided_landmarks(labels):
        why = " ".join(problem.what for problem in found.problems)
        shown = ", ".join(labels[:MOST_LABELS_TOLD])
        raise LayoutError.of("no_label_spells_and_no_map_fits", where=name, maps=why, shown=shown)
    return found


def _map_of_standing(recording: Recording, standing: Trial) -> LabMap:
    found = taken_map(standing, recording.maps).lab_map
    return map_with(found, recording.standing_corrections)


def _with_given_events(trial: Trial, recording: Recording) -> Trial:
    table = recording.events
    if table is None:
        return trial
    with table.under_its_name() as path:
        given, problems = given_events(path, trial, sha256=table.sha256)
    trial = replace(trial, events=given)
    problems += doubts_between_events(trial, recording.maps)
    return with_step(trial, f"events from {table.name}", *problems)


def _unforeseen(fault: Exception, name: str) -> GaitTrackError:
    """Turn a fault of the program into a refusal that names it."""
    place = traceback.extract_tb(fault.__traceback__)[-1]
    line = f"{Path(place.filename).name} line {place.lineno}"
    refusal = GaitTrackError.of(
        "program_failed_file", where=name, name=type(fault).__name__, line=line, fault=str(fault)
    )
    refusal.__cause__ = fault
    return refusal

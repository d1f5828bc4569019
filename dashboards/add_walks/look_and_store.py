"""What is in the files and what would become of them, before anything is stored; then storing.

In comes a plan, out come steps for a job: the same import as on the command line, first as a dry
run. A file is measured once for both, unless its use changes.
"""

from __future__ import annotations

import math
import threading
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Final

from dashboards.add_walks.uploads import Baskets
from gaittrack.contents import Contents, contents_of
from gaittrack.errors import GaitTrackError
from gaittrack.measured_walk import RefusedFile, Result
from gaittrack.part_names import as_given, on_disk
from gaittrack.pipeline import Recording, measure_recording, read_recording
from gaittrack.plain_files import hash_of
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import Plan, ReportRow
from gaittrack.study.results.keeping import places_of_bytes
from gaittrack.study.results.kept_walk import KeptWalk, kept_of
from gaittrack.study.store import Study
from gaittrack.trial import Trial

_SOME_HZ: Final = 100.0
"""To see whether a sheet lacks nothing else; no number that it gives is shown."""
_MOST_HELD: Final = 60
"""Own choice."""


@dataclass(slots=True)
class Measured:
    """The newest results of a basket, so that a file is measured again only for another use."""

    _held: dict[tuple[Path, str], tuple[Recording, KeptWalk, dict[str, Any]]] = field(
        default_factory=dict
    )
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def all_of(self, recordings: Iterable[Recording]) -> Iterator[KeptWalk]:
        """Give what is kept of each recording, measured now where that is not held."""
        return (self.look_at(recording)[0] for recording in recordings)

    def look_at(self, recording: Recording) -> tuple[KeptWalk, dict[str, Any]]:
        """Return what is kept of a recording, and what is shown of it."""
        key = recording.file.path, recording.condition
        held = self._held.get(key)
        if held is not None and held[0] == recording:
            return held[1:]
        result = measure_recording(recording)
        found = kept_of(recording, result), _shown(recording, result)
        with self._lock:
            self._held.pop(key, None)
            self._held[key] = recording, *found
            for old in list(self._held)[:-_MOST_HELD]:
                del self._held[old]
        return found


@dataclass(frozen=True, slots=True)
class Looked:
    """What was found in one file.

    Attributes
    ----------
    name : str
        What people call the file.
    contents : Contents or None
        Of a walk that could be measured.
    labels : tuple of str
        Of its markers, also where it could not be measured.
    what : str
        Kind, frames a second and length, as far as it can be read.
    error : GaitTrackError or None
        Why it could not be measured.
    known : str
        Where the same bytes stand in the study; empty for a file that is new.
    lacks_rate : bool
        Nothing but the frames a second of a table are missing.
    day : str
        When it was recorded, as the file says, in ISO form.
    device : tuple of str
        With what, as the file says.
    """

    row: ReportRow
    name: str
    contents: Contents | None = None
    labels: tuple[str, ...] = ()
    what: str = ""
    error: GaitTrackError | None = None
    known: str = ""
    lacks_rate: bool = False
    day: str = ""
    device: tuple[str, ...] = ()


def look(
    study: Study, plan: Plan, who: str, *, measured: Measured, same_person: bool
) -> Iterator[Looked]:
    """Look at the files of a plan, one by one, and store nothing.

    Parameters
    ----------
    same_person : bool
        Whoever looks says so of walks that were asked about.
    """
    found: dict[Path, dict[str, Any]] = {}

    def measure_all(recordings: Iterable[Recording]) -> Iterator[KeptWalk]:
        for recording in recordings:
            kept, found[recording.file.path] = measured.look_at(recording)
            yield kept

    rows = import_files(
        study,
        plan,
        who=who,
        new_people=True,
        same_person=same_person,
        dry_run=True,
        measure_all=measure_all,
    )
    for row in rows:
        yield Looked(row, row.path.name, **_seen(study, row, found.get(row.path, {})))


def _shown(recording: Recording, result: Result) -> dict[str, Any]:
    """Return what is shown of a result."""
    if not isinstance(result, RefusedFile):
        contents = contents_of(result)
        what = what_it_is(result.trial)
        said = {"day": result.trial.provenance.day, "device": result.trial.provenance.device}
        return {"contents": contents, "labels": contents.labels, "what": what, **said}
    try:
        trial = read_recording(recording)
    except (GaitTrackError, OSError):
        return {"error": result.error} | _with_some_rate(recording)
    said = {"what": what_it_is(trial), "device": trial.provenance.device}
    return {"error": result.error, "labels": tuple(trial.markers), **said}


def _with_some_rate(recording: Recording) -> dict[str, Any]:
    """Return what a sheet shows that can be read once its frames a second are told."""
    if recording.file.path.suffix.lower() == ".c3d":
        return {}
    result = measure_recording(replace(recording, rate_hz=_SOME_HZ))
    if isinstance(result, RefusedFile):
        return {}
    what = f"{result.trial.provenance.format} · ? frames/s"
    return {"contents": contents_of(result), "what": what, "lacks_rate": True}


def _seen(study: Study, row: ReportRow, shown: dict[str, Any]) -> dict[str, Any]:
    """Return what is shown of a file, with where its bytes stand when it cannot go in."""
    if (
        "contents" in shown
        or row.state not in ("known", "refused")
        or not on_disk(row.path).is_file()
    ):
        return shown
    with study.read() as connection:
        places = places_of_bytes(connection, [hash_of(on_disk(row.path))])
    return shown | {"known": next(iter(places.values()), "")}


def what_it_is(trial: Trial) -> str:
    """Return kind, frames a second and length of a trial in words."""
    kind = trial.provenance.format
    if not math.isfinite(trial.rate_hz):
        n_cycles = len({(curve.side, curve.cycle) for curve in trial.curves})
        return f"{kind} · {n_cycles} cycles" if n_cycles else kind
    return f"{kind} · {trial.rate_hz:g} frames/s · {trial.n_frames / trial.rate_hz:.1f} s"


def store(
    study: Study, plan: Plan, held: Baskets, key: str, who: str, **how: Any
) -> Iterator[Looked]:
    """Store the files of a plan; each is in the study when its row is given.

    Parameters
    ----------
    **how
        ``measure_all`` and ``same_person`` of the import.
    """
    rows: list[ReportRow] = []
    with held.storing(key) as basket:
        is_done = False
        try:
            for row in import_files(study, plan, who=who, new_people=True, **how):
                rows.append(row)
                yield Looked(row, row.path.name)
            is_done = True
        finally:
            basket.let_go(_in_the_study(plan, rows, is_done=is_done))


def _in_the_study(plan: Plan, rows: Sequence[ReportRow], *, is_done: bool) -> set[Path]:
    """Return the files of which all that was planned is in the study, with their events tables.

    Of a sheet with several walks, stopped after one of them, the others may still be to come.
    """
    given = [as_given(row.path) for row in rows]
    bad = {
        path
        for path, row in zip(given, rows, strict=True)
        if row.state in ("refused", "asked about")
    }
    if not is_done and rows and rows[-1].path != given[-1]:
        bad.add(given[-1])
    planned = [file.path for file in plan.files]
    whole = {path for path in given if given.count(path) >= planned.count(path)} - bad
    tables = {file.events for file in plan.files if file.path in whole and file.events is not None}
    return whole | tables

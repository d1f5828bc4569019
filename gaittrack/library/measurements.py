"""From the paths of walks to their measures.

In come paths and what goes with the walks, out come :class:`Measurements`: one result per file, and
all of them as tables.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from gaittrack.lab_map import GivenMaps, lab_maps_of
from gaittrack.late import pandas as pd
from gaittrack.measured_walk import (
    REFUSAL_COLUMNS,
    TABLE_COLUMNS,
    VALUE_COLUMNS,
    MeasuredWalk,
    RefusedFile,
    Result,
)
from gaittrack.notebook_view import Shown, SmallTable
from gaittrack.notice import NOTICE
from gaittrack.pipeline import MeasureOptions, measure_files, passed_over_in
from gaittrack.readable_names import readable
from gaittrack.table_cells import cell, stacked
from gaittrack.walk_folders import Place, Places, path_of_file, paths_of, walks_in

_FILE_COLUMNS: Final = (
    *("file", "sha256", "state", "format", "rate_hz", "duration_s", "n_cycles", "n_kept"),
    *("n_warnings", "reason"),
)
_MOST_SHOWN: Final = 30


@dataclass(frozen=True, eq=False, slots=True)
class Measuring:
    """Walks about to be measured.

    Attributes
    ----------
    beside : tuple of Path
        Files that go with them.
    passed_over : tuple of Path
        Files in the folders that are no recordings.
    results : iterator of MeasuredWalk or RefusedFile
        Each is measured when it is asked for.
    """

    files: tuple[Path, ...]
    beside: tuple[Path, ...]
    passed_over: tuple[Path, ...]
    results: Iterator[Result]


@dataclass(frozen=True, eq=False, slots=True, repr=False)
class Measurements(Shown):
    """The results of several files, in the order of the files; none is lost.

    Attributes
    ----------
    passed_over : tuple of Path
        Files in the folders that are no recordings.
    """

    results: tuple[Result, ...]
    passed_over: tuple[Path, ...] = ()

    def __len__(self) -> int:
        """Return the number of files."""
        return len(self.results)

    def __iter__(self) -> Iterator[Result]:
        """Go through the results."""
        return iter(self.results)

    def __getitem__(self, place: int) -> Result:
        """Return one result."""
        return self.results[place]

    def values(self) -> pd.DataFrame:
        """Return the value of each walk, by measure and side; see ``MeasuredWalk.values``."""
        return stacked((each.values() for each in self.results), VALUE_COLUMNS)

    def strides(self) -> pd.DataFrame:
        """Return every measure of every kept cycle; see ``MeasuredWalk.strides``."""
        return stacked((each.strides() for each in self.results), TABLE_COLUMNS)

    def refusals(self) -> pd.DataFrame:
        """Return why files were refused; see ``RefusedFile.refusals``."""
        return stacked((each.refusals() for each in self.results), REFUSAL_COLUMNS)

    def files(self) -> pd.DataFrame:
        """Return one row per file, measured or refused.

        Returns
        -------
        DataFrame
            ``file, sha256, state`` (measured, refused), ``format, rate_hz, duration_s, n_cycles,
            n_kept, n_warnings, reason`` (why it was refused).
        """
        return pd.DataFrame(map(_file_row, self.results), columns=list(_FILE_COLUMNS))

    def _facts(self) -> Mapping[str, object]:
        refused = [
            readable(each.path.name) for each in self.results if isinstance(each, RefusedFile)
        ]
        return {
            "files": len(self.results),
            "measured": len(self.results) - len(refused),
            "refused": refused,
            "passed_over": [readable(path.name) for path in self.passed_over],
        }

    def _small_table(self) -> SmallTable:
        shown = ["file", "state", "n_kept", "n_cycles", "n_warnings", "reason"]
        rows = self.files()[shown].head(_MOST_SHOWN).to_numpy().tolist()
        more = len(self.results) - len(rows)
        notes = (f"and {more} more: see files()", NOTICE) if more else (NOTICE,)
        return SmallTable(shown, tuple(rows), notes)


def _file_row(result: Result) -> tuple[object, ...]:
    file = readable(result.path)
    if isinstance(result, RefusedFile):
        nothing = ("", math.nan, math.nan, 0, 0, 0)
        return file, result.sha256, "refused", *nothing, cell(result.error)
    return file, result.trial.provenance.sha256, "measured", *_counts(result), ""


def _counts(walk: MeasuredWalk) -> tuple[object, ...]:
    trial = walk.trial
    n_kept = sum(cycle.is_kept for cycle in walk.cycles)
    n_warnings = sum(problem.level != "info" for problem in walk.problems)
    duration_s = trial.duration_s if trial.n_frames else math.nan
    what = (trial.provenance.format, trial.rate_hz, duration_s)
    return *what, len(walk.cycles), n_kept, n_warnings


def measuring(
    paths: Places,
    *,
    standing: Place | None = None,
    events: Place | None = None,
    lab_map: GivenMaps = None,
    rate_hz: float | None = None,
) -> Measuring:
    """Find the walks in paths and get ready to measure them.

    Parameters
    ----------
    paths, standing, events, lab_map, rate_hz
        As for :func:`measure`.

    Returns
    -------
    Measuring
        Nothing but the standing trial and the map has been read.

    Raises
    ------
    GaitTrackError
        As :func:`measure`.
    ValueError
        As :func:`measure`.
    """
    given = paths_of(paths)
    trial = None if standing is None else path_of_file(standing, what="standing trial")
    table = None if events is None else path_of_file(events, what="events table")
    maps = lab_maps_of(lab_map)
    own = (Path(each.path) for each in maps if each.path)
    beside = tuple(path for path in (trial, table, *own) if path is not None)
    files = walks_in(given, leave_out=beside, maps=maps)
    options = MeasureOptions(maps, trial, table, rate_hz)
    passed_over = tuple(passed_over_in(given))
    return Measuring(tuple(files), beside, passed_over, measure_files(files, options))


def measure(
    paths: Places,
    *,
    standing: Place | None = None,
    events: Place | None = None,
    lab_map: GivenMaps = None,
    rate_hz: float | None = None,
) -> Measurements:
    """Measure walks, as ``gaittrack measure`` does.

    Parameters
    ----------
    paths : path or iterable of paths
        A file means itself, a folder the recordings in it and in its folders, a pattern all it
        matches.
    standing : path, optional
        Quiet standing with the same markers: gives the foot's zero.
    events : path, optional
        Events table of a single file.
    lab_map : LabMap or path, or several, optional
        The laboratory's own names; of several each file takes the map that fits it.
    rate_hz : float, optional
        Frames per second, where what the files say is wrong.

    Returns
    -------
    Measurements
        One result per file, with the tables ``values()``, ``strides()`` and ``files()``. A file
        that cannot be measured costs itself only and stands in ``refusals()``. Every walk is kept
        in memory: of thousands, measure one folder after the other.

    Raises
    ------
    BadFileError
        Nothing is at a path, or there is no readable file in it.
    GaitTrackError
        The standing trial or the map cannot be used.
    ValueError
        An events table is given for several files, or the rate is not above 0.

    Examples
    --------
    >>> import gaittrack
    >>> walks = gaittrack.measure("sample_trials/P04/visit-1/with-brace")
    >>> walks
    Measurements(files=4, measured=4, refused=[], passed_over=[])
    >>> values = walks.values().set_index(["measure", "side"])
    >>> values.loc[("peak_swing_dorsiflexion_deg", "left"), "value"].round(1).tolist()
    [9.8, 12.6, 11.0, 11.3]

    What a recording does not show is not defined, with the reason:

    >>> values.loc[("minimum_toe_clearance_mm", "left"), "reason"].unique().tolist()
    ['angles only: no markers']
    """
    found = measuring(paths, standing=standing, events=events, lab_map=lab_map, rate_hz=rate_hz)
    return Measurements(tuple(found.results), found.passed_over)

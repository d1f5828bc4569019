"""A comparison with the walks or files it was made from, and its tables.

In come a comparison, walks and refusals, out come tables of changes, values, strides and files, and
what a notebook shows.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from gaittrack.compare.comparison import Comparison
from gaittrack.compare.headline_view import headline_changes
from gaittrack.compare.judged.walk_tables import strides_table, values_table
from gaittrack.compare.walked.walks import WalkRecord
from gaittrack.errors import Problem
from gaittrack.late import pandas as pd
from gaittrack.measured_walk import REFUSAL_COLUMNS, MeasuredWalk, RefusedFile
from gaittrack.notebook_view import Shown, SmallTable
from gaittrack.readable_names import readable
from gaittrack.table_cells import stacked

FILE_COLUMNS: Final = ("condition", "file", "sha256", "state", "reason")
"""Columns of :meth:`FileComparison.files`; ``state`` is compared, refused, not a walk, standing."""


class ComparedWalks(Shown):
    """The tables of a comparison and of the walks that were compared."""

    __slots__ = ()
    comparison: Comparison
    records: tuple[WalkRecord, ...]

    def changes(self) -> pd.DataFrame:
        """Return what changed; see :func:`gaittrack.compare.judged.walk_tables.changes_table`."""
        return self.comparison.changes()

    def values(self) -> pd.DataFrame:
        """Return the walks' values as :func:`.values_table`."""
        return values_table(self.records)

    def strides(self) -> pd.DataFrame:
        """Return the strides; see :func:`gaittrack.compare.judged.walk_tables.strides_table`."""
        return strides_table(self.records)

    def _small_table(self) -> SmallTable:
        return headline_changes(self.comparison)


@dataclass(frozen=True, eq=False, slots=True, repr=False)
class FileComparison(ComparedWalks):
    """A comparison and the files it was made from.

    Attributes
    ----------
    comparison : Comparison
        Its settings also name the standing trials, and the files that were refused or set aside.
    walks : mapping of condition name to tuple of MeasuredWalk
        The measured files in use.
    records : tuple of WalkRecord
        The walks in them.
    problems : tuple of Problem
        What was set aside, which standing trial was taken, and what to know of the files in use.
    conditions_files : tuple of Path
        What was read beside the walks; they also say what was examined.
    """

    comparison: Comparison
    walks: Mapping[str, tuple[MeasuredWalk, ...]]
    records: tuple[WalkRecord, ...]
    refused: tuple[RefusedFile, ...]
    problems: tuple[Problem, ...]
    conditions_files: tuple[Path, ...] = ()

    def refusals(self) -> pd.DataFrame:
        """Return why files were refused; see ``RefusedFile.refusals``."""
        return stacked((each.refusals() for each in self.refused), REFUSAL_COLUMNS)

    def files(self) -> pd.DataFrame:
        """Return every file that was given, and what became of it; see ``FILE_COLUMNS``."""
        return pd.DataFrame(_file_rows(self), columns=list(FILE_COLUMNS))

    def _facts(self) -> Mapping[str, object]:
        refused = [readable(each.path.name) for each in self.refused]
        walks = [f"{len(own)} {name}" for name, own in self.walks.items()]
        return {**self.comparison._facts(), "files": walks, "refused": refused}


def _file_rows(found: FileComparison) -> Iterator[tuple[str | None, ...]]:
    for name, walks in found.walks.items():
        for walk in walks:
            yield name, readable(walk.path.name), walk.trial.provenance.sha256, "compared", ""
    settings = found.comparison.settings
    for one in settings.get("refused", ()):
        yield one["condition"], one["file"], one["sha256"], "refused", one["why"]
    for one in settings.get("not_walks", ()):
        yield one["condition"], one["file"], None, "not a walk", ""
    for name, one in settings.get("standing", {}).items():
        if one is not None:
            yield name, one["file"], one["sha256"], "standing", ""

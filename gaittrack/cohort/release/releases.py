"""The releases of a study: what was exported when, which one a folder is, and who is in them.

In come an open study and, if wanted, a folder, out comes one :class:`PastRelease` for each export
of its history.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

from sqlalchemy import Connection, select

from gaittrack.cohort.people.id_maps import id_maps_naming
from gaittrack.cohort.release.crate import CRATE
from gaittrack.cohort.release.finishing import (
    PackageRelease,
    changed_files,
    export_hash,
    package_hash,
)
from gaittrack.study.history import ERASURE, entries
from gaittrack.study.laboratory import laboratory_release
from gaittrack.study.tables import HISTORY

_EXPORT: Final = "export"


@dataclass(frozen=True, slots=True)
class PastRelease:
    """One export of the history.

    Attributes
    ----------
    number : int
        Of the release, from 1.
    entry : int
        Number of the last entry of the history whose change it shows.
    facts : mapping
        As recorded: release, selection, people, hash.
    n_erased : int
        People who are in it and were erased since, as far as lists of who is who told.
    """

    number: int
    entry: int
    utc: str
    who: str
    facts: Mapping[str, Any]
    n_erased: int = 0

    @property
    def export_hash(self) -> str:
        """Hash of the export; empty for one of a version that kept none."""
        return str(self.facts.get("export_hash", ""))


def releases_of(connection: Connection) -> list[PastRelease]:
    """Return the releases of a study, the oldest first."""
    found = [row for row in entries(connection, begins=_EXPORT) if row["what"] == _EXPORT]
    erased = Counter(
        number
        for row in entries(connection, begins=ERASURE)
        for number in row["after"].get("releases", ())
    )
    shown = _last_shown(connection, [row["after"].get("state", "") for row in found])
    return [
        PastRelease(
            n, entry or row["sequence"] - 1, row["utc"], row["who"], row["after"], erased[n]
        )
        for n, (row, entry) in enumerate(zip(found, shown, strict=True), 1)
    ]


def _last_shown(connection: Connection, states: Sequence[str]) -> list[int | None]:
    """Return the number of the entry that each state of the study ends with."""
    query = select(HISTORY.c.hash, HISTORY.c.sequence).where(HISTORY.c.hash.in_(states))
    numbers = {row.hash: row.sequence for row in connection.execute(query)}
    return [numbers.get(state) for state in states]


def next_release(connection: Connection) -> PackageRelease:
    """Return what is said of the next release: number, day, licence and makers."""
    number, today = len(releases_of(connection)) + 1, datetime.now(UTC).date()
    return PackageRelease(laboratory_release(connection), number, today.isoformat())


def release_in(connection: Connection, folder: Path) -> tuple[PastRelease | None, list[str]]:
    """Return which release a folder is, None for none of this study, and its changed files.

    Raises
    ------
    StudyError
        The folder is no export.
    """
    changed, own = changed_files(folder), export_hash(folder)
    listed = package_hash(folder)
    found = [each for each in releases_of(connection) if each.export_hash == own]
    if found and found[0].facts.get("package_hash", listed) != listed:
        changed.append(CRATE)
    return (found[0] if found else None), changed


def releases_with(connection: Connection, folder: Path, person: str) -> list[PastRelease]:
    """Return the releases that hold a person, as far as lists of who is who beside a study say."""
    names = {path.name for path in id_maps_naming(folder, person)}
    return [each for each in releases_of(connection) if each.facts.get("id_map") in names]

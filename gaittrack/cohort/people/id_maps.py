"""Where the lists of who is who lie: beside the folder of a study, never in an export.

In comes the folder of a study, out come the name of a new list, and the lists that name a person.
"""

from __future__ import annotations

import csv
from datetime import UTC, datetime
from pathlib import Path

from gaittrack.table_cells import escaped_text


def default_id_map(folder: Path) -> Path:
    """Return a new file name for who is who, beside the folder of a study."""
    stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%S%f")
    return _id_maps(folder) / f"{stamp}.csv"


def _id_maps(folder: Path) -> Path:
    resolved = folder.resolve()
    return resolved.with_name(f"{resolved.name}-id-maps")


def id_maps_naming(folder: Path, person: str) -> list[Path]:
    """Return the lists of who is who beside a study that name a person.

    Parameters
    ----------
    folder : Path
        Of the study.
    person : str
        Code.

    Returns
    -------
    list of Path
        Of exports made earlier; lists kept elsewhere cannot be known.
    """
    return [path for path in sorted(_id_maps(folder).glob("*.csv")) if _names(path, person)]


def _names(path: Path, person: str) -> bool:
    names = person, escaped_text(person)
    try:
        with path.open(encoding="utf-8", newline="") as file:
            return any(row["person"] in names for row in csv.DictReader(file))
    except (OSError, UnicodeDecodeError, KeyError, csv.Error):
        return False  # not a list of ours

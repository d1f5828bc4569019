"""Read the files that a laboratory writes by hand.

In come the path of a TOML file and what it should be, out come its tables; whatever is wrong with
it is refused with what is allowed.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from gaittrack.errors import LayoutError
from gaittrack.plain_files import text_of


def read_toml(path: Path, what: str, action: str) -> dict[str, Any]:
    """Read a TOML file.

    Parameters
    ----------
    what, action : str
        What to call the file in an error, and what to do then.

    Raises
    ------
    LayoutError
        It cannot be read, or is not TOML.
    """
    try:
        return tomllib.loads(text_of(path))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError) as error:
        why = (error.strerror if isinstance(error, OSError) else None) or error
        raise LayoutError(
            f"The {what} cannot be read: {why}.", where=str(path), action=action
        ) from error


def refuse_unknown(table: Mapping[str, Any], allowed: Iterable[str], where: str) -> None:
    """Refuse a table with keys that nothing reads."""
    if unknown := sorted(set(table) - set(allowed)):
        raise LayoutError.of(
            "unknown_keys",
            where=where,
            unknown=", ".join(unknown),
            allowed=", ".join(sorted(allowed)),
        )


def refuse_wrong_keys(
    row: Mapping[str, Any], allowed: Iterable[str], needed: Iterable[str], where: str
) -> None:
    """Refuse a row with keys that nothing reads, or without one that is needed."""
    if wrong := sorted((set(row) - set(allowed)) | (set(needed) - set(row))):
        raise LayoutError.of(
            "unknown_or_missing_keys",
            where=where,
            wrong=", ".join(wrong),
            allowed=", ".join(allowed),
        )

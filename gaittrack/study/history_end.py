"""Where the history of a study ends, kept outside of its database, where a deletion shows.

In comes a study's history, out comes ``history-end.json`` beside the originals. It is written when
a change is in the database, so it may lag behind when the machine stops between the two, and is
never ahead: a history that ends before it has lost entries, or is an older copy.
"""

from __future__ import annotations

import json
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from sqlalchemy import Connection, select

from gaittrack.atomic_write import write_text_atomically
from gaittrack.study.history import LAST_ENTRY
from gaittrack.study.originals import PRIVATE_FILE
from gaittrack.study.tables import HISTORY

FILE: Final = "history-end.json"


@dataclass(frozen=True, slots=True)
class HistoryEnd:
    """The last entry of a history.

    Attributes
    ----------
    n_entries : int
        Its number in the sequence; 0 in an empty history.
    seal : str
        Its hash, which covers every entry before; empty in an empty history.
    """

    n_entries: int
    seal: str


def history_end(connection: Connection) -> HistoryEnd:
    """Return where the history of a study ends."""
    last = connection.execute(LAST_ENTRY).first()
    return HistoryEnd(0, "") if last is None else HistoryEnd(last.sequence, last.hash)


def keep_end(folder: Path, end: HistoryEnd) -> None:
    """Write down where the history ends, when that is in the database.

    A disk that refuses leaves what was there: it lags behind until the next change.
    """
    text = json.dumps({"entries": end.n_entries, "hash": end.seal}) + "\n"
    with suppress(OSError):
        write_text_atomically(folder / FILE, text, mode=PRIVATE_FILE)


def end_faults(connection: Connection, folder: Path) -> list[str]:
    """Return what is wrong with the end of the history; nothing where no end was kept."""
    path = folder / FILE
    if not path.is_file():
        return []
    try:
        found = json.loads(path.read_bytes())
        kept = HistoryEnd(int(found["entries"]), str(found["hash"]))
    except (ValueError, LookupError, TypeError, OverflowError, RecursionError):
        return [f"{FILE} is damaged: it is written anew with the next change"]
    there = history_end(connection).n_entries
    if kept.n_entries > there:
        return [
            f"history: it ends with entry {there}, and went on to {kept.n_entries}: entries were "
            f"taken out, or the database is an older copy: restore a backup; if you put the copy "
            f"there, delete {FILE}"
        ]
    query = select(HISTORY.c.hash).where(HISTORY.c.sequence == kept.n_entries)
    if kept.n_entries and connection.execute(query).scalar() != kept.seal:
        return [
            f"history entry {kept.n_entries} is another than {FILE} says: the end was written "
            "anew, or the database is another one's: restore a backup"
        ]
    return []

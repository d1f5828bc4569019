"""Which original files the trials of a study need.

In comes a connection, out come hashes, suffixes and names.
"""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import ColumnElement, Connection, select

from gaittrack.study.originals import plain_suffix
from gaittrack.study.tables import CONDITION, TRIAL, VISIT


def originals_of(
    connection: Connection, wanted: ColumnElement[bool] | None = None
) -> dict[tuple[str, str], str]:
    """Return the originals of trials, events tables too: (hash, suffix) → file name.

    Parameters
    ----------
    wanted : SQL expression, optional
        On trials, conditions and visits; all of them without it.
    """
    columns = (TRIAL.c.sha256, TRIAL.c.suffix, TRIAL.c.file_name)
    query = select(*columns, TRIAL.c.events_sha256, TRIAL.c.events_file_name)
    query = query.select_from(VISIT.join(CONDITION).join(TRIAL))
    found = {}
    for sha256, suffix, name, events_sha256, events_name in connection.execute(
        query if wanted is None else query.where(wanted)
    ):
        found[sha256, suffix] = name
        if events_sha256 is not None:
            found[events_sha256, plain_suffix(Path(events_name))] = events_name
    return found

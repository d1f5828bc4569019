"""Change a setting of the laboratory.

In come a study and a laboratory's file, out comes the study with that file as its setting.
"""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import delete, insert, select

from gaittrack.study.history import record
from gaittrack.study.laboratory import READERS
from gaittrack.study.store import Study
from gaittrack.study.tables import SETTING


def set_setting(study: Study, name: str, path: Path, *, who: str, why: str) -> None:
    """Put a laboratory's file into the study; results that depend on it become stale.

    Parameters
    ----------
    path : Path
        Map file, floors from repeat visits, or reference values (TOML).

    Raises
    ------
    LayoutError
        The file does not hold what it should.
    """
    if name not in READERS:
        raise ValueError(f"name must be one of {sorted(READERS)}, got {name!r}")
    READERS[name](path)
    with study.write() as connection:
        mine = SETTING.c.name == name
        before = connection.execute(select(SETTING).where(mine)).mappings().first()
        connection.execute(delete(SETTING).where(mine))
        row = {"file_name": path.name, "content": path.read_text(encoding="utf-8")}
        connection.execute(insert(SETTING).values(name=name, **row))
        record(connection, f"set {name}", who=who, before=dict(before or {}), after=row, why=why)

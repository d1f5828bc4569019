"""The laboratory's own settings: map, errors, reference values, words, answered warnings.

In comes a connection, out comes what the laboratory has set, or what holds without it. Each is kept
as the TOML text it was given as.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

from sqlalchemy import ColumnElement, Connection, delete, insert, select

from gaittrack.compare.marker_errors import OwnErrors
from gaittrack.compare.repeat_visits import own_errors, read_errors
from gaittrack.compare.typical import (
    OwnRange,
    Population,
    TypicalRange,
    population_of,
)
from gaittrack.compare.typical_curves import TypicalCurve, read_own_typical
from gaittrack.lab_map import LabMap, read_lab_map
from gaittrack.record.answered_warnings import Answers, read_answers, write_answers
from gaittrack.record.meant_words import MeantWords, read_words, write_words
from gaittrack.study.history import record
from gaittrack.study.store import Study
from gaittrack.study.tables import SETTING

MAP: Final = "map"
ERRORS: Final = "measurement_errors"
_UNTIL_0_2: Final = {ERRORS: "floors"}
"""Settings that had another name."""
TYPICAL: Final = "typical"
WORDS: Final = "words"
ANSWERED: Final = "answered"
READERS: Final[Mapping[str, Callable[[Path], Any]]] = {
    MAP: read_lab_map,
    ERRORS: read_errors,
    TYPICAL: read_own_typical,
    WORDS: read_words,
    ANSWERED: read_answers,
}
"""What may be set, and how its file is read; each refuses a file that is none."""


def laboratory_map(connection: Connection) -> LabMap:
    """Return the laboratory's map; an empty one when none is set."""
    found = _setting(connection, MAP)
    return LabMap() if found is None else replace(found[0], path=found[1])


def laboratory_errors_of(connection: Connection) -> OwnErrors | None:
    """Return the laboratory's own measurement errors, or None when it has set none."""
    found = _setting(connection, ERRORS)
    return None if found is None else own_errors(found[0])


def laboratory_typical_of(connection: Connection) -> dict[str, OwnRange] | None:
    """Return the laboratory's own typical ranges, or None when it has set none."""
    found = _setting(connection, TYPICAL)
    return None if found is None else found[0].ranges or None


def laboratory_curves_of(connection: Connection) -> tuple[TypicalCurve, ...]:
    """Return the laboratory's own typical curves."""
    found = _setting(connection, TYPICAL)
    return () if found is None else found[0].curves


def laboratory_words(connection: Connection) -> MeantWords:
    """Return what words of no closed list mean, as far as the laboratory has said it."""
    found = _setting(connection, WORDS)
    return {} if found is None else dict(found[0])


def keep_words(connection: Connection, meant: MeantWords, *, who: str, why: str) -> None:
    """Keep what words mean, with an entry in the history."""
    row = {"file_name": "words.toml", "content": write_words(meant)}
    put_setting(connection, WORDS, row, who=who, why=why)


def laboratory_answers(connection: Connection) -> Answers:
    """Return which warnings of every walk the laboratory has answered, and how."""
    found = _setting(connection, ANSWERED)
    return {} if found is None else dict(found[0])


def keep_answers(connection: Connection, answers: Answers, *, who: str, why: str) -> None:
    """Keep what was answered, with an entry in the history."""
    row = {"file_name": "answered.toml", "content": write_answers(answers)} if answers else {}
    put_setting(connection, ANSWERED, row, who=who, why=why)


def typical_for(
    own: Mapping[str, OwnRange] | None, age_band: object, age_years: object
) -> Population | Mapping[str, TypicalRange]:
    """Return the reference values to hold somebody against.

    Parameters
    ----------
    own : mapping of measure name to OwnRange or None
        The laboratory's: those that hold at that age; the published ones where none does.
    age_band, age_years
        As stored with the visit; None where not recorded.
    """
    age = _age(age_band, age_years)
    held = {name: each for name, each in (own or {}).items() if each.holds_for(*age)}
    return held or population_of(*age)


def curves_for(
    own: Sequence[TypicalCurve], age_band: object, age_years: object
) -> tuple[TypicalCurve, ...]:
    """Return the typical curves that hold at somebody's age, as :func:`typical_for` is told it."""
    age = _age(age_band, age_years)
    return tuple(each for each in own if each.holds_for(*age))


def _age(age_band: object, age_years: object) -> tuple[str, float | None]:
    years = float(age_years) if isinstance(age_years, int | float) else None
    return str(age_band or ""), None if years != years else years


def set_setting(study: Study, name: str, path: Path, *, who: str, why: str) -> None:
    """Put a laboratory's file into the study; results that depend on it become stale.

    Parameters
    ----------
    path : Path
        Map file, errors from repeat visits, or reference values (TOML).

    Raises
    ------
    LayoutError
        The file does not hold what it should.
    """
    if name not in READERS:
        raise ValueError(f"name must be one of {sorted(READERS)}, got {name!r}")
    READERS[name](path)
    row = {"file_name": path.name, "content": path.read_text(encoding="utf-8")}
    with study.write() as connection:
        put_setting(connection, name, row, who=who, why=why)


def put_setting(
    connection: Connection, name: str, row: Mapping[str, str], *, who: str, why: str
) -> None:
    """Keep a setting in place of what was there, with an entry in the history.

    Parameters
    ----------
    row : mapping
        ``file_name`` and ``content``; empty: the laboratory sets it no longer.
    """
    mine = _named(name)
    before = connection.execute(select(SETTING).where(mine)).mappings().first()
    connection.execute(delete(SETTING).where(mine))
    if row:
        connection.execute(insert(SETTING).values(name=name, **row))
    record(connection, f"set {name}", who=who, before=dict(before or {}), after=dict(row), why=why)


def name_today(name: str) -> str:
    """Return what a setting is called today."""
    return next((new for new, old in _UNTIL_0_2.items() if old == name), name)


def _named(name: str) -> ColumnElement[bool]:
    return SETTING.c.name.in_((name, _UNTIL_0_2.get(name, name)))


def _setting(connection: Connection, name: str) -> tuple[Any, str] | None:
    """Return what a setting's file says, and the name it had."""
    row = connection.execute(select(SETTING).where(_named(name))).mappings().first()
    if row is None:
        return None
    with tempfile.TemporaryDirectory(prefix="gaittrack-") as folder:
        path = Path(folder) / f"{name}.toml"
        path.write_text(row["content"], encoding="utf-8")
        return READERS[name](path), row["file_name"]

"""The laboratory's own settings: map, errors, reference values, words, answers, defaults, releases.

In comes a connection, out comes what the laboratory has set, or what holds without it. Each is kept
as the TOML text it was given as.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any, Final

from sqlalchemy import ColumnElement, Connection, Select, delete, insert, select

from gaittrack.compare.measurement_error.marker_errors import OwnErrors
from gaittrack.compare.measurement_error.repeat_visits import own_errors, read_errors
from gaittrack.compare.typical_values.typical import (
    OwnRange,
    Population,
    TypicalRange,
    population_of,
)
from gaittrack.compare.typical_values.typical_curves import TypicalCurve, read_own_typical
from gaittrack.compare.walked.declared_outcomes import (
    DeclaredOutcomes,
    read_outcomes,
    write_outcomes,
)
from gaittrack.errors import StudyError
from gaittrack.lab_defaults import LabDefaults, read_lab_defaults, write_lab_defaults
from gaittrack.lab_map import LabMap, read_lab_map
from gaittrack.plain_files import text_of
from gaittrack.record.answered_warnings import Answers, read_answers, write_answers
from gaittrack.record.meant_words import MeantWords, read_words, write_words
from gaittrack.record.release_facts import ReleaseFacts, read_release_facts, write_release_facts
from gaittrack.study.history import record
from gaittrack.study.store import Study
from gaittrack.study.tables import SETTING

MAP: Final = "map"
_NAMED_MAP: Final = "map:"
LONGEST_MAP_NAME: Final = 28
ERRORS: Final = "measurement_errors"
_UNTIL_0_2: Final = {ERRORS: "floors"}
"""Settings that had another name."""
TYPICAL: Final = "typical"
WORDS: Final = "words"
ANSWERED: Final = "answered"
RECORDINGS: Final = "recordings"
RELEASES: Final = "releases"
OUTCOMES: Final = "outcomes"
READERS: Final[Mapping[str, Callable[[Path], Any]]] = {
    MAP: read_lab_map,
    ERRORS: read_errors,
    TYPICAL: read_own_typical,
    WORDS: read_words,
    ANSWERED: read_answers,
    RECORDINGS: read_lab_defaults,
    RELEASES: read_release_facts,
    OUTCOMES: read_outcomes,
}
"""What may be set, and how its file is read; each refuses a file that is none."""


def laboratory_maps(connection: Connection) -> tuple[LabMap, ...]:
    """Return the laboratory's maps by their names; the one without a name of its own is ``map``."""
    query = select(SETTING).where(is_map()).order_by(SETTING.c.name)
    return tuple(
        replace(said_by(row.name, row.content), path=row.file_name, name=map_name(row.name))
        for row in connection.execute(query)
    )


def is_map() -> ColumnElement[bool]:
    """Return the condition for settings that are maps."""
    return (SETTING.c.name == MAP) | SETTING.c.name.startswith(_NAMED_MAP, autoescape=True)


def kind_of(setting: str) -> str:
    """Return which of :data:`READERS` a setting is: a map with a name is a map."""
    return MAP if setting.startswith(_NAMED_MAP) else setting


def map_name(setting: str) -> str:
    """Return what people call the map that is kept as a setting."""
    return setting.removeprefix(_NAMED_MAP)


def map_setting(name: str) -> str:
    """Return the setting that keeps a map.

    Raises
    ------
    StudyError
        Nothing can be called so.
    """
    plain = name.strip()
    if not plain or len(plain) > LONGEST_MAP_NAME or not plain.isprintable():
        raise StudyError.of("no_name_for_map", where="map", name=name, longest=LONGEST_MAP_NAME)
    return MAP if plain == MAP else f"{_NAMED_MAP}{plain}"


def laboratory_errors_of(connection: Connection) -> OwnErrors | None:
    """Return the laboratory's own measurement errors, or None when it has set none."""
    found = _setting(connection, ERRORS)
    return None if found is None else own_errors(found)


def laboratory_typical_of(connection: Connection) -> dict[str, OwnRange] | None:
    """Return the laboratory's own typical ranges, or None when it has set none."""
    found = _setting(connection, TYPICAL)
    return None if found is None else found.ranges or None


def laboratory_curves_of(connection: Connection) -> tuple[TypicalCurve, ...]:
    """Return the laboratory's own typical curves."""
    found = _setting(connection, TYPICAL)
    return () if found is None else found.curves


def laboratory_words(connection: Connection) -> MeantWords:
    """Return what words of no closed list mean, as far as the laboratory has said it."""
    return dict(_setting(connection, WORDS) or {})


def keep_words(connection: Connection, meant: MeantWords, *, who: str, why: str) -> None:
    """Keep what words mean, with an entry in the history."""
    row = {"file_name": "words.toml", "content": write_words(meant)}
    put_setting(connection, WORDS, row, who=who, why=why)


def laboratory_answers(connection: Connection) -> Answers:
    """Return which warnings of every walk the laboratory has answered, and how."""
    return dict(_setting(connection, ANSWERED) or {})


def keep_answers(connection: Connection, answers: Answers, *, who: str, why: str) -> None:
    """Keep what was answered, with an entry in the history."""
    row = {"file_name": "answered.toml", "content": write_answers(answers)} if answers else {}
    put_setting(connection, ANSWERED, row, who=who, why=why)


def laboratory_defaults(connection: Connection) -> LabDefaults:
    """Return what holds for the laboratory's recordings where a file says nothing."""
    return _setting(connection, RECORDINGS) or LabDefaults()


def keep_defaults(study: Study, defaults: LabDefaults, *, who: str, why: str) -> None:
    """Keep what holds for recordings, with an entry in the history; none is a setting taken back.

    Raises
    ------
    StudyError
        It is so already.
    LayoutError
        It cannot be.
    """
    text = write_lab_defaults(defaults)
    row = {"file_name": defaults.in_words, "content": text} if text else {}
    if text:
        said_by(RECORDINGS, text)
    with study.write() as connection:
        if laboratory_defaults(connection) == defaults:
            raise StudyError.of("defaults_are_so", where="laboratory")
        put_setting(connection, RECORDINGS, row, who=who, why=why)


def laboratory_release(connection: Connection) -> ReleaseFacts:
    """Return what the laboratory says of every export; nothing when it has said nothing."""
    return _setting(connection, RELEASES) or ReleaseFacts()


def keep_release(study: Study, facts: ReleaseFacts, *, who: str, why: str) -> None:
    """Keep what is said of every export, with an entry in the history."""
    row = {"file_name": facts.in_words, "content": write_release_facts(facts)}
    with study.write() as connection:
        put_setting(connection, RELEASES, row, who=who, why=why)


def keep_outcomes(study: Study, declared: DeclaredOutcomes, *, who: str, why: str) -> None:
    """Keep which outcomes are declared, with an entry in the history."""
    row = {"file_name": declared.in_words, "content": write_outcomes(declared)}
    with study.write() as connection:
        put_setting(connection, OUTCOMES, row, who=who, why=why)


def declared_outcomes_of(connection: Connection) -> DeclaredOutcomes:
    """Return the outcomes that the study declares, empty ones where it declares none."""
    return _setting(connection, OUTCOMES) or DeclaredOutcomes()


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
    reader_of(name)(path)
    row = {"file_name": path.name, "content": text_of(path)}
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


def reader_of(name: str) -> Callable[[Path], Any]:
    """Return what reads the file of a setting, and refuses one that is none.

    Raises
    ------
    ValueError
        There is no such setting.
    """
    kind = kind_of(name)
    if kind not in READERS:
        raise ValueError(f"name must be one of {sorted(READERS)}, got {name!r}")
    return READERS[kind]


def _setting(connection: Connection, name: str) -> Any:
    """Return what a setting's file says; None where there is none."""
    row = connection.execute(_setting_called(name)).mappings().first()
    return None if row is None else said_by(name, row["content"])


@cache
def _setting_called(name: str) -> Select[Any]:
    """Return what asks for a setting, made once: every import asks again and again."""
    return select(SETTING).where(_named(name))


def said_by(name: str, content: str, called: str = "setting.toml") -> Any:
    """Return what the text of a setting says, as the reader of its file gives it."""
    with tempfile.TemporaryDirectory(prefix="gaittrack-") as folder:
        path = Path(folder) / called
        path.write_text(content, encoding="utf-8")
        return reader_of(name)(path)

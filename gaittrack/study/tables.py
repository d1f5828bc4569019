"""The tables of a study, for SQLite and PostgreSQL alike.

Nothing comes in; out go the tables. Instants are ISO 8601 text in UTC, so that every database gives
back what was stored. Deleting a person deletes what hangs on it. A change of these tables raises
``SCHEMA_VERSION``.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from sqlalchemy import (
    Boolean,
    CheckConstraint,
    Column,
    Double,
    ForeignKey,
    FromClause,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
)

from gaittrack.vocabulary import CODE_LENGTH

SCHEMA_VERSION: Final = 7
_HASH = String(64)

METADATA: Final = MetaData()


def _key() -> Column[int]:
    return Column("id", Integer, primary_key=True)


def _parent(name: str) -> Column[int]:
    return Column(
        f"{name}_id", Integer, ForeignKey(f"{name}.id", ondelete="CASCADE"), nullable=False
    )


def _checksum(name: str) -> Column[str]:
    return Column(name, _HASH, nullable=False, server_default="")


def _facts() -> Column[str]:
    return Column("facts", Text, nullable=False, server_default="{}")


def _code() -> Column[str]:
    return Column("code", String(CODE_LENGTH), nullable=False)


def _thing(name: str, *, of: str) -> Table:
    code = UniqueConstraint(f"{of}_id", "code")
    return Table(name, METADATA, _key(), _parent(of), _code(), _facts(), code)


STUDY: Final = Table(
    "study",
    METADATA,
    Column("id", Integer, CheckConstraint("id = 1"), primary_key=True),
    Column("schema_version", Integer, nullable=False),
    Column("created_utc", String(32), nullable=False),
    Column("software_version", String(64), nullable=False),
)
"""One row; whoever writes locks it first, so that writers go one after the other."""

SETTING: Final = Table(
    "setting",
    METADATA,
    Column("name", String(32), primary_key=True),
    Column("file_name", Text, nullable=False),
    Column("content", Text, nullable=False),
)
"""Of the laboratory, as TOML text: ``map`` (landmarks and sheets), ``measurement_errors``,
``typical``, ``words`` (what words mean that are in no closed list), ``answered`` (warnings of
every walk) and ``recordings`` (what holds where a file says nothing)."""

PERSON: Final = Table(
    "person",
    METADATA,
    _key(),
    Column("code", String(CODE_LENGTH), nullable=False, unique=True),
    _facts(),
)
"""``facts`` is JSON: the facts of a person in the registry that are recorded."""

VISIT: Final = Table(
    "visit",
    METADATA,
    _key(),
    _parent("person"),
    _code(),
    Column("number", Integer),
    Column("date", String(10)),
    Column("days_since_first_visit", Double),
    _facts(),
    UniqueConstraint("person_id", "code"),
)
"""One day of recording; ``facts`` is JSON with body and examination of that day."""

CONDITION: Final = Table(
    "condition",
    METADATA,
    _key(),
    _parent("visit"),
    _code(),
    Column("description", Text, nullable=False),
    UniqueConstraint("visit_id", "code"),
)
"""What was worn; ``description`` is JSON with the recorded facts of a condition, and with those of
the brace and setting that it names as these say them (``people/things.py`` keeps them alike)."""

BRACE: Final = _thing("brace", of="person")
"""A brace of a person; a condition names it by its code."""

BRACE_SETTING: Final = _thing("brace_setting", of="brace")
"""What a brace was changed to; the first setting is how it was fitted."""

AIM: Final = _thing("aim", of="person")
"""What a fitting is for, and how far that was reached."""

TRIAL: Final = Table(
    "trial",
    METADATA,
    _key(),
    _parent("condition"),
    _code(),
    Column("kind", String(8), CheckConstraint("kind IN ('walk', 'standing')"), nullable=False),
    Column("file_name", Text, nullable=False),
    Column("sha256", _HASH, nullable=False),
    Column("suffix", String(16), nullable=False),
    Column("standing_id", Integer, ForeignKey("trial.id", ondelete="SET NULL")),
    Column("version", Integer, nullable=False),
    Column("events_file_name", Text),
    Column("events_sha256", _HASH),
    UniqueConstraint("condition_id", "kind", "code"),
    Index("trial_sha256", "sha256"),
    Index("trial_standing", "standing_id"),
)
"""One recording, with the events table that came with it; ``version`` grows with every change, so
that none is overwritten unseen."""

DOWN_TO_TRIAL: Final = PERSON.join(VISIT).join(CONDITION).join(TRIAL)
"""Each recording with what was worn, the visit and the person."""

CORRECTION: Final = Table(
    "correction",
    METADATA,
    _key(),
    _parent("trial"),
    Column("kind", String(16), nullable=False),
    Column("side", String(8)),
    Column("event_kind", String(16)),
    Column("time_s", Double),
    Column("new_time_s", Double),
    Column("cycle", Text),
    Column("reason", Text, nullable=False),
    Column("is_undone", Boolean, nullable=False),
    Column("landmark", String(32)),
    Column("label", Text),
    Index("correction_trial", "trial_id"),
)
"""What a person changed, in order; one that is undone stays, and no longer counts."""

EVENT: Final = Table(
    "event",
    METADATA,
    _key(),
    _parent("trial"),
    Column("time_s", Double, nullable=False),
    Column("side", String(8), nullable=False),
    Column("kind", String(16), nullable=False),
    Column("source", String(16), nullable=False),
    Column("contact", String(16)),
    Index("event_trial", "trial_id"),
)
"""Events in use, as of the last measuring."""

RESULT: Final = Table(
    "result",
    METADATA,
    Column("trial_id", Integer, ForeignKey("trial.id", ondelete="CASCADE"), primary_key=True),
    Column("software_version", String(64), nullable=False),
    Column("settings_hash", _HASH, nullable=False),
    Column("measured_utc", String(32), nullable=False),
    Column("refusal", Text, nullable=False),
    Column("problems", Text, nullable=False),
    Column("facts", Text, nullable=False),
    Column("cycles", Text, nullable=False),
    Column("layout", Text, nullable=False),
    Column("numbers", LargeBinary, nullable=False),
    *map(
        _checksum,
        ("words_checksum", "numbers_checksum", "events_checksum", "means_checksum"),
    ),
    Index("result_stamp", "trial_id", "software_version", "settings_hash", "numbers_checksum"),
)
"""The last measuring: JSON words, and cycle values and curves as one blob (``packing.py``), with
checksums over these, its events and its walk values (``checksums.py``)."""

TRIAL_MEAN: Final = Table(
    "trial_mean",
    METADATA,
    Column("trial_id", Integer, ForeignKey("trial.id", ondelete="CASCADE"), primary_key=True),
    Column("side", String(8), primary_key=True),
    Column("measure", String(80), primary_key=True),
    Column("value", Double),
    Column("n_defined", Integer, nullable=False),
    Column("n_not_defined", Integer, nullable=False),
    Column("reasons", Text, nullable=False),
)
"""Walk value of each measure and side; empty when no stride defines it, with the reasons."""

KEPT_CHANGES: Final = Table(
    "kept_changes",
    METADATA,
    Column("person_id", Integer, ForeignKey("person.id", ondelete="CASCADE"), primary_key=True),
    Column("part", String(80), primary_key=True),
    Column("stamp", _HASH, nullable=False),
    Column("content", Text, nullable=False),
    _checksum("checksum"),
    Index("kept_changes_part", "part"),
)
"""What was compared of a person, so that no screen and no start compares it again: the answers of
the visits, and the changes of each measure. Made anew from the results when ``stamp``, a hash of
all it depends on, is another (``cohort/kept/kept_changes.py``)."""

HISTORY: Final = Table(
    "history",
    METADATA,
    Column("sequence", Integer, primary_key=True, autoincrement=False),
    Column("utc", String(32), nullable=False),
    Column("who", Text, nullable=False),
    Column("person", String(CODE_LENGTH)),
    Column("content", Text),
    Column("salt", String(32)),
    Column("digest", _HASH, nullable=False),
    Column("previous", _HASH, nullable=False),
    Column("hash", _HASH, nullable=False),
    Index("history_person", "person"),
)
"""Who did what, when, why and what was there before; each entry seals the one before it."""

REMOVAL: Final = Table(
    "removal",
    METADATA,
    Column("sha256", _HASH, primary_key=True),
    Column("suffix", String(16), nullable=False),
)
"""Originals of erased people that are still to be deleted from the folder."""

OF_PERSON: Final[Mapping[Table, FromClause]] = {
    PERSON: PERSON,
    VISIT: PERSON.join(VISIT),
    CONDITION: PERSON.join(VISIT).join(CONDITION),
    BRACE: PERSON.join(BRACE),
    BRACE_SETTING: PERSON.join(BRACE).join(BRACE_SETTING),
    AIM: PERSON.join(AIM),
    TRIAL: DOWN_TO_TRIAL,
    KEPT_CHANGES: PERSON.join(KEPT_CHANGES),
    **{table: DOWN_TO_TRIAL.join(table) for table in (CORRECTION, EVENT, RESULT, TRIAL_MEAN)},
}
"""The way from a person to the rows of each table that has rows of people."""

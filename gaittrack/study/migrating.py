"""Bring a study of an older version to today's tables, with a backup before.

In comes a connection that writes to an older study, out comes one of today's version: all steps
are kept together, or none. The backup lies beside the database as ``study-version-N-STAMP.db``;
on a server it is a copy of each table, ``version_N_STAMP_TABLE``.
"""

from __future__ import annotations

import json
import os
import sqlite3
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

from sqlalchemy import Connection, inspect, select, text, update

from gaittrack.errors import StudyError
from gaittrack.study.checksums import seal_results
from gaittrack.study.history import MIGRATION, current_user, record
from gaittrack.study.old_facts import (
    NOTE_OF_MIGRATION,
    PERSON_COLUMNS,
    VISIT_COLUMNS,
    condition_facts,
    person_facts,
    visit_facts,
)
from gaittrack.study.old_sentences import counts_in_codes, result_in_codes
from gaittrack.study.originals import PRIVATE_FILE
from gaittrack.study.tables import SCHEMA_VERSION, STUDY

Step = Callable[[Connection], None]


def _add_landmarks_and_events(connection: Connection) -> None:
    """Landmarks re-mapped for one trial, events tables, and indexes for what is asked often."""
    for statement in (
        "ALTER TABLE correction ADD COLUMN landmark VARCHAR(32)",
        "ALTER TABLE correction ADD COLUMN label TEXT",
        "ALTER TABLE trial ADD COLUMN events_file_name TEXT",
        "ALTER TABLE trial ADD COLUMN events_sha256 VARCHAR(64)",
        "CREATE INDEX correction_trial ON correction (trial_id)",
        "CREATE INDEX trial_standing ON trial (standing_id)",
        "CREATE INDEX history_person ON history (person)",
        "CREATE INDEX result_stamp ON result (trial_id, software_version, settings_hash)",
    ):
        connection.exec_driver_sql(statement)


def _add_kept_changes(connection: Connection) -> None:
    """Add where changes that a cohort compared are kept from one start to the next."""
    connection.exec_driver_sql(
        "CREATE TABLE kept_changes (person_id INTEGER NOT NULL, stamp VARCHAR(64) NOT NULL, "
        "content TEXT NOT NULL, PRIMARY KEY (person_id), "
        "FOREIGN KEY (person_id) REFERENCES person (id) ON DELETE CASCADE)"
    )


def _add_mediolateral_stability(connection: Connection) -> None:
    """Add what was examined of the ankle under load; nobody examined it in older studies."""
    connection.exec_driver_sql("ALTER TABLE visit ADD COLUMN mediolateral_stability TEXT")


def _reasons_as_codes(connection: Connection) -> None:
    """Make codes of the sentences in results."""
    ids = connection.exec_driver_sql("SELECT trial_id FROM result").scalars().all()
    seen = text("SELECT refusal, problems, facts, cycles, layout FROM result WHERE trial_id = :id")
    put = text(
        "UPDATE result SET refusal = :refusal, problems = :problems, facts = :facts, "
        "cycles = :cycles, layout = :layout WHERE trial_id = :id"
    )
    for trial_id in ids:
        row = connection.execute(seen, {"id": trial_id}).one()
        connection.execute(put, {"id": trial_id, **result_in_codes(dict(row._mapping))})
    means = connection.exec_driver_sql("SELECT DISTINCT reasons FROM trial_mean").scalars().all()
    changed = text("UPDATE trial_mean SET reasons = :now WHERE reasons = :before")
    for before in means:
        connection.execute(changed, {"before": before, "now": counts_in_codes(before)})


def _add_checksums(connection: Connection) -> None:
    """Add checksums of results, filled when every step is taken; kept changes are made anew."""
    names = ("words_checksum", "numbers_checksum", "events_checksum", "means_checksum")
    column = "VARCHAR(64) DEFAULT '' NOT NULL"
    for statement in (
        *(f"ALTER TABLE result ADD COLUMN {name} {column}" for name in names),
        f"ALTER TABLE kept_changes ADD COLUMN checksum {column}",
        "DELETE FROM kept_changes",
    ):
        connection.exec_driver_sql(statement)


def _codes_and_checksums(connection: Connection) -> None:
    """Bring results to codes; checksums of what they say then are filled at the end."""
    _reasons_as_codes(connection)
    _add_checksums(connection)


def _facts_as_documents(connection: Connection) -> None:
    """Put facts of people and visits into one document each, examinations with their leg."""
    for table in ("person", "visit"):
        connection.exec_driver_sql(
            f"ALTER TABLE {table} ADD COLUMN facts TEXT DEFAULT '{{}}' NOT NULL"
        )
    sides = {}
    for row in _rows(connection, "person"):
        facts = person_facts(row)
        sides[row["id"]] = facts.get("affected_side")
        _put_document(connection, "person", "facts", row["id"], facts)
    for row in _rows(connection, "visit"):
        _put_document(
            connection, "visit", "facts", row["id"], visit_facts(row, sides[row["person_id"]])
        )
    for row in _rows(connection, "condition"):
        worn = condition_facts(json.loads(row["description"]))
        _put_document(connection, "condition", "description", row["id"], worn)
    for table, names in (("person", PERSON_COLUMNS), ("visit", VISIT_COLUMNS)):
        for name in names:
            connection.exec_driver_sql(f"ALTER TABLE {table} DROP COLUMN {name}")
    connection.exec_driver_sql("DELETE FROM kept_changes")


def _add_braces_and_aims(connection: Connection) -> None:
    """Add where braces, their settings and aims are kept; older studies have none."""
    key = "SERIAL" if connection.dialect.name == "postgresql" else "INTEGER"
    for table, parent in (("brace", "person"), ("brace_setting", "brace"), ("aim", "person")):
        connection.exec_driver_sql(
            f"CREATE TABLE {table} (id {key} NOT NULL, {parent}_id INTEGER NOT NULL, "
            "code VARCHAR(200) NOT NULL, facts TEXT DEFAULT '{}' NOT NULL, PRIMARY KEY (id), "
            f"UNIQUE ({parent}_id, code), "
            f"FOREIGN KEY ({parent}_id) REFERENCES {parent} (id) ON DELETE CASCADE)"
        )


def _add_kept_answers(connection: Connection) -> None:
    """Add where answers of visits are kept beside the changes, part by part; all are made anew."""
    for statement in (
        "DROP TABLE kept_changes",
        "CREATE TABLE kept_changes (person_id INTEGER NOT NULL, part VARCHAR(80) NOT NULL, "
        "stamp VARCHAR(64) NOT NULL, content TEXT NOT NULL, "
        "checksum VARCHAR(64) DEFAULT '' NOT NULL, PRIMARY KEY (person_id, part), "
        "FOREIGN KEY (person_id) REFERENCES person (id) ON DELETE CASCADE)",
        "CREATE INDEX kept_changes_part ON kept_changes (part)",
        "DROP INDEX result_stamp",
        "CREATE INDEX result_stamp ON result "
        "(trial_id, software_version, settings_hash, numbers_checksum)",
    ):
        connection.exec_driver_sql(statement)


def _braces_aims_and_answers(connection: Connection) -> None:
    """Add what version 7 keeps."""
    _add_braces_and_aims(connection)
    _add_kept_answers(connection)


def _rows(connection: Connection, table: str) -> list[dict[str, Any]]:
    found = connection.exec_driver_sql(f"SELECT * FROM {table}").mappings().all()
    return [dict(row) for row in found]


def _put_document(
    connection: Connection, table: str, column: str, row_id: int, facts: dict[str, Any]
) -> None:
    change = text(f"UPDATE {table} SET {column} = :said WHERE id = :id")
    connection.execute(change, {"said": json.dumps(facts, sort_keys=True), "id": row_id})


STEPS: Final[dict[int, Step]] = {
    1: _add_landmarks_and_events,
    2: _add_kept_changes,
    3: _add_mediolateral_stability,
    4: _codes_and_checksums,
    5: _facts_as_documents,
    6: _braces_aims_and_answers,
}
"""From each earlier version to the next. A step speaks SQL only: ``tables.py`` changes after it. A
step that changes what results of version 5 or later say has to give them new checksums itself, and
only to those that held before."""
FIRST_WITH_CHECKSUMS: Final = 5


def migrate(connection: Connection, folder: Path, database: Path) -> tuple[int, str]:
    """Take every step from the version found to today's.

    Parameters
    ----------
    connection : Connection
        Of :meth:`Study.write`, so that nobody else writes meanwhile.
    folder : Path
        Of the study.
    database : Path
        The SQLite file; not used on a server.

    Returns
    -------
    found : int
        The version found; today's when somebody else took the steps meanwhile.
    kept : str
        Name of the backup; empty when no step was taken.

    Raises
    ------
    StudyError
        No step leads on from that version, or the steps do not go through; nothing is changed.
    """
    found = int(connection.execute(select(STUDY.c.schema_version)).scalar_one())
    if found >= SCHEMA_VERSION:
        return found, ""
    missing = [version for version in range(found, SCHEMA_VERSION) if version not in STEPS]
    if missing:
        raise StudyError.of("no_step_from_version", where=folder, found=found, missing=missing[0])
    kept = _back_up(connection, database, found)
    for version in range(found, SCHEMA_VERSION):
        STEPS[version](connection)
    if found < FIRST_WITH_CHECKSUMS:
        seal_results(connection)  # last: steps change what results say
    connection.execute(update(STUDY).values(schema_version=SCHEMA_VERSION))
    after = {"from": found, "to": SCHEMA_VERSION, "backup": kept, "note": NOTE_OF_MIGRATION}
    record(connection, MIGRATION, who=current_user(), after=after)
    return found, kept


def _back_up(connection: Connection, database: Path, version: int) -> str:
    """Copy everything as it was before the writer that waits here; return the copy's name."""
    stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%S%f")
    if connection.dialect.name != "sqlite":
        quote = connection.dialect.identifier_preparer.quote
        for name in inspect(connection).get_table_names():
            if not name.startswith("version_"):
                copy = quote(f"version_{version}_{stamp}_{name}")
                connection.exec_driver_sql(f"CREATE TABLE {copy} AS TABLE {quote(name)}")
        return f"version_{version}_{stamp}_*"
    target = database.with_name(f"{database.stem}-version-{version}-{stamp}.db")
    handle = os.open(target, os.O_CREAT | os.O_EXCL | os.O_RDWR, PRIVATE_FILE)
    try:
        source = sqlite3.connect(database)
        try:
            source.execute("VACUUM INTO ?", (str(target),))
        finally:
            source.close()
        os.fsync(handle)
    except (OSError, sqlite3.Error):
        target.unlink(missing_ok=True)
        raise
    finally:
        os.close(handle)
    return target.name

"""A study of many people for measuring speed: one person's stored results, many times over.

The database copies rows itself, so that a thousand people with twenty walks each are there in
seconds. Walk values differ a little from person to person; originals are shared, and so are answers
and changes, each kept under the person's own stamp.
"""

import sqlite3
from contextlib import closing
from dataclasses import replace

from gaittrack.cohort.asking.view import read_cohort
from gaittrack.cohort.kept.person_stamps import person_stamps
from gaittrack.simulate.sample_trials import write_visit
from gaittrack.simulate.scenario import PATIENTS
from gaittrack.study.checksums import kept_checksum
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import plan_folders
from gaittrack.study.store import DATABASE, create_study, open_study
from gaittrack.study.tables import (
    CONDITION,
    EVENT,
    KEPT_CHANGES,
    PERSON,
    RESULT,
    TRIAL,
    TRIAL_MEAN,
    VISIT,
)

N_WALKS, N_VISITS = 5, 2
"""Per condition; with two conditions 20 walks per person."""
KEYED = (PERSON, VISIT, CONDITION, TRIAL, EVENT)
COPIED = (*KEYED, RESULT, TRIAL_MEAN)
OTHERWISE = {
    (PERSON.name, "code"): "printf('N%04d', one.n)",
    (PERSON.name, "facts"): "json_set(facts, '$.cause', CASE one.n % 2 WHEN 0 THEN "
    "json_extract(facts, '$.cause') ELSE 'stroke' END, "
    "'$.sex', CASE one.n % 3 WHEN 0 THEN 'female' ELSE 'male' END)",
    (TRIAL_MEAN.name, "value"): "value * (0.9 + 0.2 * abs(random() % 1000) / 1000.0)",
}


def write_template(folder):
    """Make a study of one measured person; return its folder."""
    one = replace(PATIENTS[0], n_walks=(N_WALKS,) * len(PATIENTS[0].n_walks))
    for visit in range(N_VISITS):
        write_visit(one, visit, folder / "walks" / one.code / f"visit-{visit + 1}")
    study = create_study(folder / "study")
    rows = list(import_files(study, plan_folders([folder / "walks"]), who="b", new_people=True))
    read_cohort(study)
    study.close()
    assert {row.state for row in rows} == {"added"}
    return folder / "study"


def copy_person(folder, n_people):
    """Copy the only person of a study until there are so many; no crash is guarded against."""
    connection = sqlite3.connect(folder / DATABASE)
    connection.executescript("PRAGMA journal_mode = OFF; PRAGMA synchronous = OFF")
    most = {
        table.name: connection.execute(f'SELECT max(id) FROM "{table.name}"').fetchone()[0] or 0
        for table in KEYED
    }
    connection.execute("CREATE TEMP TABLE one (n INTEGER PRIMARY KEY)")
    connection.executemany("INSERT INTO one VALUES (?)", [(n,) for n in range(1, n_people)])
    for table in COPIED:
        names = ", ".join(f'"{column.name}"' for column in table.columns)
        values = ", ".join(_value(table, column, most) for column in table.columns)
        connection.execute(
            f'INSERT INTO "{table.name}" ({names}) '
            f'SELECT {values} FROM one CROSS JOIN "{table.name}"'
        )
    connection.commit()
    connection.close()
    keep_what_was_compared(folder)


def keep_what_was_compared(folder):
    """Copy what was compared of the first person to all others, as if each had been compared."""
    with closing(open_study(folder)) as study, study.read() as read:
        stamps = person_stamps(read)
    connection = sqlite3.connect(folder / DATABASE)
    people = dict(connection.execute("SELECT id, code FROM person"))
    kept = connection.execute("SELECT part, content FROM kept_changes").fetchall()
    connection.execute("DELETE FROM kept_changes")
    connection.executemany(
        f"INSERT INTO {KEPT_CHANGES.name} VALUES (?, ?, ?, ?, ?)",
        (
            (number, part, stamps[code], content, kept_checksum(part, stamps[code], content))
            for number, code in people.items()
            for part, content in kept
        ),
    )
    connection.commit()
    connection.close()


def _value(table, column, most):
    """Return the SQL of a copied value: keys are shifted by so many rows per person."""
    if (table.name, column.name) in OTHERWISE:
        return OTHERWISE[table.name, column.name]
    keys = {key.column.table.name for key in column.foreign_keys}
    if column.name == "id":
        keys = {table.name}
    return f'"{column.name}" + one.n * {most[keys.pop()]}' if keys else f'"{column.name}"'

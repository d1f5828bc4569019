"""A study of an older version opens, with a backup; none is ever lost on the way."""

import json
import sqlite3
import stat
from pathlib import Path

import pytest
from sqlalchemy import inspect, select, text, update

from gaittrack.errors import StudyError
from gaittrack.reasons import from_plain
from gaittrack.study import migrating, store
from gaittrack.study.checksums import DAMAGED
from gaittrack.study.corrections.looking import corrections_of
from gaittrack.study.history import entries, faults
from gaittrack.study.migrating import FIRST_WITH_CHECKSUMS
from gaittrack.study.old_facts import PERSON_COLUMNS, VISIT_COLUMNS
from gaittrack.study.people.asked_words import asked_words
from gaittrack.study.people.facts import facts_of_person
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import plan_folders
from gaittrack.study.results.follow import follow_person
from gaittrack.study.results.keeping import find_trial
from gaittrack.study.store import DATABASE, create_study, open_study
from gaittrack.study.tables import RESULT, SCHEMA_VERSION, STUDY, TRIAL_MEAN
from gaittrack.study.upkeep.verifying import verify

FIXTURES = Path(__file__).parent / "fixtures"
VERSIONS = range(1, SCHEMA_VERSION + 1)


def add_number(connection):
    """Bring the planted older version to today's: the step is written for the test."""
    connection.exec_driver_sql("ALTER TABLE visit ADD COLUMN number INTEGER")


def planted(folder, url, *, steps, monkeypatch):
    """Make a study of the version before today's: without the column ``visit.number``."""
    monkeypatch.setattr(migrating, "STEPS", steps)
    study = create_study(folder, url=url)
    with study.write() as connection:
        connection.exec_driver_sql("INSERT INTO person (code) VALUES ('P01')")
        connection.exec_driver_sql("ALTER TABLE visit DROP COLUMN number")
        connection.execute(update(STUDY).values(schema_version=SCHEMA_VERSION - 1))
    study.close()


def columns_of(study, table="visit"):
    with study.read() as connection:
        return [column["name"] for column in inspect(connection).get_columns(table)]


@pytest.mark.parametrize("version", VERSIONS)
def test_every_version_there_ever_was_opens(tmp_path, version):
    """The study kept from each version shows its person, numbers, correction and history."""
    of_version(version, tmp_path)
    study = open_study(tmp_path)
    found = follow_person(study, "P01")
    with study.read() as connection:
        trial = find_trial(connection, "P01/visit-1/with-brace/walk-1")
        (correction,) = corrections_of(connection, trial)
        assert faults(connection) == []
    assert found.rows and found.rows == follow_person(study, "P01").rows
    assert (correction["kind"], correction["reason"]) == ("exclude_stride", "stumbled")
    study.close()


def of_version(version, folder):
    """Put the study kept from a version into a folder; its originals are not kept."""
    (folder / "originals").mkdir()
    with sqlite3.connect(folder / DATABASE) as plain:
        plain.executescript((FIXTURES / f"version-{version}.sql").read_text(encoding="utf-8"))
    plain.close()


@pytest.mark.parametrize("version", VERSIONS)
def test_results_of_every_version_have_checksums(tmp_path, version):
    """Nothing but the originals is missed, and what is changed afterwards is found."""
    of_version(version, tmp_path)
    study = open_study(tmp_path)
    assert [fault for fault in verify(study) if "the original of" not in fault] == []
    with study.write() as connection:
        connection.exec_driver_sql("UPDATE result SET facts = facts || ' '")
    assert f"P01/visit-1/with-brace/walk-1: {DAMAGED}" in verify(study)
    study.close()


def test_checksums_come_after_every_step(tmp_path, monkeypatch):
    """A step of an older study may change what results say: they hold as they are then."""
    plain = migrating.STEPS[4]

    def say_otherwise(connection):
        plain(connection)
        connection.exec_driver_sql("UPDATE result SET problems = '[ ]'")

    monkeypatch.setattr(migrating, "STEPS", migrating.STEPS | {4: say_otherwise})
    of_version(4, tmp_path)
    study = open_study(tmp_path)
    assert not any(str(DAMAGED) in fault for fault in verify(study))
    study.close()


def test_no_later_step_makes_damage_sound(tmp_path, monkeypatch):
    """A result that has checksums keeps them: what was damaged before a migration still is."""
    of_version(FIRST_WITH_CHECKSUMS, tmp_path)
    with sqlite3.connect(tmp_path / DATABASE) as plain:
        plain.execute("UPDATE result SET facts = facts || ' '")
    plain.close()
    later = range(FIRST_WITH_CHECKSUMS, SCHEMA_VERSION + 1)
    steps = migrating.STEPS | {version: migrating.STEPS.get(version, nothing) for version in later}
    monkeypatch.setattr(migrating, "STEPS", steps)
    for place in (migrating, store):
        monkeypatch.setattr(place, "SCHEMA_VERSION", SCHEMA_VERSION + 1)
    study = open_study(tmp_path)
    with study.read() as connection:
        assert connection.execute(select(STUDY.c.schema_version)).scalar() == SCHEMA_VERSION + 1
    assert any(str(DAMAGED) in fault for fault in verify(study))
    study.close()


def nothing(_connection):
    """Take no step."""


def schema_of(study):
    """Return columns, keys and indexes of every table of a study; copies of older ones left out."""
    found = {}
    with study.read() as connection:
        seen = inspect(connection)
        for name in seen.get_table_names():
            if name.startswith("version_"):
                continue
            columns = [
                (each["name"], str(each["type"]), each["nullable"])
                for each in seen.get_columns(name)
            ]
            keys = [
                (each["constrained_columns"], each["referred_table"], each["options"])
                for each in seen.get_foreign_keys(name)
            ]
            indexes = [(each["name"], each["column_names"]) for each in seen.get_indexes(name)]
            primary = seen.get_pk_constraint(name)["constrained_columns"]
            found[name] = (
                sorted(columns),
                primary,
                sorted(keys, key=str),
                sorted(indexes, key=str),
            )
    return found


@pytest.mark.parametrize("version", VERSIONS)
def test_a_migrated_study_has_the_tables_of_a_new_one(tmp_path, version):
    """Columns, types, keys and indexes, from each version that was kept."""
    of_version(version, tmp_path)
    old, new = open_study(tmp_path), create_study(tmp_path / "new")
    assert schema_of(old) == schema_of(new)
    old.close()
    new.close()


BACK_TO_VERSION_1 = (
    "DROP TABLE aim",
    "DROP TABLE brace_setting",
    "DROP TABLE brace",
    "DROP TABLE kept_changes",
    "DROP INDEX correction_trial",
    "DROP INDEX trial_standing",
    "DROP INDEX history_person",
    "DROP INDEX result_stamp",
    "ALTER TABLE correction DROP COLUMN landmark",
    "ALTER TABLE correction DROP COLUMN label",
    "ALTER TABLE trial DROP COLUMN events_file_name",
    "ALTER TABLE trial DROP COLUMN events_sha256",
    "ALTER TABLE person DROP COLUMN facts",
    "ALTER TABLE visit DROP COLUMN facts",
    *(
        f"ALTER TABLE result DROP COLUMN {name}_checksum"
        for name in ("words", "numbers", "events", "means")
    ),
    "UPDATE study SET schema_version = 1",
)


def say(plain):
    return str(from_plain(plain)) if plain else ""


def in_sentences(row):
    """Return a result as it was stored until version 4: sentences in place of codes."""
    cycles, layout = json.loads(row.cycles), json.loads(row.layout)
    for cycle in cycles:
        for name in ("reject_reasons", "review_reasons"):
            cycle[name] = list(map(say, cycle[name]))
    if layout:
        layout["version"] = 1
        layout["reasons"] = list(map(say, layout["reasons"]))
        layout["labels"] = ["\n".join(map(say, labels)) for labels in layout["labels"]]
    problems = [
        {"level": one["level"], "what": said.say(), "where": one["where"]}
        | {"action": said.say(part="action")}
        for one in json.loads(row.problems)
        for said in [from_plain(one["reason"])]
    ]
    return {
        "cycles": json.dumps(cycles),
        "layout": json.dumps(layout),
        "problems": json.dumps(problems),
    }


def put_sentences_back(connection):
    """Store every result and walk value of a study as version 4 did."""
    for row in connection.execute(select(RESULT)).all():
        mine = RESULT.c.trial_id == row.trial_id
        connection.execute(update(RESULT).where(mine).values(in_sentences(row)))
    for row in connection.execute(select(TRIAL_MEAN)).all():
        counts = {say(each["reason"]): each["n"] for each in json.loads(row.reasons)}
        mine = [TRIAL_MEAN.c[key] == getattr(row, key) for key in ("trial_id", "side", "measure")]
        connection.execute(update(TRIAL_MEAN).where(*mine).values(reasons=json.dumps(counts)))


KINDS_UNTIL_VERSION_5 = {
    "correctable_to_neutral": "BOOLEAN",
    **dict.fromkeys(("age_years", "height_cm", "mass_kg", "months_since_onset"), "FLOAT"),
    **{f"passive_dorsiflexion_knee_{knee}_deg": "FLOAT" for knee in ("straight", "bent")},
}


def put_columns_back(connection):
    """Store facts of people and visits as version 5 did, without what came with version 4."""
    columns = {"person": PERSON_COLUMNS, "visit": VISIT_COLUMNS}
    for table, names in columns.items():
        for name in (each for each in names if each != "mediolateral_stability"):
            kind = KINDS_UNTIL_VERSION_5.get(name, "TEXT")
            connection.exec_driver_sql(f"ALTER TABLE {table} ADD COLUMN {name} {kind}")
        for row_id, said in connection.exec_driver_sql(f"SELECT id, facts FROM {table}").all():
            facts = {name.removeprefix("left_"): v for name, v in json.loads(said).items()}
            for name in facts.keys() & set(names):
                put = text(f"UPDATE {table} SET {name} = :value WHERE id = :id")
                connection.execute(put, {"value": facts[name], "id": row_id})


def facts_after(folder, affected, **given):
    """Return person, visit and words that are asked about, of version 5 brought to today."""
    of_version(5, folder)
    with sqlite3.connect(folder / DATABASE) as plain:
        plain.execute("UPDATE person SET affected_side = ?, cause = ?", (affected, "Stroke?"))
        for name, value in given.items():
            plain.execute(f"UPDATE visit SET {name} = ?", (value,))
    plain.close()
    study = open_study(folder)
    person = facts_of_person(study, 1)
    asked = [(one.list, one.typed, one.becomes) for one in asked_words(study)]
    told = {name: value for name, value in person.visits[0].facts.items() if value is not None}
    study.close()
    return person.facts, told, asked


EXAMINED = {
    "quadriceps_strength": "4 of 5",
    "dorsiflexor_strength": "4+, says Quill",
    "tone": "not raised",
    "clonus": "Absent",
    "passive_dorsiflexion_knee_bent_deg": 7.5,
    "correctable_to_neutral": 0,
    "mediolateral_stability": "tilts into varus",
    "skin": "red",
}


def test_an_old_examination_is_of_the_affected_leg(tmp_path):
    """Words of a list become that; all others stay, are asked about and leave as other."""
    person, visit, asked = facts_after(tmp_path, "right", **EXAMINED)
    assert (person["cause"], person["affected_side"]) == ("Stroke?", "right")
    assert visit == {
        "number": 1,
        "days_since_first_visit": 0.0,
        "wear": "daily",
        "skin": "red",
        "right_quadriceps_strength": "4",
        "right_dorsiflexor_strength": "4+, says Quill",
        "right_tone": "not raised",
        "right_clonus": "none",
        "right_passive_dorsiflexion_knee_bent_deg": 7.5,
        "right_correctable_to_neutral": False,
        "right_mediolateral_stability": "tilts into varus",
    }
    assert asked == [
        ("cause", "Stroke?", "other"),
        ("grade", "4+, says Quill", "other"),
        ("tone", "not raised", "other"),
    ]


def test_an_old_examination_of_both_legs_is_of_both(tmp_path):
    """But the ankle was the less stable one of either: a note."""
    _, visit, _ = facts_after(tmp_path, "both", **EXAMINED)
    assert visit["left_clonus"] == visit["right_clonus"] == "none"
    assert "left_mediolateral_stability" not in visit
    assert "tilts into varus" in visit["visit_notes"]


def test_an_old_examination_of_nobody_knows_which_leg_is_a_note(tmp_path):
    """Nothing is lost, and nothing is put on a leg."""
    _, visit, _ = facts_after(tmp_path, None, **EXAMINED)
    assert not any(name.startswith(("left_", "right_")) for name in visit)
    for words in ("4+, says Quill", "not raised", "tilts into varus", "7.5", "no"):
        assert words in visit["visit_notes"]


def test_every_step_is_taken_on_every_database(tmp_path, database, people):
    """From version 1 with walks in it: the tables of a new study, the numbers of before."""
    study = create_study(tmp_path / "study", url=database)
    list(import_files(study, plan_folders([people]), who="tester"))
    schema, rows = schema_of(study), follow_person(study, "P01").rows
    with study.write() as connection:
        put_sentences_back(connection)
        put_columns_back(connection)
        for statement in BACK_TO_VERSION_1:
            connection.exec_driver_sql(statement)
    study.close()
    study = open_study(tmp_path / "study", url=database)
    assert schema_of(study) == schema
    assert rows and repr(follow_person(study, "P01").rows) == repr(rows)
    with study.read() as connection:
        assert faults(connection) == []
        (said,) = [one["after"] for one in entries(connection) if one["what"] == "migrate"]
    assert (said["from"], said["to"]) == (1, SCHEMA_VERSION)
    study.close()


def test_every_version_has_a_step_and_a_fixture():
    """Raising the version without a step or a kept study of it is noticed."""
    assert sorted(migrating.STEPS) == list(VERSIONS)[:-1]
    kept = {path.name for path in FIXTURES.glob("version-*.sql")}
    assert kept == {f"version-{version}.sql" for version in VERSIONS}


def test_an_older_study_is_migrated(tmp_path, database, monkeypatch, caplog):
    """The step is taken once, the data stay; history and log say so, with the backup's name."""
    steps = {SCHEMA_VERSION - 1: add_number}
    planted(tmp_path / "study", database, steps=steps, monkeypatch=monkeypatch)
    for _ in range(2):
        study = open_study(tmp_path / "study", url=database)
        assert "number" in columns_of(study)
        with study.read() as connection:
            assert connection.execute(text("SELECT code FROM person")).scalars().all() == ["P01"]
            (entry,) = [one for one in entries(connection) if one["what"] == "migrate"]
            assert faults(connection) == []
        assert (entry["after"]["from"], entry["after"]["to"]) == (
            SCHEMA_VERSION - 1,
            SCHEMA_VERSION,
        )
        study.close()
    (said,) = [one.getMessage() for one in caplog.records if one.name.startswith("gaittrack")]
    assert f"to {SCHEMA_VERSION}" in said and entry["after"]["backup"] in said


def test_the_backup_is_the_study_as_it_was(tmp_path, monkeypatch):
    """Beside the database lies the older one, whole and for its owner only."""
    steps = {SCHEMA_VERSION - 1: add_number}
    planted(tmp_path / "study", None, steps=steps, monkeypatch=monkeypatch)
    open_study(tmp_path / "study").close()
    (backup,) = (tmp_path / "study").glob("study-version-*.db")
    assert stat.S_IMODE(backup.stat().st_mode) == 0o600
    with sqlite3.connect(backup) as plain:
        assert plain.execute("SELECT code FROM person").fetchall() == [("P01",)]
        assert plain.execute("SELECT schema_version FROM study").fetchone() == (SCHEMA_VERSION - 1,)
        names = [row[1] for row in plain.execute("PRAGMA table_info(visit)")]
    plain.close()
    assert "code" in names and "number" not in names


@pytest.mark.parametrize("database", ["postgresql"], indirect=True)
def test_on_a_server_the_backup_is_a_copy_of_each_table(tmp_path, database, monkeypatch):
    """The copies hold what the tables held, without the new column."""
    steps = {SCHEMA_VERSION - 1: add_number}
    planted(tmp_path / "study", database, steps=steps, monkeypatch=monkeypatch)
    study = open_study(tmp_path / "study", url=database)
    with study.read() as connection:
        names = inspect(connection).get_table_names()
        (people,) = [name for name in names if name.endswith("_person")]
        (visits,) = [name for name in names if name.endswith("_visit")]
        assert connection.execute(text(f'SELECT code FROM "{people}"')).scalar() == "P01"
    assert "number" not in columns_of(study, visits)
    study.close()


def test_a_step_that_fails_changes_nothing(tmp_path, database, monkeypatch):
    """The study is still of its old version, without half a step."""

    def fail(connection):
        add_number(connection)
        connection.exec_driver_sql("UPDATE nowhere SET code = 1")

    steps = {SCHEMA_VERSION - 1: fail}
    planted(tmp_path / "study", database, steps=steps, monkeypatch=monkeypatch)
    with pytest.raises(StudyError, match="nowhere"):
        open_study(tmp_path / "study", url=database)
    monkeypatch.setattr(migrating, "STEPS", {SCHEMA_VERSION - 1: add_number})
    study = open_study(tmp_path / "study", url=database)
    assert "number" in columns_of(study)
    study.close()


def test_a_version_without_a_step_is_refused(tmp_path, database, monkeypatch):
    """The message names the version where the way ends."""
    planted(tmp_path / "study", database, steps={}, monkeypatch=monkeypatch)
    with pytest.raises(StudyError, match=f"no step leads on from version {SCHEMA_VERSION - 1}"):
        open_study(tmp_path / "study", url=database)

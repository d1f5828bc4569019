"""A study is backed up whole, its damage is found, and a person can be erased without a rest."""

import shutil
import sqlite3

import pytest
from sqlalchemy import delete, insert, inspect, select, text, update

from gaittrack.errors import LayoutError, StudyError
from gaittrack.plain_files import hash_of
from gaittrack.study import store
from gaittrack.study.history import entries, faults, record
from gaittrack.study.laboratory import ERRORS, MAP, TYPICAL, laboratory_typical_of, set_setting
from gaittrack.study.originals import kept_files
from gaittrack.study.people.enrolled import person_codes
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import plan_folders
from gaittrack.study.results.comparing import compare_stored
from gaittrack.study.store import DATABASE, Study, create_study, open_study, sqlite_engine
from gaittrack.study.tables import (
    CONDITION,
    EVENT,
    HISTORY,
    KEPT_CHANGES,
    METADATA,
    PERSON,
    REMOVAL,
    TRIAL,
)
from gaittrack.study.upkeep.backups import back_up
from gaittrack.study.upkeep.erasing import erase_person, finish_removals
from gaittrack.study.upkeep.verifying import verify


def content(study):
    """Return every row of every table."""
    with study.read() as connection:
        return {
            table.name: sorted(map(repr, connection.execute(select(table)).all()))
            for table in METADATA.sorted_tables
        }


def all_bytes(folder):
    return b"".join(path.read_bytes() for path in folder.rglob("*") if path.is_file())


def test_a_backup_never_goes_over_something(study, tmp_path):
    """Neither into the study itself nor into a folder with files."""
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "letter.txt").write_text("private")
    for target in (study.folder / "backup", tmp_path / "full"):
        with pytest.raises(StudyError):
            back_up(study, target)
    assert (tmp_path / "full" / "letter.txt").read_text() == "private"


def test_verify_finds_damage(study):
    """Changed, missing and stray originals, and a rewritten history, each have a line."""
    first, second, *_ = kept_files(study.folder)
    first.write_bytes(b"changed")
    second.unlink()
    (first.parent / ("0" * 64)).write_bytes(b"stray")
    with study.write() as connection:
        connection.execute(update(HISTORY).where(HISTORY.c.sequence == 2).values(who="Eve"))
    found = "\n".join(verify(study))
    for words in (
        f"was changed: originals/{first.parent.name}/{first.name}: delete it, import",
        f"is missing: originals/{second.parent.name}/{second.name}: import the recording again",
        f"no trial refers to the file originals/{first.parent.name}/{'0' * 64}: an import",
    ):
        assert words in found
    assert "history entry 2" in found


def test_an_erased_person_leaves_nothing(study):
    """No row, no original, no name in any byte of the folder; the history says one was erased."""
    assert b"P01" in all_bytes(study.folder)
    done = erase_person(study, "P01", who="Ada", why="asked for")
    assert done.n_originals == 9 and kept_files(study.folder) == []
    with study.read() as connection:
        assert person_codes(connection) == []
        for table in (TRIAL, EVENT, REMOVAL):
            assert connection.execute(select(table)).first() is None
        assert faults(connection) == []
        last = entries(connection)[-1]
    assert (last["what"], last["who"], last["why"]) == ("erase person", "Ada", "asked for")
    for _ in ("open", "closed"):
        assert b"P01" not in all_bytes(study.folder)
        assert b"walk-1" not in all_bytes(study.folder)
        study.close()


def test_a_lost_original_comes_back_with_its_recording(study, people):
    """As verify says: delete the changed one, import again; both are whole, no result changes."""
    before = content(study)
    first, second, *_ = kept_files(study.folder)
    first.unlink()
    second.write_bytes(b"cut short")
    rows = list(import_files(study, plan_folders([people]), who="Ada"))
    assert {row.state for row in rows} == {"known"}
    assert sum("put back" in row.message for row in rows) == 2
    assert verify(study) == [] and content(study) == before


def test_an_erasure_takes_what_a_broken_off_import_left(study):
    """Whole and half copies that no trial refers to may be the person's; other files are not."""
    whole = study.folder / "originals" / "00" / f"{'0' * 64}.c3d"
    whole.parent.mkdir(exist_ok=True)
    half, letter = whole.with_name("tmpx.part"), whole.with_name("letter.txt")
    for path in (whole, half, letter):
        path.write_bytes(b"P01")
    assert erase_person(study, "P01", who="Ada", why="asked for").n_originals == 10
    assert not whole.exists() and not half.exists() and letter.exists()


def test_an_erasure_cleans_the_copies_in_the_folder(study, tmp_path):
    """What migrating left behind is cleaned, and is still a sound copy of the rest."""
    copy = study.folder / "study-version-1-20260101T000000000000.db"
    with sqlite3.connect(study.folder / DATABASE) as plain:
        plain.execute("VACUUM INTO ?", (str(copy),))
    plain.close()
    with study.write() as connection:
        connection.execute(insert(PERSON).values(code="P02"))
    back_up(study, tmp_path / "whole")
    shutil.copytree(tmp_path / "whole", study.folder / "kept")
    done = erase_person(study, "P01", who="Ada", why="asked for")
    assert done.cleaned == (copy.name,)
    (still,) = done.uncleaned
    assert still.startswith("kept/study.db") and "Erase the person there too" in still
    assert b"P01" not in copy.read_bytes() and not list(study.folder.glob(f"{copy.name}-*"))
    copied = Study(study.folder, sqlite_engine(copy))
    with copied.read() as connection:
        assert person_codes(connection) == [] and faults(connection) == []
    copied.close()


def test_an_erasure_cleans_the_copies_on_a_server(people, tmp_path, database):
    """Tables that migrating copied lose the person's rows, and no other rows."""
    if database is None:
        pytest.skip("copies in files have a test of their own")
    study = create_study(tmp_path / "study", url=database)
    list(import_files(study, plan_folders([people / "P01" / "visit-2"]), who="Ada"))
    with study.write() as connection:
        connection.execute(insert(PERSON).values(code="P02"))
        kept = [{"person_id": row, "part": "a", "stamp": "x", "content": "y"} for row in (1, 2)]
        connection.execute(insert(KEPT_CHANGES), kept)
        for name in inspect(connection).get_table_names():
            connection.execute(text(f'CREATE TABLE "version_1_x_{name}" AS TABLE "{name}"'))
    assert erase_person(study, "P01", who="Ada", why="asked for").cleaned == ("version_1_x_*",)
    with study.read() as connection:
        gone = dict.fromkeys(("visit", "condition", "trial", "result", "event", "trial_mean"), 0)
        for name, left in (gone | {"person": 1, KEPT_CHANGES.name: 1}).items():
            count = connection.execute(text(f'SELECT count(*) FROM "version_1_x_{name}"'))
            assert count.scalar() == left, name
        words = connection.execute(text('SELECT content FROM "version_1_x_history"')).scalars()
        assert not any("P01" in (content or "") for content in words)
    study.close()


def test_an_erasure_says_when_a_reader_keeps_traces(study, monkeypatch):
    """While another program reads, the log cannot be emptied; the rows are gone all the same."""
    monkeypatch.setattr(store, "LONGEST_WAIT_S", 0.1)
    eraser = open_study(study.folder)
    with study.read() as reader:
        person_codes(reader)
        with pytest.raises(StudyError, match="Close every program"):
            erase_person(eraser, "P01", who="Ada", why="asked for")
    with eraser.read() as connection:
        assert person_codes(connection) == []
    eraser.close()
    study.close()
    assert b"P01" not in all_bytes(study.folder)


def test_an_erasure_that_was_broken_off_is_finished(study):
    """Originals that were to go are deleted at the next chance; those still in use stay."""
    gone, kept = kept_files(study.folder)[:2]
    with study.write() as connection:
        connection.execute(delete(TRIAL).where(TRIAL.c.sha256 == gone.stem))
        rows = [{"sha256": path.stem, "suffix": path.suffix} for path in (gone, kept)]
        connection.execute(insert(REMOVAL), rows)
        record(connection, "test", who="Ada", person="P01")
    assert finish_removals(study) == 1
    assert not gone.exists() and hash_of(kept) == kept.stem
    assert verify(study) == []


def test_erasing_asks_for_the_right_person_and_a_clean_reason(study):
    """A slip in the code, or the code in the reason, erases nothing."""
    before = content(study)
    with pytest.raises(StudyError, match="People in the study: P01"):
        erase_person(study, "P99", who="Ada", why="asked for")
    with pytest.raises(StudyError, match="names the person"):
        erase_person(study, "P01", who="Ada", why="p01 asked for it")
    assert content(study) == before


@pytest.mark.parametrize("name", [MAP, ERRORS, TYPICAL])
def test_a_bad_setting_is_refused(study, tmp_path, name):
    """A file that is none leaves the old setting."""
    path = tmp_path / "bad.toml"
    path.write_text("[[measurement_errors]]\nx = 1\n[landmarks]\nleft_tail = 'X'\n")
    before = content(study)
    with pytest.raises(LayoutError):
        set_setting(study, name, path, who="Ada", why="new")
    assert content(study) == before


def test_the_laboratorys_typical_curves_count(study, tmp_path):
    """For a person of their age; beside them the built-in ranges stay."""
    path = tmp_path / "own.toml"
    table = f"[curves.knee]\nmean = {[9.0] * 101}\nsd = {[2.0] * 101}\nsource = 'ours'\n"
    with study.read() as connection:
        rows = connection.execute(select(CONDITION.c.id).where(CONDITION.c.visit_id == 1))
        conditions = [row.id for row in rows]
    for more, drawn in (("", ["knee"]), ("youngest_years = 99\n", [])):
        path.write_text(table + more)
        set_setting(study, TYPICAL, path, who="Ada", why="measured here")
        settings = compare_stored(study, conditions, reference=conditions[0]).comparison.settings
        assert list(settings["typical_curves"]) == drawn
        assert settings["typical"] != "own reference values" and settings["typical_ranges"]


def test_the_laboratorys_reference_values_count(study, tmp_path):
    """Own reference values replace the built-in ones in a comparison of stored walks."""
    path = tmp_path / "own.toml"
    path.write_text(
        "[[typical]]\nmeasure = 'peak_swing_dorsiflexion_deg'\nlow = 1\nhigh = 2\nsource = 'ours'\n"
    )
    set_setting(study, TYPICAL, path, who="Ada", why="measured here")
    with study.read() as connection:
        own = laboratory_typical_of(connection)
        rows = connection.execute(select(CONDITION.c.id).where(CONDITION.c.visit_id == 1))
        conditions = [row.id for row in rows]
    assert own is not None and own["peak_swing_dorsiflexion_deg"].source == "ours"
    stored = compare_stored(study, conditions, reference=conditions[0])
    settings = stored.comparison.settings
    assert settings["typical"] == "own reference values"
    assert list(settings["typical_ranges"]) == ["peak_swing_dorsiflexion_deg"]

"""Files come in once, whole, and in the right place; a bad one costs its own row."""

import hashlib
import os
import shlex
import shutil
from dataclasses import replace

import numpy as np
import pytest
from click.testing import CliRunner
from sqlalchemy import select

from gaittrack.commands import main
from gaittrack.errors import StudyError
from gaittrack.measures import walk_values
from gaittrack.pipeline import MeasureOptions, measure_file
from gaittrack.simulate.c3d_writer import write_c3d
from gaittrack.simulate.walk import simulate_walk
from gaittrack.study import originals, store
from gaittrack.study.history import entries
from gaittrack.study.recordings import adding, together
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import plan_folders
from gaittrack.study.recordings.together import AT_ONCE
from gaittrack.study.results.keeping import known_trials, stale_trials
from gaittrack.study.results.kept_walk import measure_to_keep
from gaittrack.study.store import create_study, open_study
from gaittrack.study.tables import PERSON, RESULT, TRIAL, TRIAL_MEAN, VISIT
from gaittrack.study.upkeep.verifying import verify
from tests.faults.large_tree import sheet
from tests.made_up_files import RECIPE, exported_again, write_walk
from tests.planted_facts import facts_of_row


def run(study, *paths, **options):
    """Import and return the rows by place or file name."""
    rows = list(import_files(study, plan_folders(list(paths)), who="tester", **options))
    return {row.place or f"{row.path.parent.name}/{row.path.name}": row for row in rows}


@pytest.fixture
def visit(people, tmp_path):
    """Give a copy of one visit's folder to spoil."""
    return shutil.copytree(people / "P01" / "visit-1", tmp_path / "given" / "P01" / "visit-1")


@pytest.fixture
def empty(tmp_path):
    """Give a new study."""
    study = create_study(tmp_path / "new")
    yield study
    study.close()


def reword(visit, old, new):
    path = visit / "conditions.toml"
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new))


def test_every_file_has_its_place_and_its_original(imported, people):
    """Walks and standing trials stand where the folders say; the kept bytes are the given ones."""
    study = open_study(imported)
    with study.read() as connection:
        places = [trial.place for trial in known_trials(connection)]
        rows = connection.execute(select(TRIAL)).mappings().all()
        visits = connection.execute(select(VISIT.c.code, VISIT.c.facts)).all()
    conditions = ("with-brace", "without-brace")
    assert places == [
        f"P01/visit-{v}/{c}/walk-{w}" for v in (1, 2) for c in conditions for w in (1, 2)
    ]
    given = {hashlib.sha256(p.read_bytes()).hexdigest() for p in people.rglob("*.c3d")}
    kept = {hashlib.sha256(p.read_bytes()).hexdigest() for p in originals.kept_files(imported)}
    assert kept == given == {row["sha256"] for row in rows}
    standing = {row["id"] for row in rows if row["kind"] == "standing"}
    linked = [row["standing_id"] for row in rows if row["standing_id"] is not None]
    assert len(standing) == 1 and set(linked) == standing and len(linked) == 2
    assert [row.code for row in visits] == ["visit-1", "visit-2"]
    assert all('"left_quadriceps_strength": "4"' in row.facts for row in visits)
    assert verify(study) == [] and stale_trials(study) == []
    study.close()


def test_stored_means_are_those_of_the_plain_measuring(imported, people):
    """What the command ``measure`` gives with the same standing trial stands in the table."""
    folder = people / "P01" / "visit-1"
    standing = folder / "standing" / "with-brace.c3d"
    walk = measure_file(folder / "with-brace" / "walk-1.c3d", MeasureOptions(standing=standing))
    expected = walk_values(walk.rows).set_index(["measure", "side"])["value"]
    study = open_study(imported)
    with study.read() as connection:
        query = select(TRIAL_MEAN).join(TRIAL).where(TRIAL.c.sha256 == walk.trial.provenance.sha256)
        rows = connection.execute(query).mappings().all()
    study.close()
    found = {(r["measure"], r["side"]): np.nan if r["value"] is None else r["value"] for r in rows}
    assert set(found) == set(expected.index)
    for key, value in found.items():
        np.testing.assert_equal(value, expected[key])


def test_a_second_run_changes_nothing(study, people):
    """The same bytes are known; no row and no file is added."""
    before = originals.kept_files(study.folder)
    rows = run(study, people)
    assert {row.state for row in rows.values()} == {"known"}
    assert originals.kept_files(study.folder) == before


def test_the_same_bytes_under_another_name_are_known(study, visit):
    """A renamed copy in its own condition is not counted twice."""
    (visit / "with-brace" / "walk-1.c3d").rename(visit / "with-brace" / "copy.c3d")
    row = run(study, visit)["P01/visit-1/with-brace/copy"]
    assert row.state == "known" and "with-brace/walk-1" in row.message


def test_the_same_bytes_in_another_condition_are_refused(study, visit):
    """One recording cannot be with and without the brace."""
    source = visit / "with-brace" / "walk-1.c3d"
    shutil.copy(source, visit / "without-brace" / "walk-9.c3d")
    row = run(study, visit)["P01/visit-1/without-brace/walk-9"]
    assert row.state == "refused" and "already stand for P01/visit-1/with-brace" in row.message


def test_two_files_for_one_trial_are_refused(study, visit):
    """Other bytes under a known name do not replace what is there."""
    write_walk(visit / "with-brace" / "walk-1.c3d", seed=999)
    row = run(study, visit)["P01/visit-1/with-brace/walk-1"]
    assert row.state == "refused" and "Two files for one trial" in row.message
    assert verify(study) == []


def test_visits_that_contradict_each_other_are_refused_from_the_second_on(empty, people, tmp_path):
    """Also where both were looked at before any was stored, as with several processes."""
    folder = shutil.copytree(people, tmp_path / "given")
    reword(folder / "P01" / "visit-1", 'standing_trial = "standing/with-brace.c3d"', "")
    shutil.rmtree(folder / "P01" / "visit-1" / "standing")  # it would be stored before all walks
    reword(folder / "P01" / "visit-2", 'affected_side = "left"', 'affected_side = "right"')
    reword(folder / "P01" / "visit-2", 'orthosis_side = "left"', 'orthosis_side = "right"')
    rows = run(empty, folder, measure_all=lambda ahead: map(measure_to_keep, list(ahead)))
    states = {row.place.split("/")[1]: row.state for row in rows.values() if row.place}
    assert states == {"visit-1": "added", "visit-2": "refused"}


def test_what_others_store_meanwhile_is_asked_about_again(empty, visit):
    """A second import writes between two files of the first: no place is filled twice."""
    rows = import_files(empty, plan_folders([visit]), who="first")
    assert next(row for row in rows if row.state == "added").place.endswith("standing/with-brace")
    others = run(empty, visit / "with-brace" / "walk-1.c3d", visit / "without-brace")
    assert {row.state for row in others.values()} == {"added", "known"}
    states = {row.place.removeprefix("P01/visit-1/"): row.state for row in rows}
    assert states.pop("with-brace/walk-2") == "added" and set(states.values()) == {"known"}
    assert verify(empty) == []


def test_a_bad_file_costs_its_own_row(empty, visit):
    """The rest goes in; the message names the file, nothing of it is kept."""
    (visit / "with-brace" / "walk-2.c3d").write_bytes(b"no recording")
    rows = run(empty, visit)
    assert rows["P01/visit-1/with-brace/walk-2"].state == "refused"
    assert "walk-2.c3d" in rows["P01/visit-1/with-brace/walk-2"].message
    assert sum(row.state == "added" for row in rows.values()) == 4
    assert verify(empty) == []


def test_walks_without_their_standing_trial_are_refused(empty, visit):
    """A standing trial that is named, but bad or not there, is never silently left out."""
    (visit / "standing" / "with-brace.c3d").write_bytes(b"no recording")
    bad = run(empty, visit)["P01/visit-1/with-brace/walk-1"]
    (visit / "standing" / "with-brace.c3d").unlink()
    missing = run(empty, visit)["with-brace/walk-1.c3d"]
    assert bad.state == missing.state == "refused"
    assert "standing trial was refused" in bad.message
    assert "is not there" in missing.message


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('orthosis_side = "left"\n', "", "not on which side"),
        ('orthosis_side = "left"', 'orthosis_side = "right"', "on the right, the affected side"),
        ('affected_side = "left"', 'affected_side = "lft"', "affected_side is 'lft'"),
        ('sex = "female"', 'sexx = "female"', "Unknown: sexx"),
        ("number = 1", 'number = "one"', "Write a whole number"),
        ('code = "P01"', 'code = "P02"', "the folder 'P01'"),
        ("[visit]", "[visit", "cannot be read"),
    ],
)
def test_bad_words_beside_the_files_are_refused(empty, visit, old, new, words):
    """Each mistake in a conditions file has its message, and nothing of that visit goes in."""
    reword(visit, old, new)
    rows = run(empty, visit)
    walks = [row for row in rows.values() if row.path.parent.name == "with-brace"]
    assert walks and {row.state for row in walks} == {"refused"}
    assert all(words in row.message for row in walks)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('sex = "female"', 'sex = "male"'),
        ("height_cm = 170", "height_cm = 171"),
        ('footwear = "shoe"', 'footwear = "boot"'),
    ],
)
def test_what_contradicts_the_study_is_refused(study, visit, old, new):
    """Facts of person, visit and condition are never overwritten by an import."""
    reword(visit, old, new)
    write_walk(visit / "with-brace" / "walk-7.c3d", seed=77)
    row = run(study, visit)["P01/visit-1/with-brace/walk-7"]
    assert row.state == "refused" and "in the study" in row.message


def test_a_missing_fact_is_filled_in_and_recorded(study, visit):
    """What was not known becomes known with the next file."""
    reword(visit, "[visit]", '[visit]\ncomfort = "good"')
    write_walk(visit / "with-brace" / "walk-7.c3d", seed=77)
    assert run(study, visit)["P01/visit-1/with-brace/walk-7"].state == "added"
    assert facts_of_row(study, VISIT)["comfort"] == "good"


def test_an_unknown_person_needs_a_word(empty, tmp_path):
    """Without a description a code may be a slip: it is refused until new people are allowed."""
    folder = tmp_path / "plain" / "P77" / "visit-1" / "without-brace"
    folder.mkdir(parents=True)
    write_walk(folder / "walk-1.c3d")
    place = "P77/visit-1/without-brace/walk-1"
    refused = run(empty, tmp_path / "plain")[place]
    assert refused.state == "refused" and "Unknown person 'P77'" in refused.message
    assert run(empty, tmp_path / "plain", new_people=True)[place].state == "added"


def test_a_dry_run_says_the_same_and_writes_nothing(visit, tmp_path):
    """Also for a study that does not exist yet, and for bad files."""
    (visit / "with-brace" / "walk-2.c3d").write_bytes(b"no recording")
    said = run(None, visit, dry_run=True)
    study = create_study(tmp_path / "new")
    again = run(study, visit, dry_run=True)
    assert originals.kept_files(study.folder) == []
    with study.read() as connection:
        assert connection.execute(select(PERSON)).first() is None
    done = run(study, visit)
    study.close()
    states = {place: row.state for place, row in done.items()}
    for foretold in (said, again):
        assert {
            place: row.state.replace("would add", "added") for place, row in foretold.items()
        } == states


@pytest.mark.parametrize("at_once", [1, AT_ONCE])
def test_a_full_disk_while_copying_is_said_and_a_rerun_completes(
    empty, visit, monkeypatch, at_once
):
    """No half file and no row without its original stays behind."""
    real, calls = originals.os.fsync, []

    def full(handle):
        calls.append(handle)
        if len(calls) == 5:
            raise OSError(28, "No space left on device")
        real(handle)

    monkeypatch.setattr(originals.os, "fsync", full)
    with pytest.raises(StudyError, match="disk is full"):
        run(empty, visit, at_once=at_once)
    assert not list(empty.folder.rglob("*.part"))
    monkeypatch.setattr(originals.os, "fsync", real)
    assert verify(empty) == []
    states = {row.state for row in run(empty, visit).values()}
    assert states == {"known", "added"} and verify(empty) == []


def test_walks_that_go_in_together_are_as_those_one_by_one(empty, visit, tmp_path, monkeypatch):
    """The same rows, history and results by fewer changes; one that is refused costs its own.

    Its bytes are then as new to the next place that has them.
    """
    single = create_study(tmp_path / "single")
    path, real = visit / "with-brace" / "walk-2.c3d", adding.keep_original
    shutil.copy(path, visit / "without-brace" / "walk-3.c3d")

    def refuses(folder, source, sha256):
        return real(folder, source, "0" * 64 if source == path else sha256)

    monkeypatch.setattr(adding, "keep_original", refuses)
    monkeypatch.setattr(together, "_LONGEST_S", 3600.0)  # however slow this machine is
    found, n_changes = [], []
    for study, at_once in ((single, 1), (empty, AT_ONCE)):
        ends = []
        monkeypatch.setattr(store, "keep_end", lambda *_, ends=ends: ends.append(1))
        rows = run(study, visit, at_once=at_once)
        assert rows["P01/visit-1/with-brace/walk-2"].state == "refused"
        assert rows["P01/visit-1/without-brace/walk-3"].state == "added"
        with study.read() as connection:
            told = [(row["what"], row["after"]) for row in entries(connection)]
            sums = connection.execute(select(TRIAL.c.code, RESULT.c.means_checksum).join(RESULT))
            found.append((rows, told, sums.all()))
        n_changes.append(len(ends))
        assert verify(study) == []
    assert found[0] == found[1] and n_changes[1] < n_changes[0]
    monkeypatch.setattr(adding, "keep_original", real)
    again = run(empty, visit, at_once=AT_ONCE)
    other = again.pop("P01/visit-1/with-brace/walk-2")
    assert "without-brace/walk-3" in other.message and verify(empty) == []
    assert {row.state for row in again.values()} == {"known"}
    single.close()


def test_a_file_that_changes_while_it_is_read_is_refused(empty, visit):
    """No result ever stands beside other bytes than those it was made from."""
    path = visit / "with-brace" / "walk-1.c3d"

    def measure_and_change(recordings):
        for recording in recordings:
            result = measure_to_keep(recording)
            if recording.file.path == path:
                write_walk(path, seed=999)
            yield result

    row = run(empty, visit, measure_all=measure_and_change)["P01/visit-1/with-brace/walk-1"]
    assert row.state == "refused" and "changed while it was read" in row.message
    assert verify(empty) == []


@pytest.mark.parametrize("beside", ["standing/with-brace.c3d", "with-brace/walk-1.events.csv"])
def test_what_goes_with_a_walk_is_what_its_hash_was_taken_of(empty, visit, beside):
    """A standing trial or a table swapped while the walk is measured, and put back: refused."""
    own = "time_s,side,kind\n0.4,left,initial contact\n1.5,left,initial contact\n"
    (visit / "with-brace" / "walk-1.events.csv").write_text(own)
    meant, other = visit / beside, visit / "without-brace" / "walk-1.c3d"
    swapped = other.read_bytes() if meant.suffix == ".c3d" else own.replace("1.5", "1.6").encode()

    def measure_the_swapped(recordings):
        for recording in recordings:
            right, found = meant.read_bytes(), meant.stat()
            meant.write_bytes(swapped)
            result = measure_to_keep(recording)
            meant.write_bytes(right)
            os.utime(meant, ns=(found.st_atime_ns, found.st_mtime_ns))
            yield result

    rows = run(empty, visit, measure_all=measure_the_swapped)
    row = rows["P01/visit-1/with-brace/walk-1"]
    assert row.state == "refused" and "not the one that was looked at before" in row.message, row
    assert rows["P01/visit-1/without-brace/walk-1"].state == "added" and verify(empty) == []


def test_import_works_the_same_on_each_database(tmp_path, visit, database):
    """One code for SQLite and PostgreSQL."""
    study = create_study(tmp_path / "other", url=database)
    assert {row.state for row in run(study, visit).values()} == {"added"}
    assert {row.state for row in run(study, visit).values()} == {"known"}
    assert verify(study) == [] and stale_trials(study) == []
    study.close()


def test_a_walk_of_another_person_is_asked_about(people, tmp_path):
    """Shanks 70 mm shorter are stored only when somebody says that the person is the same."""
    visit = shutil.copytree(people / "P01" / "visit-2", tmp_path / "P01" / "visit-2")
    stranger = visit / "without-brace" / "walk-9.c3d"
    write_walk(stranger, seed=7, recipe=replace(RECIPE, body=replace(RECIPE.body, shank_m=0.35)))
    study = create_study(tmp_path / "study")
    place = "P01/visit-2/without-brace/walk-9"
    assert run(study, people / "P01" / "visit-1")
    for dry_run in (True, False):
        rows = run(study, visit, dry_run=dry_run)
        assert rows.pop(place).state == "asked about"
        assert {row.state for row in rows.values()} == {"would add" if dry_run else "added"}
    (row,) = (r for r in run(study, visit).values() if r.state != "known")
    assert row.state == "asked about" and "shank" in row.message and "--same-person" in row.message
    assert run(study, visit, same_person=True)[place].state == "added"
    assert run(study, visit)[place].state == "known"
    study.close()


def test_a_recording_in_a_second_format_counts_once(empty, visit):
    """It is refused, by name, in one run and in a later one, until the first is taken out."""
    first, table = visit / "with-brace" / "walk-1.c3d", visit / "with-brace" / "walk-9.csv"
    exported_again(first, table)
    place, other = f"P01/visit-1/with-brace/{table.stem}", "P01/visit-1/with-brace/walk-1"
    for options in ({"dry_run": True}, {}, {}):
        rows = run(empty, visit, **options)
        refused = [row.place for row in rows.values() if row.state == "refused"]
        assert refused == [place] and other in rows[place].message
    words = rows[place].message.partition("gaittrack ")[2].partition(",")[0]
    advised = shlex.split(words.replace("TEXT", "x").replace("DIR", str(empty.folder)))
    assert CliRunner().invoke(main, advised).exit_code == 0
    assert run(empty, visit)[place].state == "added"


def test_a_header_that_names_somebody_else_of_the_study_is_asked_about(empty, tmp_path):
    """Above a sheet and in a C3D file alike; a name that nobody of the study has says nothing."""
    said = {"P01": "P02", "P02": "p-02", "P03": "Ann Smith"}
    for person, name in said.items():
        folder = tmp_path / person / "v1" / "none"
        folder.mkdir(parents=True)
        content = sheet(ord(person[-1]))
        (folder / "a.csv").write_text(f"Subject ID,{name}\n{content}")
        walk = simulate_walk(RECIPE, seed=ord(person[-1])).trial
        subject = {"SUBJECTS": {"NAMES": [name]}}
        path = folder / "b.c3d"
        write_c3d(path, rate_hz=walk.rate_hz, markers=walk.markers, parameters=subject)
    rows = run(empty, tmp_path, new_people=True)
    asked = {place for place, row in rows.items() if row.state == "asked about"}
    assert asked == {"P01/v1/none/a", "P01/v1/none/b"}
    assert "names P02" in rows["P01/v1/none/a"].message
    assert all("Ann" not in row.message for row in rows.values())
    assert {rows[f"P0{n}/v1/none/{name}"].state for n in (2, 3) for name in "ab"} == {"added"}
    again = run(empty, tmp_path, new_people=True, same_person=True)
    assert {again[place].state for place in asked} == {"added"}

"""What was changed in a stored result is found, said, never used, and mended by measuring again."""

import numpy as np
import pandas as pd
import pytest
from sqlalchemy import select, text, update

from dashboards.parts.last_comparisons import CompareMemory
from gaittrack.cohort.asking.view import read_cohort
from gaittrack.cohort.export import ExportOptions
from gaittrack.cohort.kept.compared import ANSWERS, told_of_person
from gaittrack.cohort.kept.kept_changes import ABOUT
from gaittrack.cohort.people.from_study import cohort_source
from gaittrack.cohort.study_export import export_study
from gaittrack.commands.study_changes import run_recompute
from gaittrack.errors import StudyError
from gaittrack.study.checksums import DAMAGED, checksums
from gaittrack.study.people.facts import facts_of_person
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.overview import waiting_of
from gaittrack.study.recordings.planning import plan_folders
from gaittrack.study.recordings.reviewing import trials_of_person
from gaittrack.study.results.compared_trials import compared_trials
from gaittrack.study.results.comparing import compare_stored, conditions_of, damaged_of
from gaittrack.study.results.first_choice import ComparisonChoice
from gaittrack.study.results.follow import follow_person
from gaittrack.study.results.keeping import recompute, stale_trials
from gaittrack.study.store import create_study
from gaittrack.study.tables import EVENT, KEPT_CHANGES, RESULT, TRIAL_MEAN
from gaittrack.study.upkeep.verifying import verify
from tests.correcting import exclude_stride, move_event
from tests.study.conftest import WALK

NOT_SEALED = {"id", "trial_id", "measured_utc"}
SAID = [
    (table, column.name)
    for table in (RESULT, EVENT, TRIAL_MEAN)
    for column in table.c
    if column.name not in NOT_SEALED
]
OTHER = {float: lambda old: old + 25.0, int: lambda old: old + 1, str: lambda old: f"{old} "}


def raised(blob):
    """Return the numbers of a result, each 25 more."""
    return (np.frombuffer(blob, dtype="<f4") + np.float32(25)).astype("<f4").tobytes()


def change(study, trial, table, name):
    """Change one column of one row, as a slip of a hand in the database does."""
    with study.write() as connection:
        row = connection.execute(
            select(table).where(table.c.trial_id == trial.id, table.c[name].is_not(None))
        )
        row = row.mappings().first()
        old = row[name]
        new = raised(old) if isinstance(old, bytes) else OTHER[type(old)](old)
        key = [column == row[column.name] for column in table.primary_key]
        done = connection.execute(update(table).where(*key).values({name: new}))
        assert done.rowcount == 1


@pytest.mark.parametrize(("table", "name"), SAID, ids=lambda each: getattr(each, "name", each))
def test_whatever_is_changed_is_found_and_mended(study, trial_at, table, name):
    """Each column of a result, its events and walk values: verify names the walk, no other."""
    trial = trial_at(study)
    change(study, trial, table, name)
    assert verify(study) == [f"{WALK}: {DAMAGED}"]
    stale = [one for one, _ in stale_trials(study, is_thorough=True)]
    assert [one.place for one in stale] == [WALK]
    assert len(list(recompute(study, stale, who="Ada"))) == 1
    assert verify(study) == [] and stale_trials(study) == []


@pytest.mark.parametrize("table", [EVENT, TRIAL_MEAN], ids=lambda table: table.name)
def test_a_row_that_is_gone_is_found(study, trial_at, table):
    """One event or one walk value less is damage too."""
    trial = trial_at(study)
    with study.write() as connection:
        row = connection.execute(select(table).where(table.c.trial_id == trial.id)).mappings()
        key = [column == row[column.name] for row in [row.first()] for column in table.primary_key]
        connection.execute(table.delete().where(*key))
    assert verify(study) == [f"{WALK}: {DAMAGED}"]


def test_results_that_changed_places_are_found(study, trial_at):
    """A result whole in itself, but of another file, does not hold."""
    one, other = trial_at(study), trial_at(study, "P01/visit-1/with-brace/walk-2")
    with study.write() as connection:
        for before, after in ((one.id, -1), (other.id, one.id), (-1, other.id)):
            moved = update(RESULT).where(RESULT.c.trial_id == before)
            if connection.dialect.name == "sqlite":
                connection.execute(text("PRAGMA defer_foreign_keys = ON"))
            connection.execute(moved.values(trial_id=after))
    assert [fault.partition(":")[0] for fault in verify(study)] == [one.place, other.place]


def conditions(study):
    return [each.id for each in conditions_of(study, 1) if each.visit == "visit-1"]


def compared(study):
    chosen = conditions(study)
    return compare_stored(study, chosen, reference=chosen[0])


def test_numbers_raised_by_25_are_not_compared(study, trial_at):
    """The walk is left out and named; the others are compared as without it."""
    trial, rest = trial_at(study), conditions(study)
    choice, memory = ComparisonChoice(tuple(rest), rest[0]), CompareMemory()
    whole, before = memory.compared(study, choice), damaged_of(study, rest)
    assert memory.compared(study, choice) is whole
    change(study, trial, RESULT, "numbers")
    found = memory.compared(study, choice)
    assert before == frozenset() and damaged_of(study, rest) == found.damaged == {trial.id}
    assert memory.compared(study, choice) is found
    assert len(found.records) == len(whole.records) - 1
    assert trial.id not in found.trial_ids.values()
    why = {each.trial.id: each.why_not for each in compared_trials(study, found)}
    assert why[trial.id] == str(DAMAGED) and set(why.values()) == {"", str(DAMAGED)}
    mine = [w for w in whole.records if w.walk_id in found.trial_ids]
    for one, other in zip(found.records, mine, strict=True):
        for key, table in one.tables.items():
            np.testing.assert_array_equal(table.values, other.tables[key].values)


def test_a_condition_with_nothing_else_says_so(study, trial_at):
    """When the reference has no other walk, the reason is the damage and not that it has none."""
    for number in (1, 2):
        change(study, trial_at(study, f"P01/visit-1/with-brace/walk-{number}"), RESULT, "layout")
    with pytest.raises(StudyError, match="damaged and not used") as said:
        compared(study)
    assert "recompute" in str(said.value) and "with-brace" in str(said.value)


def test_damage_stops_neither_following_nor_the_cohort(study, trial_at):
    """Both go on with the other walks and say which is left out; nothing of it is kept."""
    trial = trial_at(study)
    change(study, trial, RESULT, "facts")
    followed = follow_person(study, "P01")
    assert followed.stale == (f"{WALK}: {DAMAGED}",) and followed.rows
    n_walks = {(row.visit, row.condition): row.n_walks for row in followed.rows}
    assert n_walks["visit-1", "with-brace"] == 1 and n_walks["visit-2", "with-brace"] == 2
    source = cohort_source(study)
    assert dict(source.damaged) == {("P01", "visit-1", "with-brace"): 1}
    assert len(source.walks) == 7
    for _ in range(2):
        view = read_cohort(study)
        assert "1 walk left out" in view.problems["P01"] and len(view.changes)
    with study.read() as connection:
        assert connection.execute(select(KEPT_CHANGES)).all() == []
    list(recompute(study, [trial], who="Ada"))
    assert read_cohort(study).problems == {}


def test_an_export_goes_on_and_says_what_it_leaves_out(study, trial_at, tmp_path):
    """The rows of the condition are flagged, and the README counts the walks."""
    change(study, trial_at(study), RESULT, "numbers")
    options = ExportOptions(override_reason="a test")
    export_study(study, tmp_path / "out", who="Ada", options=options)
    table = pd.read_csv(tmp_path / "out" / "values_long.csv")
    flagged = table["qc_flag"] == "damaged_left_out"
    assert flagged.any() and not flagged.all()
    words = (tmp_path / "out" / "README.md").read_text()
    assert "stored results are damaged: 1;" in words


def test_a_refusal_that_appears_does_not_hide_a_walk(study, trial_at):
    """A walk whose result says by mistake that the file was refused is damaged, not left out."""
    trial = trial_at(study)
    change(study, trial, RESULT, "refusal")
    assert follow_person(study, "P01").n_stale == 1
    assert sum(cohort_source(study).damaged.values()) == 1
    why = [each.why_not for each in compared_trials(study, compared(study)) if each.why_not]
    assert why == [str(DAMAGED)]


def test_lists_of_walks_say_it(study, trial_at):
    """The walk waits to be measured again; its words are not read."""
    trial = trial_at(study)
    change(study, trial, RESULT, "problems")
    with study.read() as connection:
        (one,) = [one for one in trials_of_person(connection, 1) if one.trial.id == trial.id]
    assert one.reasons == (DAMAGED,)
    assert waiting_of(study, 1).stale == (trial.id,)


def test_a_correction_of_a_damaged_walk_is_refused(study, trial_at):
    """What is found in the stored strides and events would be wrong; measured again it goes."""
    trial = trial_at(study)
    with study.read() as connection:
        query = select(EVENT.c.time_s, EVENT.c.side, EVENT.c.kind)
        time_s, side, kind = connection.execute(query.where(EVENT.c.trial_id == trial.id)).first()
    change(study, trial, EVENT, "time_s")
    for correct in (
        lambda: move_event(study, trial, side, kind, time_s, 1.0, who="Ada", why="seen"),
        lambda: exclude_stride(study, trial, "left-01", who="Ada", why="stumbled"),
    ):
        with pytest.raises(StudyError, match="damaged"):
            correct()
    list(recompute(study, [trial], who="Ada"))
    exclude_stride(study, trial_at(study), "left-01", who="Ada", why="stumbled")
    assert verify(study) == []


def test_recompute_mends_without_being_told_which(study, trial_at, capsys):
    """The command finds damage that no screen reads, too."""
    change(study, trial_at(study), TRIAL_MEAN, "value")
    assert run_recompute(study, only_list=True, who="Ada") == 0
    assert capsys.readouterr().out == f"{WALK}: {DAMAGED}\n1 stale\n"
    assert run_recompute(study, who="Ada") == 0
    assert verify(study) == []


def test_kept_changes_that_were_changed_are_made_anew(study):
    """Whichever part it is: it is not shown, and verify says so until somebody looks at it."""
    first = read_cohort(study)
    person = facts_of_person(study, 1)
    sentences = [own[0].sentences() for own in told_of_person(study, person, ())[0].values()]
    for part in (ABOUT, ANSWERS, "mid_swing_dorsiflexion_deg"):
        with study.write() as connection:
            wanted = KEPT_CHANGES.c.part == part
            kept = connection.execute(select(KEPT_CHANGES.c.content).where(wanted)).scalar_one()
            connection.execute(update(KEPT_CHANGES).where(wanted).values(content=kept[:-8]))
        (fault,) = verify(study)
        assert fault.startswith("P01: what was kept"), part
        assert read_cohort(study).changes.equals(first.changes), part
        again = told_of_person(study, person, ())[0]
        assert [own[0].sentences() for own in again.values()] == sentences, part
        assert verify(study) == [], part


def test_checksums_hold_on_every_database(people, tmp_path, database):
    """Numbers and text come back as they were kept; a changed one is found."""
    study = create_study(tmp_path / "study", url=database)
    list(import_files(study, plan_folders([people / "P01" / "visit-2"]), who="Ada"))
    assert verify(study) == []
    with study.write() as connection:
        first = connection.execute(select(TRIAL_MEAN)).mappings().first()
        mine = [column == first[column.name] for column in TRIAL_MEAN.primary_key]
        connection.execute(update(TRIAL_MEAN).where(*mine).values(n_defined=99))
    (fault,) = verify(study)
    assert fault.endswith(str(DAMAGED))
    study.close()


def test_zero_has_no_sign_and_rows_no_order():
    """One database keeps no minus before zero, none promises an order: neither is damage."""
    result = dict.fromkeys(("software_version", "settings_hash", "refusal", "problems"), "")
    result |= {"facts": "{}", "cycles": "[]", "layout": "{}", "numbers": b""}
    event = ("left", "initial contact", "marks", None)
    times = [-0.0, 1.5], [1.5, 0.0], [0.0, 1.25]
    one, same, other = (
        checksums("a", result, [(time, *event) for time in own], ()) for own in times
    )
    assert one == same != other

"""What a screen shows of a cohort is what an export of the same people holds."""

import io
import json
import math
import shutil
import zipfile
from contextlib import closing, suppress
from dataclasses import replace

import click
import numpy as np
import pandas as pd
import pytest
from scipy import stats
from sqlalchemy import delete, insert

from gaittrack.cohort.asking.answering import answer_cohort
from gaittrack.cohort.asking.beside import beside
from gaittrack.cohort.asking.declared import declaration_of
from gaittrack.cohort.asking.mean_curves import cohort_curve
from gaittrack.cohort.asking.question import CohortQuestion
from gaittrack.cohort.asking.view import (
    choices,
    is_current,
    protection,
    read_cohort,
    selected_changes,
    selected_statistics,
)
from gaittrack.cohort.export import ExportOptions, _fewer_readers
from gaittrack.cohort.kept import compared
from gaittrack.cohort.people.deidentify import deidentify
from gaittrack.cohort.people.from_study import cohort_source
from gaittrack.cohort.release.releases import releases_of
from gaittrack.cohort.study_export import export_study, export_zip
from gaittrack.cohort.tables import tables_of_person
from gaittrack.cohort.tables.changes import change_table
from gaittrack.cohort.tables.reason_cells import unpacked
from gaittrack.cohort.tables.selection import EVERYBODY, Selection
from gaittrack.commands.cohort_text import run_cohort
from gaittrack.compare.measurement_error.marker_errors import SPEED_MEASURE
from gaittrack.errors import StudyError
from gaittrack.simulate.c3d_writer import write_c3d
from gaittrack.simulate.walk import simulate_walk
from gaittrack.study.history import entries, record
from gaittrack.study.laboratory import OUTCOMES, put_setting, set_setting
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import plan_folders
from gaittrack.study.results.comparing import compare_stored, conditions_of
from gaittrack.study.results.keeping import find_trial
from gaittrack.study.store import create_study, open_study
from gaittrack.study.tables import PERSON, VISIT
from gaittrack.study.upkeep.erasing import erase_person
from tests.cohort.made_up_cohort import SWING, cohort
from tests.cohort.whole_source import export_cohort, select_source
from tests.correcting import exclude_stride
from tests.made_up_files import RECIPE, write_walk

CLEARANCE = "minimum_toe_clearance_mm"
PEOPLE = {"Ada-17": ("female", "stroke", 44), "Bo-18": ("male", "peripheral nerve palsy", 61)}
VISITS = {"v1": ("2024-03-17", "first visit"), "v2": ("2024-05-17", "follow-up")}
TEXT = """
[person]
sex = "{sex}"
cause = "{cause}"
affected_side = "left"
age_years = {age}

[visit]
date = {date}
kind = "{kind}"

[conditions.without]
orthosis = "none"
footwear = "shoe"

[conditions.with]
orthosis = "ankle-foot orthosis"
orthosis_class = "solid"
orthosis_side = "left"
footwear = "shoe"
"""


@pytest.fixture(scope="module")
def study(tmp_path_factory):
    """Make two people; the first comes twice."""
    root = tmp_path_factory.mktemp("people")
    seed = 500
    for person, (sex, cause, age) in PEOPLE.items():
        for visit, (date, kind) in list(VISITS.items())[: 2 if person == "Ada-17" else 1]:
            folder = root / person / visit
            text = TEXT.format(sex=sex, cause=cause, age=age, date=date, kind=kind)
            for condition in ("without", "with"):
                (folder / condition).mkdir(parents=True)
                for walk in (1, 2):
                    seed += 1
                    write_walk(folder / condition / f"walk-{walk}.c3d", seed=seed)
            (folder / "conditions.toml").write_text(text)
    made = create_study(tmp_path_factory.mktemp("study") / "study")
    rows = list(import_files(made, plan_folders([root]), who="tester"))
    assert {row.state for row in rows} == {"added"}, rows
    yield made
    made.close()


@pytest.fixture(scope="module")
def view(study):
    return read_cohort(study)


def comparable(changes, names):
    plain = changes.astype({name: object for name in changes.select_dtypes("category")})
    plain = plain.assign(export_id=plain["export_id"].map(names) if names else plain["person"])
    keys = ["export_id", "visit_no", "side", "measure_id"]
    return plain.set_index(keys).sort_index().drop(columns="person", errors="ignore")


def test_the_changes_are_those_of_the_export(study, view):
    """Row for row and digit for digit, under the study's own codes."""
    clean, ids = deidentify(cohort_source(study))
    exported = comparable(change_table(clean), {new: old for old, new in ids.items()})
    shown = comparable(selected_changes(view), None)
    assert len(shown) > 100
    pd.testing.assert_frame_equal(
        shown[exported.columns], exported, check_dtype=False, check_index_type=False
    )


@pytest.fixture(scope="module")
def without_toes(tmp_path_factory):
    """Make a person whose walks with the brace have no toe markers."""
    visit = tmp_path_factory.mktemp("toes") / "Cy-19" / "v1"
    for seed, condition in enumerate(("without", "with")):
        (visit / condition).mkdir(parents=True)
        for walk in (1, 2):
            made = simulate_walk(RECIPE, seed=700 + 10 * seed + walk).trial
            seen = {k: xyz for k, xyz in made.markers.items() if not (seed and "toe" in k)}
            path = visit / condition / f"walk-{walk}.c3d"
            write_c3d(path, rate_hz=made.rate_hz, markers=seen)
    text = TEXT.format(sex="male", cause="stroke", age=50, date="2024-03-17", kind="first visit")
    (visit / "conditions.toml").write_text(text)
    made = create_study(tmp_path_factory.mktemp("toeless") / "study")
    rows = list(import_files(made, plan_folders([visit.parent.parent]), who="tester"))
    assert {row.state for row in rows} == {"added"}, rows
    yield made
    made.close()


def test_values_of_other_points_are_measured_again_as_in_a_single_comparison(without_toes):
    """Both conditions on the forefoot, said in the cell; the same for screen and export."""
    ids = {each.code: each.id for each in conditions_of(without_toes, 1)}
    stored = compare_stored(without_toes, list(ids.values()), reference=ids["without"])
    (alone,) = (
        row for row in stored.comparison.rows if (row.measure, row.side) == (CLEARANCE, "left")
    )
    clean, _ = deidentify(cohort_source(without_toes))
    for changes in (read_cohort(without_toes).changes, change_table(clean)):
        row = changes[(changes["measure_id"] == CLEARANCE) & (changes["side"] == "left")].iloc[0]
        assert row["difference"] == pytest.approx(alone.difference)
        assert row["verdict"] == alone.verdict
        assert "measured_again" in {reason.code for reason in unpacked(row["labels"])}


@pytest.mark.parametrize(
    ("selection", "places"),
    [
        (Selection(), {("Ada-17", 1), ("Ada-17", 2), ("Bo-18", 1)}),
        (Selection(sex=("male",)), {("Bo-18", 1)}),
        (Selection(cause=("stroke",)), {("Ada-17", 1), ("Ada-17", 2)}),
        (Selection(age_band=("60-69", "70-79")), {("Bo-18", 1)}),
        (Selection(visit_kind=("follow-up",)), {("Ada-17", 2)}),
        (Selection(visit_no=(1,)), {("Ada-17", 1), ("Bo-18", 1)}),
        (Selection(brace_classes=("jointed",)), set()),
        (Selection(sex=("male",), visit_no=(2,)), set()),
    ],
    ids=lambda value: value.words if isinstance(value, Selection) else "",
)
def test_a_selection_shows_those_who_fit_and_exports_the_same(study, view, selection, places):
    """Screen, what an export shows and its source agree on who is meant."""
    shown = selected_changes(view, selection)
    assert set(zip(shown["person"], shown["visit_no"], strict=True)) == places
    people = {person for person, _ in places}
    assert len(protection(view, selection, least_alike=1).people) == len(people)
    clean, ids = deidentify(cohort_source(study))
    kept = select_source(clean, selection)
    assert {(walk.person, int(walk.visit)) for walk in kept.walks} == {
        (ids[person], visit) for person, visit in places
    }
    assert set(kept.people["person"]) == {ids[person] for person in people}
    for name in ("people", "visits", "exclusions"):
        table = getattr(kept, name)
        assert list(table.index) == list(range(len(table)))
        assert list(table.columns) == list(getattr(clean, name).columns)


def test_numbers_and_days_stay_those_of_the_study(study):
    """The second visit alone is still visit 2, 61 days after the first."""
    clean, _ = deidentify(cohort_source(study))
    (row,) = select_source(clean, Selection(visit_no=(2,))).visits.to_dict("records")
    assert (row["visit"], row["days_since_first_visit"]) == ("2", 61)


def test_measures_sides_and_pairs_are_selected(view):
    """One measure of the affected side in one pair of conditions: one row per visit."""
    pair = ("orthosis_shod", "no-orthosis_shod")
    found = selected_changes(view, measures=(SWING,), side_roles=("affected",), pair=pair)
    assert len(found) == 3
    assert selected_changes(view, pair=pair[::-1]).empty
    (row,) = selected_statistics(view, Selection(visit_no=(1,)), measures=(SWING,)).to_dict(
        "records"
    )[:1]
    own = found.loc[found["visit_no"] == 1, "difference"]
    assert row["mean_difference"] == pytest.approx(own.mean())


@pytest.mark.parametrize("measure", [SWING, SPEED_MEASURE])
def test_the_statistics_of_one_side_and_pair_are_those_among_all(view, measure):
    """The same row, also of the model that holds speed constant: speed is that of both sides."""
    pair = ("orthosis_shod", "no-orthosis_shod")
    every = selected_statistics(view, measures=(measure,))
    for role in ("affected", "other"):
        own = selected_statistics(view, measures=(measure,), side_roles=(role,), pair=pair)
        is_it = (every["side_role"] == role) & (every["condition_code"] == pair[0])
        is_it &= every["reference_code"] == pair[1]
        pd.testing.assert_frame_equal(own, every[is_it].reset_index(drop=True))
        assert len(own) == 1
    assert selected_statistics(view, measures=(measure,), side_roles=("neither",)).empty


@pytest.mark.parametrize("chosen", [EVERYBODY, Selection(visit_no=(2,)), Selection(sex=("none",))])
def test_missing_are_those_who_are_meant_without_a_value(view, chosen):
    """Everybody who is meant is counted once, as the export counts them."""
    table = selected_statistics(view, chosen, measures=(SWING,))
    n_people = len(select_source(view.source, chosen).people)
    counts = [name for name in table if name.startswith("n_") and name != "n_people"]
    assert (table[counts].sum(axis=1) == n_people).all()
    assert bool(len(table)) == (n_people > 0)


def test_the_command_says_what_the_screen_says(study, view, capsys, tmp_path):
    """Mean, sentence and rows are those of the answer; JSON has no number that JSON lacks."""
    pair = ("orthosis_shod", "no-orthosis_shod")
    asked = {"measure": SWING, "conditions": None, "side_role": "affected", "all_visits": False}
    rows = tmp_path / "rows.csv"
    run_cohort(study, **asked, with_beside=True, as_json=True, rows=rows, sex=())
    told = json.loads(capsys.readouterr().out)
    question = CohortQuestion(Selection(visit_no=(1,)), SWING, "affected", pair)
    answer = answer_cohort(view, question)
    assert (told["mean"], told["low"], told["high"]) == answer.mean
    assert told["mean"] == pytest.approx(answer.changes["difference"].mean())
    assert told["answer"]["words"] == str(answer.say())
    assert told["who"] == "everybody, affected side, visit 1"
    assert told["beside"]["missing"]["n_left_out"] == 0
    assert list(pd.read_csv(rows)["Person"]) == list(answer.changes["person"])
    run_cohort(study, **asked, with_beside=True, as_json=False, rows=None, sex=("male",))
    said = capsys.readouterr().out
    assert "male, affected side, visit 1" in " ".join(said.split())
    assert max(map(len, said.splitlines())) <= 100, "a terminal is no wider"
    run_cohort(
        study, **asked | {"side_role": "not recorded"}, with_beside=True, as_json=False, rows=None
    )
    assert " ".join(capsys.readouterr().out.split()).count("or without such a side") == 2
    nothing = {"with_beside": False, "as_json": False}
    with pytest.raises(StudyError, match="sex: .* femal. Choose among: female, male"):
        run_cohort(study, **asked, **nothing, rows=None, sex=("femal",))
    with pytest.raises(click.UsageError, match="no folder for it"):
        run_cohort(study, **asked, **nothing, rows=tmp_path / "none" / "rows.csv")
    with pytest.raises(click.UsageError, match="There are: .*peak_swing_dorsiflexion_deg"):
        run_cohort(
            study, **asked | {"measure": "swing"}, with_beside=False, as_json=False, rows=None
        )


@pytest.fixture
def own_study(study, tmp_path):
    """Copy the study for a test that changes it."""
    shutil.copytree(study.folder, tmp_path / "study")
    with closing(open_study(tmp_path / "study")) as own:
        yield own


def test_declared_outcomes_are_told_with_when_by_whom_and_how_often(own_study, tmp_path):
    """The primary one first; each is the mean, interval and p of its own answer."""
    view, pair = read_cohort(own_study), ("orthosis_shod", "no-orthosis_shod")
    answer = answer_cohort(view, CohortQuestion(Selection(visit_no=(1,)), SWING, "affected", pair))
    nothing = beside(view, answer)
    assert nothing.outcomes == () and nothing.declaration.n_changes == 0
    path = tmp_path / "outcomes.toml"
    for who, primary in (("one", SWING), ("two", SPEED_MEASURE)):
        second = CLEARANCE if who == "one" else SWING
        path.write_text(f'primary = "{primary}"\nsecondary = ["{second}"]\n')
        set_setting(own_study, OUTCOMES, path, who=who, why="a test")
    with own_study.read() as connection:
        last = entries(connection)[-1]
    found = beside(view, answer)
    told = found.declaration
    assert (told.since, told.who, told.n_changes) == (last["utc"], "two", 2)
    speed, swing = found.outcomes
    assert (speed.measure, speed.is_primary) == (SPEED_MEASURE, True)
    own = answer.differences.to_numpy(dtype=float)
    assert (swing.n_people, swing.mean, swing.low, swing.high) == (2, *answer.mean)
    half = (swing.high - swing.low) / 2
    assert swing.p == pytest.approx(
        2 * stats.t.sf(abs(own.mean()) / (half / stats.t.isf(0.025, 1)), 1)
    )
    alone = Selection(visit_no=(1,), sex=("male",))
    one = beside(view, answer_cohort(view, CohortQuestion(alone, SWING, "affected", pair)))
    assert all(math.isnan(each.p) for each in one.outcomes)
    with own_study.write() as connection:
        put_setting(connection, OUTCOMES, {}, who="three", why="a test")
    taken_back = declaration_of(own_study)
    assert (taken_back.since, taken_back.who, taken_back.outcomes.primary) == ("", "", "")


def test_the_mean_curve_is_that_of_one_change_per_person(study, view):
    """Mean of walks, with less without, at the first visit, affected side; two people: no band."""
    question = CohortQuestion(EVERYBODY, SWING, "affected", ("orthosis_shod", "no-orthosis_shod"))
    answer = answer_cohort(view, question)
    found = cohort_curve(study, answer, "ankle")
    sides = dict(zip(answer.first["person"], answer.first["side"], strict=True))
    means = {}
    for walk in cohort_source(study).walks:
        if walk.visit == "v1":
            curves = walk.record.curves[sides[walk.person], "ankle"]
            whole = curves[np.isfinite(curves).all(axis=1)].mean(axis=0)
            means.setdefault((walk.person, walk.record.condition), []).append(whole)
    changes = [
        np.mean(means[person, "with"], axis=0) - np.mean(means[person, "without"], axis=0)
        for person in sides
    ]
    assert found.band.mean == pytest.approx(np.mean(changes, axis=0))
    assert (found.people, found.left_out) == (("Ada-17", "Bo-18"), ())
    assert found.say().code == "curve_of_too_few" and found.stretches == ()
    many = replace(found, people=("A",) * 9, stretches=((0.0, 12.0), (60.0, 100.0)))
    assert "not 0 at 0 to 12 %, 60 to 100 % of the cycle (9 people" in str(many.say())


def test_every_word_of_the_choices_selects_somebody(view):
    """And together they are all there are."""
    for name, words in choices(view).items():
        for word in words:
            value = int(word) if name == "visit_no" else word
            is_alone = name == "condition_code"
            found = selected_changes(view, Selection(**{name: (value,)}))
            assert (len(found) == 0) is is_alone, (name, word)


def test_only_who_changed_is_compared_again(study, view, monkeypatch):
    """A stride is excluded: the view is out of date, one person is compared, as if anew."""
    assert is_current(view, study)
    before = selected_changes(view, measures=(SWING,), side_roles=("affected",))
    with study.read() as connection:
        trial = find_trial(connection, "Bo-18/v1/with/walk-1")
    exclude_stride(study, trial, "left-01", who="tester", why="stumbled")
    assert not is_current(view, study)
    seen = []
    again = read_cohort(study, progress=lambda done, of: seen.append((done, of)))
    assert seen == [(0, 1)]
    pd.testing.assert_frame_equal(
        comparable(again.changes, None), comparable(read_cohort(study).changes, None)
    )
    after = selected_changes(again, measures=(SWING,), side_roles=("affected",))
    before, after = before.set_index("person"), after.set_index("person")
    assert after.loc["Bo-18", "n_strides"] == before.loc["Bo-18", "n_strides"] - 1
    assert list(after.loc["Ada-17", "n_strides"]) == list(before.loc["Ada-17", "n_strides"])


def test_a_visit_that_comes_in_during_a_reading_waits_for_the_next(study):
    """Rows of a visit that the list of visits does not have yet are left out; nothing breaks."""
    view = read_cohort(study)
    visits = view.source.visits
    late = (visits["person"] == "Ada-17") & (visits["visit"] == "2")
    before = replace(view.source, visits=visits[~late].reset_index(drop=True))
    changes = replace(view, source=before, _read={}).changes
    assert set(zip(changes["person"], changes["visit_no"], strict=True)) == {
        ("Ada-17", 1),
        ("Bo-18", 1),
    }
    assert (before.visits["person"].to_numpy()[changes.index] == changes["person"]).all()


def test_a_zip_holds_what_a_folder_holds(study, tmp_path):
    """The same files, without a name or the day in them; the map lies outside; both are told."""
    options = ExportOptions(override_reason="a test", selection=Selection(sex=("male",)))
    wanted = {"who": "tester", "options": options}
    folder = export_study(study, tmp_path / "out", id_map=tmp_path / "one.csv", **wanted)
    file = io.BytesIO()
    zipped = export_zip(study, file, id_map=tmp_path / "two.csv", **wanted)
    with zipfile.ZipFile(file) as archive:
        assert archive.testzip() is None
        assert {each.date_time[:3] for each in archive.infolist()} == {(1980, 1, 1)}, "no day"
        content = {name.partition("/")[2]: archive.read(name) for name in archive.namelist()}
        assert {each.date_time[:3] for each in archive.infolist()} == {(1980, 1, 1)}
    assert set(content) == {path.name for path in folder.folder.iterdir()}
    assert content["measures.csv"] == (folder.folder / "measures.csv").read_bytes()
    assert not any(b"Ada" in text or b"Bo-18" in text for text in content.values())
    assert b"sex: male" in content["README.md"]
    assert len(pd.read_csv(io.BytesIO(content["people.csv"]))) == 1
    assert list(pd.read_csv(tmp_path / "two.csv")["person"]) == ["Bo-18"]
    assert zipped.n_rows == folder.n_rows
    with study.read() as connection:
        last = entries(connection)[-2:]
    assert [each["after"]["selection"] for each in last] == ["sex: male"] * 2


def test_slow_work_is_shown_and_done_once_on_one_state_of_the_study(study, tmp_path, monkeypatch):
    """Every stage tells how many there are; a second export of the same people compares nobody.

    What somebody takes away meanwhile is still in the first, which says that the study changed, and
    which state of it this one shows; a person who is erased meanwhile is in none.
    """
    shutil.copytree(study.folder, tmp_path / "study")
    seen = {}

    def track(label, items, n_items):
        for place, item in enumerate(items, 1):
            if not seen:
                with own.write() as connection:
                    connection.execute(delete(VISIT).where(VISIT.c.code == "v2"))
                    record(connection, "delete", who="somebody", after={}, why="a test")
            seen[label] = (place, n_items)
            yield item

    def never(*_):
        raise AssertionError("somebody was compared again")

    def erasing(label, items, n_items):
        for place, item in enumerate(items):
            if not place and label == "Writing sheets":
                with suppress(StudyError):  # the log is emptied once nobody reads any more
                    erase_person(own, "Bo-18", who="somebody", why="a test")
            yield item

    options = ExportOptions(override_reason="a test")
    with closing(open_study(tmp_path / "study")) as own:
        wanted = {"who": "tester", "options": options}
        first = export_study(own, tmp_path / "a", id_map=tmp_path / "1.csv", track=track, **wanted)
    with closing(open_study(tmp_path / "study")) as own:
        second = export_study(own, tmp_path / "b", id_map=tmp_path / "2.csv", **wanted)
        monkeypatch.setattr(tables_of_person, "change_table", never)
        monkeypatch.setattr(compared, "compared_parts", never)
        third = export_study(own, tmp_path / "c", id_map=tmp_path / "3.csv", **wanted)
    assert list(seen) == ["Writing people", "Fitting models", "Writing sheets"]
    assert all(done == of > 0 for done, of in seen.values())
    assert (first.n_rows["walks"], second.n_rows["walks"]) == (12, 8)
    assert first.n_rows["visits"] == second.n_rows["visits"] + 1 == 3
    assert [each.is_overtaken for each in (first, second, third)] == [True, False, False]
    assert third.n_rows == second.n_rows
    left, right = (pd.read_csv(tmp_path / name / "statistics.csv") for name in "bc")
    pd.testing.assert_frame_equal(left, right)
    with closing(open_study(tmp_path / "study")) as own:
        with own.read() as connection:
            told, last = releases_of(connection)[-3:], len(entries(connection))
        assert [each.entry for each in told] == [last - 4, last - 2, last - 1]
        ids = tmp_path / "4.csv"
        with pytest.raises(StudyError, match="1 of its people were erased"):
            export_study(own, tmp_path / "d", id_map=ids, track=erasing, **wanted)
    assert not ids.exists() and not list(tmp_path.glob("*d*.part")) + list(tmp_path.glob("d"))


def test_a_refused_zip_leaves_nothing(study, tmp_path):
    """Too few alike: no byte in the file, no map, no entry."""
    file = io.BytesIO()
    with study.read() as connection:
        before = len(entries(connection))
    with pytest.raises(StudyError, match="Nothing was exported"):
        export_zip(study, file, who="tester", id_map=tmp_path / "ids.csv")
    with study.read() as connection:
        assert len(entries(connection)) == before
    assert file.getvalue() == b""
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("n_people", "asked", "advice"),
    [
        (4, {}, "--release partner"),
        (2, {}, ""),
        (6, {"release": "open"}, "--release controlled"),
        (6, {"least_alike": 50}, "--least-alike"),
        (1, {"least_alike": 50}, ""),
    ],
)
def test_too_few_are_told_only_what_helps_them(n_people, asked, advice):
    """A release that so many people are enough for, or a smaller number that was asked for."""
    told = list(_fewer_readers(ExportOptions(**asked), n_people))
    assert len(told) == bool(advice) and advice in "".join(told)


def test_nobody_in_the_selection_is_refused(tmp_path):
    """The message names the selection."""
    with pytest.raises(StudyError, match="sex: male"):
        export_cohort(
            cohort(5),
            tmp_path / "out",
            id_map=tmp_path / "ids.csv",
            options=ExportOptions(selection=Selection(sex=("male",))),
        )
    assert list(tmp_path.iterdir()) == []


COUNTED = ["n_people", "n_not_comparable", "n_not_trusted", "n_not_defined", "n_missing"]


def test_who_never_came_is_counted_nowhere_in_an_export(own_study, tmp_path):
    """As many people in the history, the map of ids, what is withheld and statistics as rows."""
    with own_study.write() as connection:
        connection.execute(insert(PERSON).values(code="Never"))
    options = ExportOptions(override_reason="a test")
    found = export_study(
        own_study, tmp_path / "out", id_map=tmp_path / "ids.csv", who="t", options=options
    )
    people = pd.read_csv(found.folder / "people.csv")
    with own_study.read() as connection:
        told = entries(connection)[-1]["after"]
    statistics = pd.read_csv(found.folder / "statistics.csv")
    assert set(statistics[COUNTED].sum(axis=1)) == {len(people)} == {2}
    assert told["n_people"] == found.n_rows["people"] == len(found.protection.people) == 2
    assert len(pd.read_csv(tmp_path / "ids.csv")) == 2
    assert "`people` (2 rows)" in (found.folder / "README.md").read_text(encoding="utf-8")
    shown = selected_statistics(read_cohort(own_study), measures=(SWING,))
    assert set(shown[COUNTED].sum(axis=1)) == {2}

"""Sheets of several people and walks: each walk is its own, with the numbers it has alone."""

from itertools import groupby
from pathlib import Path

import pytest
from sqlalchemy import select

from gaittrack.errors import LayoutError
from gaittrack.library.comparisons import compare
from gaittrack.library.measurements import measure
from gaittrack.study.originals import kept_files
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import plan_folders
from gaittrack.study.recordings.planning_sheet import plan_sheet
from gaittrack.study.results.keeping import known_trials, recompute, stale_trials
from gaittrack.study.store import create_study
from gaittrack.study.tables import PERSON, TRIAL, TRIAL_MEAN
from gaittrack.study.upkeep.erasing import erase_person
from gaittrack.study.upkeep.verifying import verify
from tests.several_in_a_sheet import SHEET_VISIT, SHEET_WALKS, sheet_of


@pytest.fixture
def sheet(tmp_path):
    """Three walks one below the other: two of Smith, one of Jones."""
    path = tmp_path / "day.csv"
    people = ("Smith", "Smith", "Jones")
    path.write_text(sheet_of(SHEET_WALKS, Subject=people, Trial=("a", "b", "a")))
    return path


def plan_of(sheet):
    """Return the plan that says whose the people of the sheet are."""
    plan = sheet.with_name("plan.csv")
    rows = [f"day#person-{n}.csv,P9{n},v1,with brace" for n in (1, 2)]
    plan.write_text("\n".join(["file,person,visit,condition", *rows]))
    return plan_sheet(plan, [])


def means(study, person):
    """Return side, measure and value of each walk of a person, walk by walk."""
    query = (
        select(TRIAL.c.file_name, TRIAL_MEAN.c.side, TRIAL_MEAN.c.measure, TRIAL_MEAN.c.value)
        .select_from(TRIAL.join(TRIAL_MEAN))
        .where(TRIAL.c.code.contains("#" + person))
        .order_by(TRIAL.c.file_name, TRIAL_MEAN.c.side, TRIAL_MEAN.c.measure)
    )
    with study.read() as connection:
        rows = connection.execute(query).all()
    return [[tuple(row)[1:] for row in own] for _, own in groupby(rows, lambda row: row[0])]


def test_each_walk_of_a_sheet_is_stored_with_its_own_numbers(sheet, tmp_path):
    """By a plan and by folders; again, recomputed, verified and erased: as any other file."""
    study = create_study(tmp_path / "study")
    folder = tmp_path / "tree" / "P01" / "v1" / "with brace"
    folder.mkdir(parents=True)
    for name, walk in zip("abc", SHEET_WALKS, strict=True):
        (folder / f"{name}.csv").write_bytes(walk.read_bytes())
    alone = measure(folder).values()
    (folder / "day.csv").write_bytes(sheet.read_bytes())
    plans = plan_of(sheet), plan_folders([folder.parents[2]])
    first, refused = (
        list(import_files(study, plan, who="test", new_people=True)) for plan in plans
    )

    assert [row.state for row in first] == ["added"] * 3
    assert [row.state for row in refused] == ["added", "added", "added", "refused"]
    assert "day#person-1.csv, day#person-2.csv" in refused[-1].message
    assert "Smith" not in refused[-1].message
    again = import_files(study, plan_of(sheet), who="test", new_people=True)
    assert {row.state for row in again} == {"known"}
    stored = [*means(study, "person-1"), *means(study, "person-2")]
    assert len(stored) == 3
    for walk, found in zip(("a", "b", "c"), stored, strict=True):
        own = alone[alone["file"].str.endswith(f"{walk}.csv")].set_index(["side", "measure"])
        for side, name, value in found:
            assert value is None or value == own.loc[(side, name), "value"], (walk, side, name)
    assert not stale_trials(study)
    with study.read() as connection:
        mine = known_trials(connection, person="P91")
    assert len(list(recompute(study, mine, who="test"))) == 2
    assert [*means(study, "person-1"), *means(study, "person-2")] == stored
    assert verify(study) == []

    done = erase_person(study, "P92", who="test", why="asked for")
    assert [("day.csv" in words) for words in done.uncleaned] == [True]
    assert not erase_person(study, "P91", who="test", why="asked for").uncleaned
    with study.read() as connection:
        assert list(connection.execute(select(PERSON.c.code)).scalars()) == ["P01"]
    assert len(kept_files(study.folder)) == len(SHEET_WALKS)


def test_the_walks_of_a_sheet_are_measured_and_compared_each(sheet):
    """A person's walks are named with the sheet; what is not in it, and a mix, is refused."""
    own = sheet.with_name("day#person-1.csv")
    found = measure(own).files()
    assert [Path(name).name for name in found["file"]] == [
        "day#person-1#trial-1.csv",
        "day#person-1#trial-2.csv",
    ]
    result = compare({"without brace": SHEET_VISIT / "without-brace", "with brace": own})
    assert len(result.records) == 6
    with pytest.raises(LayoutError, match="holds no such recording"):
        measure(sheet.with_name("day#person-3.csv"))
    (reason,) = measure(sheet).refusals()["reason"]
    assert "day#person-2.csv" in reason

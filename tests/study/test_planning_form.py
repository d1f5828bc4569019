"""Which file belongs to which condition, from a form."""

from pathlib import Path

import pytest

from gaittrack.compare.fair.condition import Condition
from gaittrack.study.people.description import Visit
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import plan_folders
from gaittrack.study.recordings.planning_form import GivenFile, Use, guess_use, plan_form
from gaittrack.study.store import create_study
from tests.study.conftest import write_visit

NAMES = ("without-brace", "with-brace")
VISIT = Visit(
    "N01",
    "visit-1",
    {"affected_side": "left"},
    {},
    {
        "without-brace": Condition("without-brace", orthosis="none"),
        "with-brace": Condition("with-brace", orthosis="ankle-foot orthosis", orthosis_side="left"),
    },
)


def given(name, kind, condition="", folder=""):
    return GivenFile(Path(name), folder, Use(kind, condition))


@pytest.mark.parametrize(
    ("name", "folder", "use"),
    [
        ("walk-1.c3d", "visit-1/with-brace", Use("walk", "with-brace")),
        ("with-brace.c3d", "visit-1/standing", Use("standing", "with-brace")),
        ("static.c3d", "", Use("standing")),
        ("P03 without brace 1.c3d", "", Use("walk", "without-brace")),
        ("WithBrace.c3d", "With_Brace", Use("walk", "with-brace")),
        ("walk 3.c3d", "", Use("not said")),
    ],
)
def test_a_use_is_guessed_only_from_words_that_tell(name, folder, use):
    """The folder nearest to the file, then its name; without a word nothing is guessed."""
    assert guess_use(name, folder, NAMES) == use


def test_a_longer_name_wins_and_a_single_condition_takes_all():
    """``brace`` does not take the files of ``without brace``."""
    assert guess_use("without brace 1.c3d", "", ("brace", "without brace")).condition == (
        "without brace"
    )
    assert guess_use("walk.c3d", "", ("shoe",)) == Use("walk", "shoe")
    assert guess_use("walk.c3d", "", ()) == Use("not said")


def test_walks_get_the_standing_trial_of_their_condition_or_that_of_all():
    """A standing trial of one condition goes before the one of all; it comes first in the plan."""
    plan = plan_form(
        VISIT,
        [
            given("a.c3d", "walk", "with-brace"),
            given("b.c3d", "walk", "without-brace"),
            given("all.c3d", "standing"),
            given("own.c3d", "standing", "with-brace"),
        ],
    )
    standing = {f.condition: f.standing for f in plan.files if f.kind == "walk"}
    assert standing == {"with-brace": Path("own.c3d"), "without-brace": Path("all.c3d")}
    assert [f.kind for f in plan.files][:3] == ["standing"] * 3
    assert plan.refused == []


def test_what_is_not_said_costs_its_own_file():
    """Files without a use, of an unknown condition, or with two standing trials are refused."""
    plan = plan_form(
        VISIT,
        [
            given("a.c3d", "not said"),
            given("b.c3d", "walk", "barefoot"),
            given("c.c3d", "left out"),
            given("d.c3d", "several"),
            given("e.c3d", "walk", "with-brace"),
        ],
    )
    assert [f.path.name for f in plan.files] == ["e.c3d"]
    said = {row.path.name: row.message for row in plan.refused}
    assert set(said) == {"a.c3d", "b.c3d", "d.c3d"}
    assert "with-brace" in said["b.c3d"]
    two = [given(name, "standing") for name in ("s.c3d", "t.c3d")]
    (row,) = plan_form(VISIT, [given("e.c3d", "walk", "with-brace"), *two]).refused
    assert "s.c3d, t.c3d" in row.message


def test_files_of_one_name_in_a_condition_get_numbers():
    """Two folders may both hold a walk-1; none takes the place of the other."""
    files = [GivenFile(Path(f"{n}/walk-1.c3d"), str(n), Use("walk", "with-brace")) for n in "ab"]
    assert [f.code for f in plan_form(VISIT, files).files] == ["walk-1", "walk-1 (2)"]


def test_a_sheet_of_several_conditions_and_an_events_table_go_where_they_belong():
    """The sheet is offered to each condition; the table goes with the recording of its name."""
    files = [given("s.csv", "several"), given("w.csv", "walk", "with-brace")]
    files.append(given("w.events.csv", "not said"))
    plan = plan_form(VISIT, files)
    assert [(f.path.name, f.condition, f.is_offered) for f in plan.files] == [
        ("s.csv", "without-brace", True),
        ("s.csv", "with-brace", True),
        ("w.csv", "with-brace", False),
    ]
    assert plan.files[2].events == Path("w.events.csv")
    assert plan.refused == []


def test_the_form_and_a_folder_give_the_same_study(tmp_path):
    """The same files placed by a form and by folders become the same trials."""
    folder = write_visit(tmp_path / "P01" / "visit-1")
    by_folder = plan_folders([tmp_path])
    visit = by_folder.files[0].visit
    files = [
        GivenFile(path, path.parent.name, guess_use(path.name, path.parent.name, NAMES))
        for path in sorted(folder.rglob("*.c3d"))
    ]
    found = []
    for number, plan in enumerate((by_folder, plan_form(visit, files))):
        study = create_study(tmp_path / f"study-{number}")
        rows = import_files(study, plan, who="tests", new_people=True)
        found.append({(row.place, row.state) for row in rows if row.state != "passed over"})
        study.close()
    assert found[0] == found[1]
    assert len(found[0]) == 5

"""Names and kinds of files that are not as one would like: each costs its own row at most."""

import os

import pytest

from gaittrack.readable_names import as_on_disk, readable
from gaittrack.study.archives.path_patterns import PathPattern
from gaittrack.study.archives.pattern_doubts import doubts_of
from gaittrack.study.archives.planning_pattern import plan_tree, try_tree
from gaittrack.study.archives.tried_paths import ToldBesides
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import plan_folders
from gaittrack.study.recordings.planning_sheet import plan_sheet
from gaittrack.study.store import create_study
from tests.made_up_files import write_walk

NAMES = ("Gehen ü", "步行", "مشي", "\N{DANCER}", os.fsdecode(b"pas\xe9 1"))


@pytest.fixture
def folder(tmp_path):
    """Give P01/first/ohne with a walk of every script, one of bytes, a pipe and two links."""
    place = tmp_path / "tree" / "P01" / "first" / "ohne"
    place.mkdir(parents=True)
    for seed, name in enumerate(NAMES, 1):
        write_walk(tmp_path / "made.c3d", seed=seed)
        (tmp_path / "made.c3d").rename(place / f"{name}.c3d")
    os.mkfifo(place / "pipe.c3d")
    (place / "device.c3d").symlink_to("/dev/zero")
    (place / "nowhere.c3d").symlink_to("gone.c3d")
    return tmp_path / "tree"


def test_names_of_any_script_and_of_bytes_go_in(folder, tmp_path):
    """By folders, pattern and sheet alike; what is no text in a name is written out."""
    study = create_study(tmp_path / "study")
    rows = list(import_files(study, plan_folders([folder]), who="tester", new_people=True))
    assert {row.state for row in rows} == {"added"} and len(rows) == len(NAMES)
    assert "P01/first/ohne/pas\\xe9 1" in {row.place for row in rows}
    patterns = [PathPattern("{person}/{visit}/{condition}/{trial}")]
    tree = try_tree([folder], patterns, ToldBesides())
    assert list(doubts_of(tree, patterns, ToldBesides())) == []
    again = list(import_files(study, plan_tree(tree), who="tester"))
    assert {row.state for row in again} == {"known"} and len(again) == len(NAMES)
    lines = [f"P01/first/ohne/{readable(name)}.c3d,P01,first,ohne,none" for name in NAMES]
    sheet = tmp_path / "list.csv"
    sheet.write_text("\n".join(["file,person,visit,condition,orthosis", *lines]), encoding="utf-8")
    third = list(import_files(study, plan_sheet(sheet, [folder]), who="tester"))
    study.close()
    assert [row.state for row in third] == ["known"] * len(NAMES), third
    assert [as_on_disk(readable(name)) for name in NAMES] == list(NAMES)


def test_a_pipe_and_a_device_are_not_opened(folder, tmp_path):
    """Named themselves they are refused at once, as nothing that is a file."""
    place = folder / "P01" / "first" / "ohne"
    study = create_study(tmp_path / "study")
    plan = plan_folders([folder])
    for name in ("pipe.c3d", "device.c3d"):
        plan.files = [plan.files[0].__class__(place / name, plan.files[0].visit, "ohne", name)]
        (row,) = import_files(study, plan, who="tester", new_people=True)
        assert row.state == "refused" and "no plain file" in row.message
    study.close()


def test_the_same_path_twice_and_a_copy_in_a_folder_below_cost_one_line(folder, tmp_path):
    """The copy is known as what it is a copy of; all else goes on."""
    place = folder / "P01" / "first" / "ohne"
    (place / "old").mkdir()
    (place / "old" / "walk.c3d").write_bytes((place / "步行.c3d").read_bytes())
    patterns = [PathPattern("{person}/{visit}/{condition}/**/{trial}")]
    tree = try_tree([folder, folder], patterns, ToldBesides())
    study = create_study(tmp_path / "study")
    rows = list(import_files(study, plan_tree(tree), who="tester", new_people=True))
    study.close()
    states = [row.state for row in rows]
    assert states.count("added") == len(NAMES) and states.count("known") == 1, rows

"""Archives as laboratories have them come in by a pattern, each file where it belongs."""

import datetime
import os
import re

import pytest

from gaittrack.study.archives.path_patterns import PathPattern
from gaittrack.study.archives.pattern_doubts import doubts_of
from gaittrack.study.archives.planning_pattern import (
    days_by_file_times,
    days_in_files,
    plan_tree,
    told_of_conditions,
    try_tree,
)
from gaittrack.study.archives.tried_paths import ToldBesides
from tests.study.made_up_archives import ARCHIVES, SIDES

BRACE = {"without": "none", "with": "ankle-foot orthosis"}


@pytest.fixture(scope="module")
def trees(tmp_path_factory):
    """Give each archive as a folder; nothing is read from its files here."""
    folders = {}
    for name, archive in ARCHIVES.items():
        folders[name] = tmp_path_factory.mktemp(name)
        for path in archive.files:
            (folders[name] / path).parent.mkdir(parents=True, exist_ok=True)
            (folders[name] / path).write_bytes(path.encode())
    return folders


def tried(folder, archive, pattern):
    patterns = [PathPattern(pattern)]
    told = ToldBesides(told_of_conditions(archive.conditions), archive.rows)
    tree = try_tree([folder], patterns, told)
    return tree, [str(doubt) for doubt in doubts_of(tree, patterns, told)]


@pytest.mark.parametrize("name", ARCHIVES)
def test_each_layout_comes_in_by_its_pattern_without_a_wrong_assignment(trees, name):
    """Person, day, brace and its side are the true ones; each walk has its own standing trial."""
    archive, folder = ARCHIVES[name], trees[name]
    tree, doubts = tried(folder, archive, archive.pattern)
    assert doubts == []
    plan = plan_tree(tree)
    assert plan.refused == []
    truth = {folder / path: truth for path, truth in archive.files.items()}
    assert {file.path for file in plan.files} == set(truth)
    walks = [file for file in plan.files if file.kind == "walk"]
    assert len({file.place for file in walks}) == len(walks) == 36
    for file in plan.files:
        true = truth[file.path]
        assert (file.visit.person, file.visit.facts["date"]) == (archive.person(true), true.day)
        assert (file.kind == "standing") == (true.condition == "standing")
    for file in walks:
        true, worn = truth[file.path], file.visit.conditions[file.condition]
        assert worn.orthosis == BRACE[true.condition]
        if worn.is_braced:
            assert worn.orthosis_side == SIDES[true.person]
        stood = truth[file.standing]
        assert (stood.person, stood.day, stood.condition) == (true.person, true.day, "standing")


WRONG = [
    *("{visit}/{person}/{condition}/{trial}", "{person}/{condition}/{date}/{trial}"),
    *("{condition}/{person}/{visit}/{trial}", "{person}_{visit}_{condition}_{trial}", "*"),
    *("{person}/{visit}/{trial}", "{visit}/{condition}/{trial}", "{person}/**/{trial}.csv"),
]


@pytest.mark.parametrize("name", ARCHIVES)
def test_a_wrong_pattern_leaves_something_open(trees, name):
    """Patterns of other layouts, and parts exchanged: something is asked, so nothing is stored."""
    others = [other.pattern for key, other in ARCHIVES.items() if key != name]
    for pattern in {*others, *WRONG} - {ARCHIVES[name].pattern}:
        assert tried(trees[name], ARCHIVES[name], pattern)[1] != [], pattern
    exchanged = tried(trees["by_date"], ARCHIVES["by_date"], "{visit}/{person}/*/{trial}")[1]
    assert any("reads like a day" in doubt for doubt in exchanged)


def test_what_is_offered_to_say_of_a_brace_keeps_the_footwear_of_the_name(tmp_path):
    """Of a folder "barefoot" no shoe is offered: copied as it stands it leaves nothing to ask."""
    walk = tmp_path / "P01" / "2024-03-01" / "barefoot" / "walk 1.c3d"
    walk.parent.mkdir(parents=True)
    walk.write_bytes(b"no recording")
    pattern = PathPattern("{person}/{date}/{condition}/{trial}")
    tree = try_tree([tmp_path], [pattern], ToldBesides({}, ()))
    (doubt,) = [str(each) for each in doubts_of(tree, [pattern], ToldBesides({}, ()))]
    (offered,) = re.findall(r"'(barefoot=without [^']+)'", doubt)
    told = ToldBesides(told_of_conditions((offered,)), ())
    tree = try_tree([tmp_path], [pattern], told)
    assert list(doubts_of(tree, [pattern], told)) == []
    assert tree.files[0].cells["footwear"] == "barefoot"
    assert tree.files[0].cells["orthosis"] == "none"


def test_file_times_offer_days_only_where_they_can_be_those_of_recordings(tmp_path):
    """One day a visit and several in the tree, else none; what files say of it goes before."""
    names = [f"P0{p}/V{v}/{worn}1.c3d" for p in (1, 2) for v in (1, 2) for worn in ("ohne", "mit")]
    for name in names:
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_bytes(name.encode())

    def offered(*left_out):
        pattern = PathPattern("{person}/{visit}/{condition}{trial}")
        without = [PathPattern(text) for text in left_out]
        tree = try_tree([tmp_path], [pattern], ToldBesides(), left_out=without)
        days_by_file_times(tree)
        return {
            one.path: (one.cells.get("date"), str(one.sources.get("date"))) for one in tree.files
        }

    assert set(offered().values()) == set(offered("*/V2/*").values()) == {(None, "None")}
    for name in names:
        day = datetime.datetime(2024, 3, 5 + int(name[5]), 12).timestamp()
        os.utime(tmp_path / name, (day, day))
    written = "when the file was last written"
    assert offered()["P01/V2/mit1.c3d"] == ("2024-03-07", written)
    tree = try_tree([tmp_path], [PathPattern("{person}/{visit}/{condition}{trial}")], ToldBesides())
    days = {one.at: "2024-01-1" + one.path[5] for one in tree.files if one.path[5] == "1"}
    days |= {tmp_path / name: f"2024-01-2{name[2]}" for name in names[2:4]}
    days[tmp_path / names[2]] = "2024-01-29"
    days_in_files(tree, days)
    said = {one.path: (one.cells.get("date"), str(one.sources.get("date"))) for one in tree.files}
    assert said["P01/V1/mit1.c3d"] == ("2024-01-11", "as the file says")
    assert said["P01/V2/mit1.c3d"] == (None, "None"), "two files of one visit say two days"
    later = datetime.datetime(2024, 4, 1, 12).timestamp()
    os.utime(tmp_path / names[0], (later, later))
    assert set(offered().values()) == {(None, "None")}

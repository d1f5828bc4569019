"""Warnings of every walk are told and answered once; those that spoil a number never are."""

import ast
import json
from pathlib import Path

import pytest

import gaittrack
from gaittrack.cohort.kept.person_stamps import person_stamps
from gaittrack.errors import LayoutError
from gaittrack.reasons import Reason, as_plain
from gaittrack.record.answered_warnings import ANSWERABLE, warning_key, write_answers
from gaittrack.study.laboratory import ANSWERED, put_setting, set_setting
from gaittrack.study.laboratory_history import put_back, setting_changes
from gaittrack.study.recordings.overview import changes_since, last_entry
from gaittrack.study.recordings.reviewing import trials_of_person
from gaittrack.study.recordings.told_once import answer_warning, held_warnings
from tests.study.planted_results import plant

INNER = "marker_never_seen left_inner_ankle"


def problems(*reasons):
    """Give problems as they are stored."""
    lines = [{"level": "warning", "reason": as_plain(each), "where": "x"} for each in reasons]
    return json.dumps(lines)


def never_seen(landmark):
    return Reason("marker_never_seen", landmark=landmark)


def test_what_every_walk_has_waits_no_more_once_it_is_answered(study, trial_at, tmp_path):
    """Told once; another marker, or what spoils values, still waits; taken back, all wait again."""

    def waiting():
        with study.read() as connection:
            found = trials_of_person(connection, 1)
            return [str(each.reasons[0]) for each in found if each.reasons]

    def held():
        with study.read() as connection:
            return [(each.key, each.n_walks, each.answer) for each in held_warnings(connection)]

    with study.write() as connection:
        plant(connection, problems=problems(never_seen("left_inner_ankle")))
        more = (
            never_seen("left_inner_ankle"),
            never_seen("left_heel"),
            Reason("foot_turned_round"),
        )
        plant(connection, trial_at(study).id, problems=problems(*more))
        before = person_stamps(connection)
    assert sorted(waiting()) == ["1 warning"] * 7 + ["3 warnings"]
    assert held() == [(INNER, 8, "")]
    last = last_entry(study)
    answer_warning(study, INNER, "worn only standing", who="A")
    assert waiting() == ["2 warnings"]
    assert held() == [(INNER, 8, "worn only standing")]
    assert changes_since(study, last).concerns_all
    with study.read() as connection:
        assert person_stamps(connection) == before  # nothing is compared anew
        (change,) = setting_changes(connection)
    assert (change.who, change.why) == ("A", "worn only standing")
    for name in ("foot_turned_round", "segments_of_nobody left"):
        with pytest.raises(LayoutError, match="each must be looked at.*marker_never_seen"):
            answer_warning(study, name, "so it is", who="A")
    last = last_entry(study)
    with study.write() as connection:  # a map has a name; another setting concerns no walk
        put_setting(connection, "typical", {}, who="A", why="")
    assert not changes_since(study, last).concerns_all
    with study.write() as connection:
        put_setting(connection, "map:second set", {}, who="A", why="")
    assert changes_since(study, last).concerns_all
    put_back(study, change.number, who="B", why="not so")
    assert len(waiting()) == 8
    path = tmp_path / "answered.toml"
    path.write_text(write_answers({INNER: 'worn "only" standing'}))
    set_setting(study, ANSWERED, path, who="A", why="from the other study")
    assert held() == [(INNER, 8, 'worn "only" standing')]


def test_a_few_walks_or_most_of_them_tell_nothing_of_a_laboratory(study, trial_at):
    """One walk without the warning, and it is told walk by walk as ever."""
    with study.write() as connection:
        plant(connection, problems=problems(Reason("no_heel")))
        plant(connection, trial_at(study).id, problems="[]")
    with study.read() as connection:
        assert held_warnings(connection) == []


def calls_of_problems():
    """Yield (codes, whether it spoils or is an error) of every problem that the package makes."""
    for path in Path(gaittrack.__file__).parent.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and ast.unparse(node.func) == "Problem":
                words = {each.value for each in ast.walk(node) if isinstance(each, ast.Constant)}
                named = {word.arg for word in node.keywords}
                spoils = len(node.args) > 3 or "spoils" in named or "error" in words
                yield words & ANSWERABLE.keys(), spoils


def test_nothing_that_spoils_a_number_may_be_answered():
    """Each answerable code is made somewhere as a plain warning, and nowhere as one that spoils."""
    found = list(calls_of_problems())
    plain = set().union(*(codes for codes, spoils in found if not spoils))
    assert set().union(*(codes for codes, spoils in found if spoils)) == set()
    assert plain == ANSWERABLE.keys()
    assert warning_key(Reason("rate_of_header", rate_hz=100.0)) == "rate_of_header 100"
    assert (
        warning_key(Reason("plate_left_out", why=Reason("starting"))) == "plate_left_out starting"
    )
    assert warning_key(Reason("foot_turned_round")) is None

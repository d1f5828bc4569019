"""Landmarks chosen on a screen, kept in the laboratory's map."""

import tomllib

import pytest

from gaittrack.errors import LayoutError
from gaittrack.lab_map import Fits
from gaittrack.study.history import entries
from gaittrack.study.laboratory import laboratory_maps
from gaittrack.study.named_maps import keep_map
from gaittrack.study.recordings.landmark_map import keep_landmarks, with_landmarks
from gaittrack.study.results.keeping import stale_trials

MAP = """# our markers
[sheet]
unit = "deg"

[landmarks]  # since 2020
left_heel = "OLD"
right_heel = "R 1"

[[columns]]
name = "a"
joint = "ankle"
side = "left"
"""


@pytest.mark.parametrize("before", ["", "# nothing\n", "[sheet]\nunit = 'deg'\n", MAP])
def test_landmarks_take_the_place_of_those_there_and_everything_else_stays(before):
    """Those that were not chosen go; comments and other tables stay."""
    chosen = {"left_heel": 'M "6"', "left_toe": "Größe\\"}
    found = tomllib.loads(with_landmarks(before, chosen))
    old = tomllib.loads(before)
    assert found["landmarks"] == chosen
    assert {k: v for k, v in found.items() if k != "landmarks"} == {
        k: v for k, v in old.items() if k != "landmarks"
    }
    assert all(
        line in with_landmarks(before, chosen) for line in before.splitlines() if "#" in line
    )


@pytest.mark.parametrize(
    "before", ["landmarks.left_heel = 'X'\n", "landmarks = {left_heel = 'X'}\n"]
)
def test_a_map_that_cannot_be_added_to_is_left_alone(before):
    """Another way of writing the table is refused, with what to do."""
    with pytest.raises(LayoutError, match="maps --add"):
        with_landmarks(before, {"left_heel": "M6"})


def test_what_stands_before_each_label_is_not_written_twice():
    """A map that says its prefix keeps it; a label without it is refused."""
    before = '[fits]\nprefix = "B_"\n'
    found = tomllib.loads(with_landmarks(before, {"left_heel": "B_6"}))
    assert found == {"fits": {"prefix": "B_"}, "landmarks": {"left_heel": "6"}}
    with pytest.raises(LayoutError, match="maps --add"):
        with_landmarks(before, {"left_heel": "C_6"})


def test_the_choice_is_in_the_map_and_the_history_and_makes_results_stale(study):
    """It holds for every file from now on, and says who chose it."""
    chosen = {"left_heel": "left toe"}
    keep_landmarks(study, "room B", chosen, who="ada", why="chosen")
    chosen |= {"left_toe": "left ankle"}
    keep_landmarks(study, " room B ", chosen, who="ada", why="chosen")
    with study.read() as connection:
        (kept,) = laboratory_maps(connection)
        last = entries(connection)[-1]
    assert (last["what"], last["who"], last["why"]) == ("set map:room B", "ada", "chosen")
    assert (kept.name, kept.landmarks) == ("room B", chosen)
    assert 'left_heel = "left toe"' in last["before"]["content"]
    assert len(stale_trials(study)) == 8


@pytest.mark.parametrize("before", ["", MAP, "# own\nstanding_only = [\n 'sacrum',\n]\n[sheet]\n"])
def test_what_is_worn_only_standing_and_which_files_it_is_for_is_said_in_the_map(study, before):
    """Beside what stands there; taken back when said so; files of other fits are not rewritten."""
    if before:
        keep_map(study, "room B", before, who="ada", why="x")

    def kept(**said):
        keep_landmarks(study, "room B", {"left_heel": "left toe"}, who="ada", why="x", **said)
        with study.read() as connection:
            return laboratory_maps(connection)[0]

    rare = ["left_knee_medial", "right_knee_medial"]
    assert kept(standing_only=rare).standing_only == set(rare)
    found = kept(only="left hip")
    assert (found.standing_only, found.fits) == (set(rare), Fits(("left hip",)))
    assert kept(only="left hip", standing_only=[]).standing_only == frozenset()
    with pytest.raises(LayoutError, match="maps --add"):
        kept(only="left knee")


def test_an_unknown_landmark_is_refused_and_nothing_is_kept(study):
    """The map is checked as any other."""
    with pytest.raises(LayoutError, match="left_wing"):
        keep_landmarks(study, "map", {"left_wing": "M6"}, who="ada", why="chosen")
    assert stale_trials(study) == []

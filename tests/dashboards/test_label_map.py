"""Which label is which place: offered, swapped, chosen, kept under a name."""

import pytest

from dashboards.add_walks.labels.map_draft import (
    after,
    begun,
    files_that_take,
    kept_landmarks,
    offered,
)
from dashboards.add_walks.labels.map_drawing import own_points, spots
from dashboards.add_walks.labels.map_places import NUMBER_OF, PLACES, words_of
from dashboards.parts.markup import drawn
from gaittrack.lab_map import LabMap
from gaittrack.simulate.c3d_writer import write_c3d
from gaittrack.simulate.walk import simulate_walk
from gaittrack.study.laboratory import laboratory_maps
from gaittrack.vocabulary import LANDMARKS
from tests.dashboards.axe_check import violations
from tests.dashboards.settled import settle, until
from tests.made_up_files import RECIPE

LABELS = ["Q1", "Q2", "LTOE", "Q3", "Q4"]


@pytest.fixture
def draft():
    """Give a draft of three files, one of them with other labels, and a guess for both heels."""
    return {
        "sets": [[LABELS, 2], [["Z1", "Z2"], 1]],
        "file": "walk.c3d",
        "moment": {"Q1": [0.1, 0.9], "Q2": [0.3, 0.0]},
        "at_s": 1.0,
        "guesses": {"left_heel": "Q1", "right_heel": "Q2"},
    }


def pressed(draft, maps=(), **press):
    """Return the draft after one act."""
    return after(draft, press, maps)


def test_guesses_are_offered_taken_when_wanted_and_names_are_found(draft):
    """What spells a landmark stands there; what lies like one does so only when it is said."""
    now = begun(draft, ())
    assert (now["name"], now["is_new"]) == ("new map", True)
    assert (now["labels"], now["by"]) == ({"left_toe": "LTOE"}, {"left_toe": "name"})
    assert offered(now) == draft["guesses"]
    assert offered(pressed(now, act="leave out", place="heel")) == {}
    taken = pressed(now, act="take", place="heel")
    assert taken["labels"] == {"left_toe": "LTOE", "left_heel": "Q1", "right_heel": "Q2"}
    assert taken["by"]["left_heel"] == "place" and offered(taken) == {}


def test_a_label_is_in_one_place_and_sides_change_together(draft):
    """A choice moves a label, leaves one empty, takes none that is no label or place."""
    now = pressed(begun(draft, ()), act="take")
    moved = pressed(now, act="set", landmark="left_knee", chosen="Q1")
    assert moved["labels"] == {"left_toe": "LTOE", "right_heel": "Q2", "left_knee": "Q1"}
    assert (moved["by"]["left_knee"], moved["place"]) == ("you", "knee")
    assert "left_knee" not in pressed(moved, act="set", landmark="left_knee", chosen="")["labels"]
    for landmark, given in (("left_wing", "Q1"), ("left_hip", "<b>")):
        assert pressed(now, act="set", landmark=landmark, chosen=given)["labels"] == now["labels"]
    swapped = pressed(moved, act="swap")["labels"]
    assert swapped == {"right_toe": "LTOE", "left_heel": "Q2", "right_knee": "Q1"}


def test_a_map_of_the_laboratory_is_chosen_and_keeps_what_these_files_lack(draft):
    """The one that fits opens; its labels of other files stay in it; a rival is told."""
    own = LabMap({"left_heel": "Q1", "right_heel": "Q2", "sacrum": "elsewhere"}, name="room B")
    other = LabMap({"left_hip": "Z1"}, name="hall")
    now = begun(draft, [own, other])
    assert (now["name"], now["is_new"], now["by"]["left_heel"]) == ("room B", False, "map")
    assert kept_landmarks(now, own) == dict(own.landmarks) | {"left_toe": "LTOE"}
    assert files_that_take(now, [own, other]) == (2, "")
    assert pressed(now, [own, other], act="map", name="hall")["name"] == "hall"
    new = pressed(now, [own], act="map", name="")
    assert new["name"] == "new map" and new["labels"] == {"left_toe": "LTOE"}
    own = LabMap({"left_heel": "Q1", "right_heel": "Q2", "left_toe": "LTOE"}, name="room B")
    rival = pressed(pressed(new, act="take"), act="swap")
    n, why = files_that_take(rival, [own])
    assert n == 0 and "room B" in why and "fit this file alike" in why
    assert files_that_take(pressed(rival, act="only", chosen="Q4"), [own]) == (2, "")


def test_what_is_worn_only_standing_is_pressed_for_both_sides(draft):
    """Once for a place; pressed again it is worn always."""
    now = begun(draft, [LabMap({"left_heel": "Q1"}, standing_only=frozenset({"sacrum"}), name="a")])
    rare = pressed(now, act="worn", place="knee_medial")["standing_only"]
    assert rare == ["left_knee_medial", "right_knee_medial", "sacrum"]
    assert pressed(now, act="worn", place="sacrum")["standing_only"] == []


def test_every_landmark_has_a_place_and_every_place_is_drawn(draft):
    """All of the vocabulary can be reached; labels from files stay words."""
    keys = {key for places in PLACES.values() for place in places for key in place.keys.values()}
    assert keys == set(LANDMARKS)
    assert {words_of(key) for key in keys}.isdisjoint(keys)
    body = drawn("maps.body", spots(["heel"], "toe"), "press")
    for number in NUMBER_OF.values():
        assert f'<text y="4.5">{number}</text>' in body
    placed = own_points({"<i>": (0.1, 0.9), "Q2": (0.3, 0.0)}, {"left_heel": "<i>"}, "heel")
    points = drawn("maps.points", placed)
    assert "&lt;i&gt;" in points and "<i>" not in points


def test_labels_that_say_nothing_are_mapped_by_place_and_kept_under_a_name(
    open_page, served_copy, tmp_path
):
    """Offered and not taken; arrows go from place to place; the map stands under its name."""
    folder = tmp_path / "3" / "ohne"
    folder.mkdir(parents=True)
    markers = simulate_walk(RECIPE, seed=5).trial.markers
    own = {label: f"Q{n:02}" for n, label in enumerate(markers, 1)}
    named = {own[label]: points for label, points in markers.items()}
    write_c3d(folder / "gang 1.c3d", rate_hz=100.0, markers=named)
    page = open_page(served_copy, "/add-walks", choice={"person": 2})
    page.set_default_timeout(30_000)
    page.wait_for_selector("#add-walks-person-words:has-text('known')")
    page.set_input_files("#add-walks-folder-input", str(tmp_path / "3"))
    page.get_by_role("button", name="map its labels").click()
    page.wait_for_selector("h2:has-text('0 of 15 places are filled')")
    page.get_by_role("button", name="Take all guesses by place").click()
    page.wait_for_selector("h2:has-text('7 of 15 places are filled')")
    page.get_by_role("combobox", name="small toe side, left").select_option(
        own["left metatarsal 5"]
    )
    page.wait_for_selector("tr.looked:has-text('small toe side')")
    drawn = page.locator(".map-body .spot.chosen[tabindex='0']")
    for key in ("ArrowDown", "ArrowUp", "Enter"):
        before = drawn.get_attribute("aria-label")
        drawn.press(key)
        if key != "Enter":
            until(
                page,
                "was => document.activeElement.matches('.spot.chosen')"
                " && document.activeElement.getAttribute('aria-label') !== was",
                before,
            )
    settle(page)  # what Enter asked for draws the name anew
    assert page.locator("tr.looked:has-text('small toe side')").is_visible()
    page.get_by_role("textbox", name="Map").fill("room B")
    page.get_by_role("textbox", name="Map").press("Tab")
    use = page.get_by_role("button", name="Use “room B” for 1 file")
    use.wait_for()
    assert violations(page) == []
    use.click()
    page.wait_for_selector("#add-walks-which tr:has-text('gang 1'):has-text('ready')")
    with served_copy.study.read() as connection:
        (kept,) = laboratory_maps(connection)
    assert kept.name == "room B" and len(kept.landmarks) == 15
    assert {kept.landmarks[key] for key in ("left_heel", "left_metatarsal_5")} == {
        own["left heel"],
        own["left metatarsal 5"],
    }

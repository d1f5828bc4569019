"""What is said of files before they are stored: guesses, groups, presses, the sentence on top."""

from dataclasses import replace
from pathlib import Path

import pytest

from dashboards.add_walks import uploads
from dashboards.add_walks.draft import (
    FilesDraft,
    groups_of,
    take,
    use_of,
)
from dashboards.add_walks.look_and_store import Looked, look, store
from dashboards.add_walks.places import day_at_hand, open_next, place_of, sort_by_place
from dashboards.add_walks.row_states import RowState, states_of
from dashboards.add_walks.step_strip import About, headline
from dashboards.add_walks.visit_form import bare_visit, plan_of, visit_of
from dashboards.parts.fact_fields import beside_fields, field, read_fields
from gaittrack.errors import AboutFact, GaitTrackError
from gaittrack.record.checking import check_fact
from gaittrack.record.registry import CONDITION
from gaittrack.study.recordings.planning import ReportRow
from gaittrack.study.recordings.planning_form import Use
from gaittrack.study.results.keeping import known_trials
from gaittrack.study.store import create_study
from tests.made_up_files import write_standing, write_walk
from tests.several_in_a_sheet import SHEET_WALKS, sheet_of

WORN = {
    "without-brace": {"orthosis": "none", "footwear": "walking shoe"},
    "with-brace": {"brace": "B1", "footwear": "walking shoe"},
}


class Held:
    """Files as they lie in a basket."""

    def __init__(self, *places):
        parts = [place.rpartition("/") for place in places]
        self.files = [
            uploads.Received(Path("/nowhere") / name, name, folder) for folder, _, name in parts
        ]


@pytest.mark.parametrize(
    ("place", "use", "said"),
    [
        ("v/with-brace/a.c3d", Use("walk", "with-brace"), "folder “with-brace”"),
        ("v/ohne/a.c3d", Use("walk", "without-brace"), "folder “ohne”"),
        ("v/gang mit Orthese.c3d", Use("walk", "with-brace"), "name “gang mit Orthese”"),
        ("v/stehen mit.c3d", Use("standing", "with-brace"), "name “stehen mit”"),
        ("v/static.c3d", Use("standing"), "name “static”"),
        ("v/barfuss/a.c3d", Use("not said"), "no folder or name"),
        ("v/schuhe/a.c3d", Use("not said"), "no folder or name"),
        ("v/a.c3d", Use("not said"), "no folder or name"),
    ],
)
def test_a_use_is_guessed_only_from_what_is_said_and_says_from_what(place, use, said):
    """Names of conditions first, then words for what was worn; two that fit are no guess."""
    found, source = use_of(0, Held(place).files[0], FilesDraft(), WORN)
    assert found == use
    assert said in source


def test_files_stand_in_groups_and_move_with_a_press():
    """By use, in the order of the form; folders that nothing is known of stay apart."""
    held, draft = Held("mit/2.c3d", "mit/1.c3d", "A/x.c3d", "B/x.c3d", "ohne/1.c3d"), FilesDraft()
    groups = groups_of(held, draft, WORN)
    assert [group.files for group in groups] == [(4,), (1, 0), (2,), (3,)]
    take(draft, held, {"act": "use", "files": [2, 99, "x"], "chosen": "walk:without-brace"})
    take(draft, held, {"act": "use", "files": [0], "chosen": "standing:"})
    assert set(draft.uses) == {0, 2}, "what is not there is passed over"
    moved = {group.use: group.files for group in groups_of(held, draft, WORN)}
    assert moved[Use("walk", "without-brace")] == (2, 4)
    assert moved[Use("standing")] == (0,)
    renamed = {"other": WORN["without-brace"], "with-brace": WORN["with-brace"]}
    assert use_of(2, held.files[2], draft, renamed)[0] == Use("not said")


def test_a_person_and_a_visit_are_taken_from_folders_of_a_known_code_only():
    """What follows a code is the visit, unless it says what was worn; nobody else is guessed."""
    assert place_of("week/P05/2/ohne", ["P05"]) == ("P05", "2")
    assert place_of("P05/mit", ["P05"]) == ("P05", "")
    assert place_of("P06/2/ohne", ["P05"]) == ("", "")
    held, draft = Held("P1/2/a.c3d", "P2/1/a.c3d", "P2/1/b.c3d"), FilesDraft()
    sort_by_place(draft, held, ["P1", "P2"])
    assert draft.place == ("P1", "2")
    held.files[0] = uploads.Received(None, "a.c3d", "P1/2", is_stored=True)
    open_next(draft, held)
    assert draft.place == ("P2", "1")
    assert [group.files for group in groups_of(held, draft, WORN)] == [(1, 2)]


def test_people_nobody_knows_are_told_apart_where_names_follow_a_pattern():
    """Several people, each with the day their folder names; one alone is not guessed."""
    held = Held(
        "A01/2024-03-05/ohne/w.c3d", "A02/2024-03-06/mit/w.c3d", "A02/2024-03-06/ohne/w.c3d"
    )
    draft = FilesDraft()
    sort_by_place(draft, held, [])
    assert draft.place is not None and draft.place[0] == "A01"
    assert day_at_hand(draft, held) == ("2024-03-05", "guessed from the folder “2024-03-05”")
    alone = FilesDraft()
    sort_by_place(alone, Held("A01/ohne/w.c3d", "A01/mit/w.c3d"), [])
    assert alone.place is None and set(alone.places.values()) == {("", "")}
    dated = Held("a.c3d", "b.c3d")
    dated.files = [replace(one, day=f"2026-02-0{n + 1}") for n, one in enumerate(dated.files)]
    assert day_at_hand(FilesDraft(), dated) == ("2026-02-02", "from the dates of the files")
    path, looked = dated.files[0].path, FilesDraft()
    looked.looks[path] = [Looked(ReportRow(path, "would add"), "a.c3d", day="2024-05-06")]
    assert day_at_hand(looked, dated) == ("2024-05-06", "as the files say")


def test_only_what_would_go_in_is_ready():
    """A table of events is ready with its recording only; what is known already is not."""
    held, draft = Held("mit/a.c3d", "mit/a.events.csv", "mit/b.c3d"), FilesDraft()
    uses = dict.fromkeys(range(3), Use("walk", "with-brace"))
    paths = [one.path for one in held.files]
    draft.looks = {
        paths[0]: [Looked(ReportRow(paths[0], "refused", "", "It is broken."), "a.c3d")],
        paths[2]: [Looked(ReportRow(paths[2], "known", "", "There."), "b.c3d", known="P/v/c/b")],
    }
    states = states_of(held, draft, uses)
    assert [states[n].kind for n in range(3)] == ["trouble", "waits", "trouble"]
    assert states[0].words == "It is broken." and "P/v/c/b" in states[2].words
    draft.looks[paths[0]] = [Looked(ReportRow(paths[0], "would add"), "a.c3d")]
    assert [states_of(held, draft, uses)[n].kind for n in range(3)] == ["ready", "ready", "trouble"]
    draft.left_out = {0}
    assert states_of(held, draft, uses)[1].kind == "waits"


def test_the_sentence_says_whose_visit_and_what_waits():
    """Counted visits in words; a visit that is there already by its name; who is missing first."""
    about = About("P05", "visit-2", {"code": "visit-2", "number": 2})
    ready, trouble = RowState("ready", ""), RowState("trouble", "")
    assert headline(about, [ready] * 7 + [trouble] * 4, "") == (
        "Second visit of P05: 7 of 11 files are ready, 4 need a word from you"
    )
    assert headline(about, [ready], "") == "Second visit of P05: the file is ready"
    again = About("P05", "visit-1", {"code": "visit-2", "number": 2})
    assert headline(again, [ready, ready], "") == "visit-1 of P05: all 2 files are ready"
    nobody = About("", "", {})
    assert headline(nobody, [ready, trouble], "") == "2 files: say who walked; 1 can be read"
    assert "drop the files" in headline(nobody, [], "")


def test_storing_that_is_broken_off_keeps_what_is_not_stored(tmp_path):
    """After one of two files the other one is still there; a look before that stored nothing."""
    study, held = create_study(tmp_path / "study"), uploads.Baskets()
    names = ("one.c3d", "two.c3d", "still.c3d")
    for seed, name in enumerate(names[:2]):
        write_walk(tmp_path / name, seed=seed)
    write_standing(tmp_path / "still.c3d")
    basket = uploads.Basket("me", uploads.tempfile.TemporaryDirectory(dir=tmp_path))
    basket.files = [uploads.Received(tmp_path / name, name) for name in names]
    held._held["key"], draft = basket, FilesDraft()
    plan = plan_of(bare_visit("P", "v", ["a"]), basket, {0: Use("walk", "a"), 1: Use("walk", "a")})
    looks = list(look(study, plan, "me", measured=draft.measured, same_person=False))
    assert [one.row.state for one in looks] == ["would add"] * 2
    assert looks[0].contents is not None and "100 frames/s" in looks[0].what
    with study.read() as connection:
        assert known_trials(connection) == []
    steps = store(study, plan, held, "key", "me", measure_all=draft.measured.all_of)
    assert next(steps).row.state == "added"
    steps.close()
    with study.read() as connection:
        assert [one.code for one in known_trials(connection)] == ["one"]
    assert [one.is_stored for one in basket.files] == [True, False, False]
    assert [(tmp_path / name).exists() for name in names] == [False, True, True]
    of_two = plan_of(bare_visit("P", "v", ["b", "c"]), basket, {2: Use("standing")})
    steps = store(study, of_two, held, "key", "me")
    assert next(steps).row.state == "added"
    steps.close()
    assert (tmp_path / "still.c3d").exists(), "it stands for another condition too"
    assert not basket.is_storing
    study.close()


def test_a_sheet_of_several_walks_is_one_row_and_stays_until_all_are_stored(tmp_path):
    """Its row counts the walks; broken off after one, the file waits; all stored, it goes."""
    study, held = create_study(tmp_path / "study"), uploads.Baskets()
    path = tmp_path / "day.csv"
    path.write_text(sheet_of(Trial=SHEET_WALKS[:2]))
    basket = uploads.Basket("me", uploads.tempfile.TemporaryDirectory(dir=tmp_path))
    basket.files, uses = [uploads.Received(path, path.name)], {0: Use("walk", "a")}
    held._held["key"], draft = basket, FilesDraft()
    plan = plan_of(bare_visit("P", "v", ["a"]), basket, uses)
    draft.looks[path] = list(look(study, plan, "me", measured=draft.measured, same_person=False))
    state = states_of(basket, draft, uses)[0]
    assert (state.kind, state.words) == ("ready", "2 of 2 walks")
    steps = store(study, plan, held, "key", "me", measure_all=draft.measured.all_of)
    assert next(steps).row.state == "added"
    steps.close()
    assert path.exists() and not basket.files[0].is_stored
    rows = list(store(study, plan, held, "key", "me"))
    assert [one.row.state for one in rows] == ["known", "added"]
    assert not path.exists() and basket.files[0].is_stored
    study.close()


def key(part, n, name):
    return {"part": part, "n": n, "name": name}


def test_fields_are_read_as_a_conditions_file_holds_them():
    """Empty ones are left out, yes and no become true and false, numbers stay numbers."""
    given = {
        ("condition", 0, "name"): " brace ",
        ("condition", 0, "markers_replaced"): "no",
        ("condition", 0, "days_worn"): 21,
        ("condition", 1, "name"): "",
        ("visit", 0, "date"): "2026-02-03",
        ("visit", 0, "clonus"): None,
        ("condition", 0, "walk_10m_fast_s#1"): "9.5",
        ("condition", 0, "walk_10m_fast_s#2"): "",
        ("condition", 0, "walk_10m_fast_s#3"): "9,1",
        ("condition", 0, "walk_10m_fast_s#answer"): None,
        ("condition", 0, "timed_up_and_go_s#answer"): "unable",
    }
    found = read_fields([key(*each) for each in given], list(given.values()))
    assert found == {
        ("condition", 0): {
            **{"name": "brace", "markers_replaced": False, "days_worn": 21},
            **{"walk_10m_fast_s": "9.5; 9,1", "timed_up_and_go_s": "unable"},
        },
        ("condition", 1): {},
        ("visit", 0): {"date": "2026-02-03"},
    }


def test_each_repeat_has_a_box_and_what_is_wrong_is_said_once():
    """Boxes hold what was typed, one more is empty; a number and an answer cannot both be."""
    typed = "9.5; 9,1; 9.3; unable"
    drawn = field("form", "condition", 0, "walk_10m_fast_s", typed)
    boxes = [part for part in drawn._traverse() if isinstance(getattr(part, "id", None), dict)]
    assert [box.value for box in boxes] == ["9.5", "9,1", "9.3", "", "unable"]
    keys = [box.id for box in boxes]
    found = read_fields(keys, [box.value for box in boxes])["condition", 0]
    assert found == {"walk_10m_fast_s": typed}
    with pytest.raises(AboutFact) as caught:
        check_fact(CONDITION["walk_10m_fast_s"], typed, "form")
    *none, said = beside_fields(keys, caught.value)
    assert none == [None] * 4 and said.startswith("10-metre walk, fast")


@pytest.mark.parametrize(
    ("person", "code", "names", "date", "said"),
    [
        ("", "v", ["a"], "2026-01-01", "person is missing"),
        ("P", " ", ["a"], "2026-01-01", "visit is missing"),
        ("P", "v", ["a", "a"], "2026-01-01", "name of another one"),
        ("P", "v", ["a", ""], "2026-01-01", "no name"),
        ("P", "v", ["a"], "yesterday", "no date"),
    ],
)
def test_what_is_missing_or_wrong_in_the_form_is_told(person, code, names, date, said):
    """Nothing is guessed in place of what nobody entered."""
    form = {("condition", n): {"name": name} if name else {} for n, name in enumerate(names)}
    form["visit", 0] = {"date": date}
    with pytest.raises(GaitTrackError, match=said):
        visit_of(person, code, form)

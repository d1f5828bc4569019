"""Add walks in a browser: a new person, a second visit, wrong files, landmarks."""

import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from sqlalchemy import func, select

from dashboards.add_walks import uploads
from dashboards.add_walks.visit_form import visit_of
from dashboards.parts.fact_fields import read_fields
from gaittrack.errors import GaitTrackError
from gaittrack.kinematics.landmarks import read_label
from gaittrack.simulate.c3d_writer import write_c3d
from gaittrack.simulate.walk import simulate_walk
from gaittrack.study.laboratory import laboratory_map
from gaittrack.study.originals import original_path
from gaittrack.study.results.keeping import find_trial, known_trials
from gaittrack.study.tables import TRIAL
from tests.dashboards.axe_check import violations
from tests.made_up_files import RECIPE, write_walk

SAMPLES = Path(__file__).parents[2] / "sample_trials"
SLOW_MS = 60_000
"""Measuring files takes longer on a busy machine than what a page usually does."""


@pytest.fixture
def folders(monkeypatch):
    """Give the folders of all baskets that are begun."""
    begun, start = [], uploads.Baskets.start

    def noted(baskets):
        key = start(baskets)
        begun.append(Path(baskets.find(key).folder.name))
        return key

    monkeypatch.setattr(uploads.Baskets, "start", noted)
    return begun


@pytest.fixture
def adding(served_copy, open_page, folders):
    """Open the screen on a study that may be changed."""

    def open_it(**how):
        page = open_page(served_copy, "/add-walks", **how)
        page.set_default_timeout(SLOW_MS)
        page.wait_for_selector("#add-walks-worn fieldset")
        page.wait_for_selector("#add-walks-files-input")
        if "choice" in how:  # what was worn last draws the form again
            page.wait_for_selector("text=Last visit: ")
        return page

    return open_it


@pytest.fixture
def visit_folder(tmp_path):
    """Give a folder of one visit: one walk and one standing trial per condition."""
    source, target = SAMPLES / "P02" / "visit-3", tmp_path / "some-visit"
    for name in ("without-brace", "with-brace"):
        for part in (f"{name}/walk-1.c3d", f"standing/{name}.c3d"):
            (target / part).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy(source / part, target / part)
    return target


def give(page, *paths):
    """Choose files and wait until they are there."""
    before = page.locator("#add-walks-which tbody tr").count()
    page.set_input_files("#add-walks-files-input", [str(path) for path in paths])
    wait_for_files(page, before + len(paths))


def wait_for_files(page, n):
    page.locator("#add-walks-which tbody tr").nth(n - 1).wait_for()


def pick(page, label, option):
    page.get_by_role("textbox", name=label, exact=True).click()
    page.get_by_role("option", name=option, exact=True).locator("visible=true").click()


def look(page):
    page.get_by_role("button", name="Look at the files").click()
    page.wait_for_selector("#add-walks-found table")


def n_trials(served):
    with served.study.read() as connection:
        return connection.execute(select(func.count()).select_from(TRIAL)).scalar()


def found_text(page):
    return page.inner_text("#add-walks-found")


def test_a_new_person_with_two_conditions_is_added_and_seen(
    served_copy, adding, visit_folder, folders
):
    """From a folder to People: guessed, looked at, stored; then nothing of it is left behind."""
    before = n_trials(served_copy)
    page = adding()
    page.get_by_role("textbox", name="Person", exact=True).fill("N01")
    page.wait_for_selector("text=N01 is new")
    pick(page, "Affected side", "right")
    page.get_by_role("textbox", name="Side of the orthosis", exact=True).nth(1).click()
    page.get_by_role("option", name="right", exact=True).locator("visible=true").click()
    page.set_input_files("#add-walks-folder-input", str(visit_folder))
    wait_for_files(page, 4)
    uses = page.locator("#add-walks-which tbody input:not([type=hidden])")
    assert sorted(uses.nth(n).input_value() for n in range(4)) == [
        *("Standing for with-brace", "Standing for without-brace", "with-brace", "without-brace"),
    ]
    look(page)
    assert found_text(page).count("can be stored") == 4
    assert "strides count" in found_text(page)
    assert n_trials(served_copy) == before
    (folder,) = folders
    page.get_by_role("button", name="Store 4 files").click()
    page.wait_for_selector("text=What became of the files")
    page.get_by_role("link", name="the overview of N01").wait_for()
    assert not folder.exists()
    with served_copy.study.read() as connection:
        places = {one.place for one in known_trials(connection, person="N01")}
    assert places == {f"N01/visit-1/{name}/walk-1" for name in ("with-brace", "without-brace")}
    page.get_by_role("link", name="People").last.click()
    row = page.locator("tr", has=page.get_by_role("link", name="N01", exact=True))
    assert "visit-1" in row.inner_text()


def test_a_second_visit_is_filled_in_from_the_last(adding, served_copy):
    """Person, next visit and what was worn stand there; days worn are asked for anew."""
    page = adding(choice={"person": 1})
    page.wait_for_selector("text=Last visit: visit-2")
    value = "document.querySelector('#add-walks-visit-code').value"
    assert page.evaluate(value) == "visit-3"
    names = page.get_by_role("textbox", name="Name of the condition")
    assert {names.nth(n).input_value() for n in range(2)} == {"without-brace", "with-brace"}
    assert page.get_by_role("textbox", name="Footwear").nth(1).input_value() != ""
    days = page.get_by_role("textbox", name="Days worn")
    assert [days.nth(n).input_value() for n in range(2)] == ["", ""]
    assert "Last time it was" in page.inner_text("#add-walks-worn")


def test_wrong_files_are_told_one_by_one_and_nothing_is_stored(
    served_copy, adding, tmp_path, monkeypatch
):
    """No recording, cut short, too large, sent twice, in the study already: each says why."""
    before = n_trials(served_copy)
    with served_copy.study.read() as connection:
        trial = find_trial(connection, "P01/visit-1/with-brace/walk-1")
        sha256 = connection.execute(select(TRIAL.c.sha256).where(TRIAL.c.id == trial.id)).scalar()
    known = tmp_path / "known.c3d"
    shutil.copy(original_path(served_copy.study.folder, sha256, ".c3d"), known)
    large = tmp_path / "large.c3d"
    large.write_bytes(b"\0P" + bytes(2_000_000))
    monkeypatch.setattr(uploads, "MOST_FILE_BYTES", 1024**2)
    page = adding(choice={"person": 1})
    broken = SAMPLES / "broken"
    give(page, broken / "text.c3d", broken / "cut_in_data.c3d", known)
    page.set_input_files("#add-walks-files-input", [str(large), str(known)])
    page.wait_for_selector("text=large.c3d: larger than 1 MB")
    page.wait_for_selector("text=sent twice")
    files = page.inner_text("#add-walks-which")
    assert "it is called .c3d, but is no c3d file" in files.lower()
    assert "The same bytes as known.c3d" in files
    pick(page, "All files without a choice are", "with-brace")
    look(page)
    said = found_text(page)
    assert said.count("cannot be stored") == 2
    assert "The same bytes already stand for P01/visit-1/with-brace/walk-1" in said
    assert "cut_in_data.c3d" in said and "frames" in said
    assert page.locator("#add-walks-store").count() == 0
    assert n_trials(served_copy) == before


def test_what_was_changed_after_the_look_is_not_stored(served_copy, adding, visit_folder):
    """What is stored is what was looked at; else it asks to look again."""
    page = adding(choice={"person": 2})
    give(page, visit_folder / "with-brace" / "walk-1.c3d")
    pick(page, "All files without a choice are", "with-brace")
    look(page)
    before = n_trials(served_copy)
    page.locator("#add-walks-visit-code").fill("another")
    page.get_by_role("button", name="Store 1 file").click()
    page.wait_for_selector(".message.error:has-text('Look at the files again')")
    assert n_trials(served_copy) == before


def test_a_landmark_is_chosen_and_remembered_for_the_laboratory(served_copy, adding, tmp_path):
    """A label that spells nothing is offered for what is missing; the map then finds it."""
    markers = simulate_walk(RECIPE, seed=5).trial.markers
    heel = next(
        label
        for label in markers
        if (read := read_label(label)) and (read.side, read.landmark) == ("left", "heel")
    )
    path = tmp_path / "odd labels.c3d"
    renamed = {"Q7" if label == heel else label: points for label, points in markers.items()}
    write_c3d(path, rate_hz=100.0, markers=renamed)
    page = adding(choice={"person": 1})
    give(page, path)
    pick(page, "All files without a choice are", "with-brace")
    look(page)
    page.wait_for_selector("h2:has-text('Landmarks')")
    pick(page, "Left back of the calcaneus", "Q7")
    page.get_by_role("button", name="Remember these and look again").click()
    page.wait_for_selector("h2:has-text('Landmarks')", state="detached")
    page.wait_for_selector("#add-walks-found table")
    with served_copy.study.read() as connection:
        assert laboratory_map(connection).landmarks == {"left_heel": "Q7"}


def test_leaving_the_screen_throws_the_files_away(adding, visit_folder, folders):
    """Going to another screen deletes what was sent and not stored."""
    page = adding()
    give(page, visit_folder / "with-brace" / "walk-1.c3d")
    (folder,) = folders
    assert len(list(folder.rglob("*.c3d"))) == 1
    with page.expect_response(lambda answer: answer.request.method == "DELETE"):
        page.evaluate("document.querySelector(`nav a[href='/']`).click()")
    assert not folder.exists()


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
    }
    found = read_fields([key(*each) for each in given], list(given.values()))
    assert found == {
        ("condition", 0): {"name": "brace", "markers_replaced": False, "days_worn": 21},
        ("condition", 1): {},
        ("visit", 0): {"date": "2026-02-03"},
    }


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


def test_a_walk_of_another_person_is_asked_about(served_copy, adding, tmp_path):
    """It is stored only once somebody says that the person is the same."""
    stranger = tmp_path / "stranger.c3d"
    write_walk(stranger, seed=7, recipe=replace(RECIPE, body=replace(RECIPE.body, shank_m=0.33)))
    page = adding(choice={"person": 2})
    give(page, stranger)
    pick(page, "All files without a choice are", "with-brace")
    look(page)
    before = n_trials(served_copy)
    assert "seems to be another person's" in found_text(page) and "shank" in found_text(page)
    assert "not stored: asked about" in found_text(page)
    assert violations(page) == []
    store = page.get_by_role("button", name="Store", exact=True)
    page.get_by_role("checkbox", name="It is of the same person: store").check()
    store.click()
    page.wait_for_selector("text=What became of the files")
    assert n_trials(served_copy) == before + 1

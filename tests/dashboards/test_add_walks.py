"""Add walks in a browser: three steps, each file with its state; the third one stores."""

import re
import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from sqlalchemy import func, select

from dashboards.add_walks import uploads
from gaittrack.study.originals import original_path
from gaittrack.study.results.keeping import find_trial, known_trials
from gaittrack.study.tables import CONDITION, TRIAL, VISIT
from tests.dashboards.axe_check import violations
from tests.dashboards.settled import cut_off, settle, until
from tests.faults.large_tree import sheet
from tests.made_up_files import RECIPE, sheet_without_time, write_walk

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
def tree(tmp_path, served_copy):
    """Give a tree as a laboratory drops it: good walks, and one file of each trouble."""
    root = tmp_path / "P02"
    good, broken = SAMPLES / "P02" / "visit-3", SAMPLES / "broken"
    with served_copy.study.read() as connection:
        trial = find_trial(connection, "P02/visit-1/with-brace/walk-1")
        sha256 = connection.execute(select(TRIAL.c.sha256).where(TRIAL.c.id == trial.id)).scalar()
    for name, source in {
        "3/ohne/gang 1.c3d": good / "without-brace" / "walk-1.c3d",
        "3/mit/gang 2.c3d": good / "with-brace" / "walk-1.c3d",
        "3/mit/cut.c3d": broken / "cut_in_data.c3d",
        "3/mit/text.c3d": broken / "text.c3d",
        "3/mit/known.c3d": original_path(served_copy.study.folder, sha256, ".c3d"),
        "3/mit/no feet.c3d": broken / "no_feet.c3d",
        "3/gang 3.c3d": good / "with-brace" / "walk-2.c3d",
    }.items():
        (root / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(source, root / name)
    other = replace(RECIPE, body=replace(RECIPE.body, shank_m=0.33))
    write_walk(root / "3/mit/stranger.c3d", seed=7, recipe=other)
    sheet_without_time(root / "3/mit/sheet.csv")
    return root


def n_trials(served):
    with served.study.read() as connection:
        return connection.execute(select(func.count()).select_from(TRIAL)).scalar()


def row(page, name):
    return page.locator("#add-walks-which tr", has_text=name)


def title_is(page, words):
    page.wait_for_selector(f"#add-walks-title:has-text('{words}')")


def test_a_tree_with_trouble_is_looked_over_and_what_is_ready_is_stored(
    open_page, served_copy, tree, folders
):
    """Guessed, told file by file with one act each, asked once, back and forth; then stored."""
    before = n_trials(served_copy)
    page = open_page(served_copy, "/add-walks", choice={"person": 1})
    page.set_default_timeout(SLOW_MS)
    page.wait_for_selector("#add-walks-person-words:has-text('known, last visit visit-2')")
    page.set_input_files("#add-walks-folder-input", str(tree))
    page.get_by_role("button", name="It is P02").click()
    title_is(page, "Third visit of P02: 2 of 9 files are ready, 7 need a word from you")
    every_row_says_its_state(page)
    wide_and_narrow_light_and_dark(page)
    page.get_by_role("button", name="It is the same person").click()
    settle(page, 60)  # each answer draws the questions anew
    page.get_by_role("combobox", name="What was worn, P02/3", exact=True).select_option(
        "walk:with-brace"
    )
    settle(page, 60)
    page.get_by_role("textbox", name="Frames a second").fill("100")
    page.get_by_role("button", name="Use for these").click()
    title_is(page, "5 of 9 files are ready, 4 need")
    page.get_by_role("checkbox", name="Store P02/3/mit/stranger.c3d").click()
    row(page, "stranger").get_by_text("left out").wait_for()
    page.get_by_role("button", name="Leave out all that need a word").click()
    title_is(page, "all 4 files are ready")
    page.get_by_role("button", name="Something changed").click()
    days = page.get_by_role("textbox", name="Days worn", exact=True)
    assert [days.nth(n).input_value() for n in range(2)] == ["", ""], "asked anew"
    page.get_by_role("button", name="Back to the files").first.click()
    page.get_by_role("button", name="Look at 4 ready files").click()
    page.get_by_role("button", name="Store 4 files").wait_for()
    assert n_trials(served_copy) == before, "nothing is stored before the third step"
    page.get_by_role("button", name="Back to the files").last.click()
    title_is(page, "all 4 files are ready")
    page.get_by_role("button", name="Look at 4 ready files").click()
    page.get_by_role("button", name="Store 4 files").click()
    title_is(page, "Third visit of P02: 4 files stored")
    assert violations(page) == []
    stored_and_gone(page, served_copy, folders[0])


def every_row_says_its_state(page):
    """Look at each kind of trouble: what is wrong, its one act, no tick; and at the guesses."""
    for name, said, act in (
        ("cut.c3d", "The file is cut short", "leave it out"),
        ("text.c3d", "is no C3D file", "leave it out"),
        ("known.c3d", "is known already, as P02/visit-1/with-brace/walk-1", "leave it out"),
        ("no feet.c3d", "", "map its labels|leave it out"),
    ):
        words = row(page, name).inner_text()
        assert said in words and re.search(act, words), words
        assert row(page, name).get_by_role("checkbox").is_disabled()
        link = row(page, name).get_by_role("button", name=re.compile(act)).first
        link.click(trial=True, timeout=2_000)  # nothing lies over it
    for name in ("gang 1", "gang 2"):
        words = row(page, name).inner_text()
        assert "100 frames/s" in words and re.search(r"\d of 8", words) and "ready" in words
    assert "waits for what was worn" in row(page, "gang 3").inner_text()
    assert "waits for the one question above" in row(page, "stranger").inner_text()
    words = row(page, "sheet.csv").inner_text()
    assert "? frames/s" in words and "6 of 8" in words and "waits for the one" in words
    heads = " ".join(page.locator("#add-walks-which .group").all_inner_texts())
    assert "guessed from the folder “ohne”" in heads and "no folder or name says it" in heads
    assert page.locator("#add-walks-asked .asked").count() == 1


def wide_and_narrow_light_and_dark(page):
    """Look at the second step as everybody sees it."""
    for theme, width, is_again in (("Dark", 1366, False), ("Light", 390, True)):
        page.get_by_role("button", name=theme, exact=True).click()
        page.set_viewport_size({"width": width, "height": 844})
        until(page, f"document.documentElement.dataset.theme === '{theme.lower()}'")
        assert violations(page, again=is_again) == []
        assert not page.evaluate("document.documentElement.scrollWidth > innerWidth"), cut_off(page)
    page.set_viewport_size({"width": 1366, "height": 844})


def stored_and_gone(page, served, folder):
    """Each file stands where it was said and is kept here no longer; the ways lead on."""
    with served.study.read() as connection:
        places = {one.place for one in known_trials(connection, person="P02")}
    assert {
        "P02/visit-3/without-brace/gang 1",
        "P02/visit-3/with-brace/gang 2",
        "P02/visit-3/with-brace/gang 3",
        "P02/visit-3/with-brace/sheet",
    } <= places
    assert not list(folder.rglob("gang*"))
    assert len(list(folder.rglob("*.c3d"))) == 4, "those that were not stored wait"
    page.get_by_role("link", name="Walks of P02 that wait").click()
    page.wait_for_selector(".banner strong:has-text('P02')")
    page.wait_for_selector(".walks-list:has-text('visit-3')")
    settle(page)
    assert not folder.exists(), "what was not stored goes when the screen is left"


def test_two_people_in_one_tree_are_stored_one_after_the_other(
    open_page, served_copy, tmp_path, monkeypatch
):
    """Each visit is told with its files; when one is stored, the next one is open.

    More files than are taken at once are told before any is sent.
    """
    monkeypatch.setattr(uploads, "MOST_FILES", 2)
    for person, source in (("P01", "visit-3"), ("P02", "visit-3")):
        place = tmp_path / "week" / person / "3" / "with brace"
        place.mkdir(parents=True)
        shutil.copy(SAMPLES / person / source / "with-brace" / "walk-1.c3d", place / "w.c3d")
    page = open_page(served_copy, "/add-walks")
    page.set_default_timeout(SLOW_MS)
    page.wait_for_selector("#add-walks-folder-input", state="attached")
    page.set_input_files("#add-walks-files-input", [SAMPLES / "broken" / "text.c3d"] * 3)
    page.wait_for_selector("#add-walks-sending:has-text('3 files: at most 2 at once')")
    page.set_input_files("#add-walks-folder-input", str(tmp_path / "week"))
    title_is(page, "Third visit of P01: the file is ready")
    assert "The folders name 2 visits" in page.inner_text("#add-walks-asked")
    for person, after in (("P01", "Go on with 1 file left here"), ("P02", "Add more walks")):
        title_is(page, f"Third visit of {person}: the file is ready")
        page.get_by_role("button", name="Look at 1 ready file").click()
        page.get_by_role("button", name="Store 1 file").click()
        title_is(page, f"Third visit of {person}: 1 file stored")
        way = page.get_by_text(after, exact=True)
        way.wait_for()
        if person == "P01":
            way.click()
    with served_copy.study.read() as connection:
        for person in ("P01", "P02"):
            places = {one.place for one in known_trials(connection, person=person)}
            assert f"{person}/visit-3/with-brace/w" in places


def test_all_visits_of_a_tree_are_looked_over_and_stored_at_once(open_page, served_copy, tmp_path):
    """What is open is asked of all of them; said, each file goes where its folders say."""
    for number, place in enumerate(
        ("A71/2024-03-05/ohne", "A71/2024-03-05/mit", "A72/2024-04-05/mit")
    ):
        folder = tmp_path / "year" / place
        folder.mkdir(parents=True)
        (folder / "gang 1.csv").write_text(sheet(number), encoding="utf-8")
    page = open_page(served_copy, "/add-walks")
    page.set_default_timeout(SLOW_MS)
    page.wait_for_selector("#add-walks-folder-input", state="attached")
    page.set_input_files("#add-walks-folder-input", str(tmp_path / "year"))
    page.get_by_role("button", name="All of them at once").click()
    part = page.locator("#add-walks-special")
    part.get_by_text("3 files: 2 people, 2 visits").wait_for()
    assert part.get_by_role("button", name="That is so").count() == 0, "no side of the brace yet"
    assert violations(page, "#add-walks-special") == []
    page.set_viewport_size({"width": 390, "height": 844})
    assert not page.evaluate("document.documentElement.scrollWidth > innerWidth"), cut_off(page)
    heads = "all => all.map(one => getComputedStyle(one, '::before').content)"
    told = part.locator("tbody tr").first.locator("td").evaluate_all(heads)
    assert ['"visit: "', '"condition: "'] == [told[0], told[2]]
    page.set_viewport_size({"width": 1366, "height": 844})
    part.get_by_label("mit: ankle-foot orthosis").select_option("with brace left, shoe")
    part.get_by_label("mit: ankle-foot orthosis left shoe").select_option("")
    part.get_by_label("A71: side of the brace").select_option("right")
    part.locator("tr:has-text('A71'):has-text('right')").wait_for()
    part.get_by_label("A72: side of the brace").select_option("left")
    part.get_by_role("button", name="That is so: look at all 3 files").click()
    page.get_by_role("button", name="Store 3 files").click()
    title_is(page, "All visits: 3 files stored")
    with served_copy.study.read() as connection:
        found = [
            one.place for code in ("A71", "A72") for one in known_trials(connection, person=code)
        ]
        query = select(CONDITION.c.description).join(VISIT).where(VISIT.c.date == "2024-04-05")
        assert '"left"' in connection.execute(query).scalar()
    assert len(found) == 3 and "A72/2024-04-05/mit/gang 1" in found

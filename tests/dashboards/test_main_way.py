"""The laboratory's way in a browser: files in, looked over, compared, printed; and who may."""

import re
import shutil
import threading
from pathlib import Path

import pytest
from sqlalchemy import func, select

from dashboards.add_walks import look_and_store
from dashboards.walks.recording_view import STALE
from gaittrack import __version__
from gaittrack.compare.walked.questions import QUESTION_CODES
from gaittrack.study.history import entries
from gaittrack.study.results.keeping import known_trials, stale_trials
from gaittrack.study.store import open_study
from gaittrack.study.tables import TRIAL
from gaittrack.study.upkeep.users import add_user
from tests.dashboards.axe_check import violations
from tests.dashboards.conftest import Served
from tests.dashboards.settled import cut_off, on_paper, settle
from tests.study.planted_results import plant

SAMPLES = Path(__file__).parents[2] / "sample_trials"
SLOW_MS = 90_000
PASSWORD = "four words in row"


def opened(open_page, served, way="/add-walks", **how):
    page = open_page(served, way, **how)
    page.set_default_timeout(SLOW_MS)
    return page


def drop(page, *paths):
    """Drop files or folders on the screen as the mouse does."""
    zone = page.locator("#add-walks-drop")
    zone.scroll_into_view_if_needed()
    box = zone.bounding_box()
    session = page.context.new_cdp_session(page)
    given = {"items": [], "files": [str(path) for path in paths], "dragOperationsMask": 1}
    for kind in ("dragEnter", "dragOver", "drop"):
        place = {"x": box["x"] + 20, "y": box["y"] + 20}
        session.send("Input.dispatchDragEvent", {"type": kind, "data": given, **place})


def n_trials(served):
    with served.study.read() as connection:
        return connection.execute(select(func.count()).select_from(TRIAL)).scalar()


def go(page, name):
    page.get_by_role("navigation").get_by_role("link", name=name, exact=True).click()
    page.wait_for_selector(f"main h1:has-text('{name}')")


@pytest.fixture
def two_walks_each(tmp_path):
    """Give a folder with two walks and a standing trial of either condition."""
    source, target = SAMPLES / "P02" / "visit-3", tmp_path / "visit"
    parts = [f"{name}/walk-{n}.c3d" for name in ("without-brace", "with-brace") for n in (1, 2)]
    for part in (*parts, "standing/without-brace.c3d", "standing/with-brace.c3d"):
        if (source / part).is_file():
            (target / part).parent.mkdir(parents=True, exist_ok=True)
            (target / part).write_bytes((source / part).read_bytes())
    assert len(list(target.rglob("walk-*.c3d"))) == 4
    return target


def test_files_are_dropped_looked_over_compared_and_printed(open_page, served_copy, two_walks_each):
    """A folder from the mouse to the page for the file: one person's way through four screens."""
    page = opened(open_page, served_copy)
    page.wait_for_selector("#add-walks-files-input", state="attached")
    page.get_by_role("textbox", name="Person", exact=True).fill("N01")
    page.wait_for_selector("text=N01 is new")
    drop(page, two_walks_each)
    page.get_by_role("button", name="Look at 6 ready files").click()
    page.get_by_text("Give Side of the orthosis: left, right or both.").wait_for()
    for nth, field in ((0, "Affected side"), (1, "Side of the orthosis")):
        page.get_by_role("textbox", name=field, exact=True).nth(nth).click()
        page.get_by_role("option", name="right", exact=True).locator("visible=true").click()
    page.get_by_role("button", name="Back to the files").click()
    page.get_by_role("button", name="Look at 6 ready files").click()
    page.get_by_role("button", name="Store 6 files").click()
    page.get_by_role("link", name="The overview of N01").click()
    page.wait_for_selector(".banner strong:has-text('N01')")

    go(page, "Walks")
    page.wait_for_selector(".walks-place h2:has-text('walk-1')")
    settle(page, 60)
    page.locator(".walks-grid .walks-plot[data-side=right]").wait_for()
    page.get_by_role("textbox", name=re.compile("^Reason")).fill("seen on the video")
    page.keyboard.press("Escape")
    page.get_by_role("button", name="Looked at: it is right").click()
    page.wait_for_selector(".message:has-text('looked at and found right')")

    go(page, "Compare")
    page.wait_for_selector("#compare-body .answer")
    settle(page, 60)
    assert page.locator(".answer > table.board tbody tr").count() == len(QUESTION_CODES)
    assert "2 walks in each condition" in page.inner_text(".fair > summary")
    with on_paper(page):
        assert cut_off(page) == []
        assert page.pdf(prefer_css_page_size=True).startswith(b"%PDF")
    with page.expect_download() as download:
        page.get_by_role("button", name="Page for the file").click()
    paper = download.value.path().read_text(encoding="utf-8")
    assert "<b>N01</b> · visit-1" in paper and "affected side: right" in paper
    with served_copy.study.read() as connection:
        assert len(known_trials(connection, person="N01")) == 4


def test_storing_is_stopped_after_the_file_at_hand(
    open_page, served_copy, two_walks_each, monkeypatch
):
    """What was stored by then stays; how many were not is said, and they wait for another try."""
    measured = look_and_store.import_files

    def slowly(*given, **how):
        for row in measured(*given, **how):
            yield row
            if not how.get("dry_run"):
                page_is_told.wait(20)

    page_is_told, n_before = threading.Event(), n_trials(served_copy)
    monkeypatch.setattr(look_and_store, "import_files", slowly)
    page = opened(open_page, served_copy, choice={"person": 2})
    page.wait_for_selector("#add-walks-files-input", state="attached")
    for path in two_walks_each.rglob("standing/*"):
        path.unlink()
    drop(page, two_walks_each)
    page.get_by_role("button", name="Look at 4 ready files").click()
    page.get_by_role("button", name="Store 4 files").click()
    page.get_by_text("Storing files: 1 of 4").wait_for()  # stopped sooner, it would be over at once
    page.get_by_role("button", name="Stop after this file").click()
    page.wait_for_selector("button:disabled:has-text('Stop after this file')")
    assert violations(page) == []
    page_is_told.set()
    page.wait_for_selector("#add-walks-found:has-text('Stopped after')")
    said = page.inner_text("#add-walks-found")
    n_stored, n_all = map(int, re.search(r"after (\d) of (\d)", said).groups())
    assert 0 < n_stored < n_all
    assert "the rest was not stored" in said
    assert n_trials(served_copy) - n_before == n_stored
    page.get_by_text(f"Go on with {n_all - n_stored} file").wait_for()


def test_a_stale_walk_is_measured_again_where_it_is_seen(open_page, served_copy):
    """One press, no reason asked for; the stored numbers are of today's version then."""
    study = served_copy.study
    with study.read() as connection:
        trial = known_trials(connection, person="P01")[0]
    with study.write() as connection:
        plant(connection, trial.id, software_version="0.0")
    chosen = {"person": 1, "visit": 1, "trial": trial.id}
    page = opened(open_page, served_copy, "/walks", choice=chosen)
    page.get_by_text(STALE).wait_for()
    settle(page, 60)
    assert violations(page, ".watch") == []
    page.get_by_role("button", name="Measure this walk again").click()
    page.wait_for_selector(f".message:has-text('measured again by version {__version__}')")
    assert page.get_by_text(STALE).count() == 0
    assert stale_trials(study, person="P01") == []
    with study.read() as connection:
        assert entries(connection, person="P01")[-1]["what"] == "measure again"


def test_no_name_of_a_stride_is_cut_on_a_phone(open_page, served):
    """Neither that of the last one, which is seldom whole."""
    page = opened(open_page, served, "/walks", choice={"person": 1}, width=390)
    page.wait_for_selector(".walks-plot .stride text", state="attached")
    settle(page, 60)
    over = """() => [...document.querySelectorAll('.walks-plot')].flatMap(plot => {
      const edge = plot.getBoundingClientRect();
      return [...plot.querySelectorAll('.stride text')].filter(one => {
        const box = one.getBoundingClientRect();
        return box.right > edge.right + 1 || box.left < edge.left - 1;
      }).map(one => one.textContent);
    })"""
    assert page.locator(".walks-plot .stride text").count() > 4
    assert page.evaluate(over) == []


def test_who_may_only_look_is_told_so_and_finds_nothing_to_change(study_copy, open_page):
    """On Add walks in words; elsewhere no button that would be refused, and no error."""
    add_user(study_copy.study, "vera", PASSWORD, ["view"], who="tests")
    page = study_copy.sign_in(open_page, "vera")
    go(page, "Add walks")
    page.wait_for_selector("text=You may look, but not add walks here")
    assert violations(page) == []
    assert page.locator("input[type=file]").count() == 0
    go(page, "People")
    page.get_by_role("link", name="P01", exact=True).click()
    page.wait_for_selector(".banner strong:has-text('P01')")
    page.locator("#people-about-head").click()
    assert not page.get_by_role("textbox", name="Fill in or correct").is_visible()
    for name in ("Walks", "Compare", "Overview", "For the person", "Cohort"):
        go_on(page, name)
        settle(page, 60)
        assert page.locator(".message.error").count() == 0, page.inner_text(".message")
        for words in ("Looked at: it is right", "Save as a file", "Export"):
            assert page.get_by_role("button", name=words, exact=True).count() == 0


def go_on(page, name):
    """Go to a screen whose heading may be another."""
    page.get_by_role("navigation").get_by_role("link", name=name, exact=True).click()
    page.wait_for_selector(f"nav a.here:has-text('{name}')")


@pytest.fixture
def study_copy(study_folder, tmp_path):
    """Serve a copy to people who sign in."""
    folder = shutil.copytree(study_folder, tmp_path / "study")
    study = open_study(folder)
    add_user(study, "adam", PASSWORD, ["administer"], who="tests")
    study.close()
    served = Served(folder, signs_in=True)

    def sign_in(open_page, name):
        page = open_page(served)
        page.set_default_timeout(SLOW_MS)
        page.get_by_label("Name").fill(name)
        page.get_by_label("Password").fill(PASSWORD)
        page.keyboard.press("Enter")
        page.wait_for_selector("main h1:has-text('People')")
        return page

    served.sign_in = sign_in
    yield served
    served.close()

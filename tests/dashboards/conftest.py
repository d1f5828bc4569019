"""The dashboard on a small made-up study, in real Chromium.

No browser is a skip for a user and a failure in CI. A page that asks anything of another host, or
throws, fails its test.
"""

import os
import shutil
import threading
from urllib.parse import urlsplit

import pytest

from dashboards.serving import Server
from dashboards.shell.place import Place, PlaceError
from gaittrack.cohort.asking.view import read_cohort
from gaittrack.simulate.scenario import PATIENTS
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import plan_folders
from gaittrack.study.store import create_study, open_study
from tests.dashboards.settled import WATCH, choose
from tests.made_once import made_once
from tests.made_up_files import sample_visit

CHROMIUM_OPTIONS = [
    *("--no-sandbox", "--disable-dev-shm-usage", "--disable-background-networking"),
    *("--disable-component-update", "--host-resolver-rules=MAP * ~NOTFOUND , EXCLUDE 127.0.0.1"),
    "--process-per-site",  # one process compiles the scripts for all pages of a profile
]


@pytest.fixture(scope="session")
def study_folder(tmp_path_factory):
    """Give a study of P01 and P02, two visits each; tests that change it take a copy."""
    walks = tmp_path_factory.mktemp("walks")

    def make(folder):
        for patient in PATIENTS[:2]:
            for number in (1, 2):
                sample_visit(patient.code, number, walks / patient.code / f"visit-{number}")
        study = create_study(folder)
        try:
            rows = list(import_files(study, plan_folders([walks]), who="tests", new_people=True))
            read_cohort(study)  # compared once, not by every server of a copy
        finally:
            study.close()
        assert {row.state for row in rows} <= {"added", "passed over"}, rows

    return made_once(tmp_path_factory, "dashboard-study", make)


class Served:
    """A study on a loopback port; ``address`` opens the door. Named users sign in instead.

    A study that is served after another is served at its port, if nobody took that: a browser
    knows the scripts from there already.
    """

    free = set()

    def __init__(self, folder, **place):
        self.study = open_study(folder)
        port = Served.free.pop() if Served.free else 0
        try:
            self.server = Server(self.study, Place(port=port, **place), who="tester")
        except PlaceError:
            self.server = Server(self.study, Place(port=0, **place), who="tester")
        self.base, self.address = self.server.base, self.server.address
        self.thread = threading.Thread(target=self.server.run, daemon=True)
        self.thread.start()

    def close(self):
        self.server.stop()
        self.thread.join(10)
        assert not self.thread.is_alive()
        self.study.close()
        Served.free.add(urlsplit(self.base).port)


@pytest.fixture(scope="session")
def served(study_folder):
    """Serve the study that no test changes."""
    one = Served(study_folder)
    yield one
    one.close()


@pytest.fixture
def served_copy(study_folder, tmp_path):
    """Serve a copy that a test may change."""
    folder = tmp_path / "study"
    shutil.copytree(study_folder, folder)
    one = Served(folder)
    yield one
    one.close()


def chromium():
    """Return where Chromium is, or None; without windows it needs half of the time."""
    names = ("chromium-headless-shell", "chromium")
    return os.environ.get("CHROMIUM") or next(filter(None, map(shutil.which, names)), None)


@pytest.fixture(scope="session")
def browser():
    """Start Chromium once."""
    playwright = pytest.importorskip("playwright.sync_api")
    program = chromium()
    if program is None:
        if os.environ.get("CI"):
            pytest.fail("no chromium, and CI must test in a browser")
        pytest.skip("no chromium")
    with playwright.sync_playwright() as started:
        one = started.chromium.launch(executable_path=program, args=CHROMIUM_OPTIONS)
        yield one
        one.close()


class Profile:
    """What a browser keeps between pages: its scripts stay compiled, all else is forgotten."""

    def __init__(self, browser):
        self.context = browser.new_context(accept_downloads=True)
        self.idle = self.context.new_page()
        self.met = set()

    def new_page(self, base):
        """Open a page for a server, whose process goes on when none of its pages is open."""
        if not self.met:
            self.idle.goto(f"{base}/_favicon.ico")
        self.met.add(base)
        return self.context.new_page()

    def forget(self):
        """Close every page; leave no cookie and nothing stored."""
        for page in self.context.pages:
            if page != self.idle:
                page.close()
        self.context.clear_cookies()
        session = self.context.new_cdp_session(self.idle)
        for base in self.met:
            one = {"origin": base, "storageTypes": "local_storage"}
            session.send("Storage.clearDataForOrigin", one)
        session.detach()


@pytest.fixture(scope="session")
def profile(browser):
    """Give the profile that pages of one test after the other are opened in."""
    one = Profile(browser)
    yield one
    one.context.close()


@pytest.fixture
def open_page(browser, profile):
    """Give a function: ``open_page(served, path="/", width=1280, choice={"person": 1}, …)``.

    A second page of a test is somebody else's: it has a profile of its own.
    """
    contexts, outside, thrown = [], [], []

    def open_it(served, path="/", *, width=1280, height=900, dark=False, choice=None):
        page = browser.new_context().new_page() if contexts else profile.new_page(served.base)
        context = page.context
        contexts.append(context)
        page.set_viewport_size({"width": width, "height": height})
        page.emulate_media(color_scheme="dark" if dark else "light")
        page.set_default_timeout(15_000)
        page.add_init_script(WATCH)
        own = (served.base, "data:", "blob:")
        page.on("request", lambda r: None if r.url.startswith(own) else outside.append(r.url))
        page.on("pageerror", lambda error: thrown.append(str(error)))
        context.request.get(served.address)  # the door; its cookie is the page's as well
        if choice:
            choose(page, choice)
        page.goto(served.base + path)
        page.wait_for_selector("main h1")
        return page

    yield open_it
    told = list(thrown)  # a request that closing the page cuts off is no error of the page
    profile.forget()
    for context in contexts[1:]:
        context.close()
    assert outside == [], "a request left this machine"
    assert told == []


@pytest.fixture
def page(open_page, served):
    """Open the first screen of the study that no test changes."""
    return open_page(served)

"""Whatever codes, names and texts say: no screen runs it, shows it raw, or grows wider by it."""

import os

import pytest

from dashboards.app import SCREENS
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import plan_folders
from gaittrack.study.store import create_study
from tests.commands.test_evil_texts import BYTES, PERSON, UNSEEN, VISIT, WITH, WITHOUT, conditions
from tests.dashboards.conftest import Served
from tests.dashboards.settled import cut_off, lead, settle
from tests.made_once import made_once
from tests.study.conftest import write_visit

LONG = "W" * 400
EVIL = f"<img src=x onerror=window.ran=1><script>window.ran=1</script>\u202e{LONG}"
BRACE = f"<img src=x onerror=window.ran=1>{'W' * 160}"
RAN = "() => [window.ran, document.querySelectorAll('[onx], [onerror], img[src=x]').length]"


@pytest.fixture(scope="module")
def evil(tmp_path_factory):
    """Serve a study of one person, evil wherever it may be any text."""
    walks = tmp_path_factory.mktemp("evil") / "walks"

    def make(folder):
        made = write_visit(walks / "made" / "P01" / "visit-1", standing=False)
        visit = walks / "all" / PERSON / VISIT
        visit.mkdir(parents=True)
        for old, new in (("without-brace", WITHOUT), ("with-brace", WITH)):
            (made / old).rename(visit / new)
            for number, name in enumerate(BYTES, 1):
                old_name = visit / new / f"walk-{number}.c3d"
                os.rename(old_name, os.fsencode(visit / new) + b"/" + name)
        (visit / "conditions.toml").write_text(conditions(EVIL, BRACE), encoding="utf-8")
        study = create_study(folder)
        rows = list(import_files(study, plan_folders([walks / "all"]), who=EVIL, new_people=True))
        study.close()
        assert {row.state for row in rows} == {"added"}, rows

    one = Served(made_once(tmp_path_factory, "evil-study", make))
    yield one
    one.close()


def test_no_screen_obeys_what_a_text_says(open_page, evil, subtests):
    """Wide and on a phone, from one load: nothing ran, nothing unseen, nothing sticks out."""
    page = open_page(evil, choice={"person": 1})
    settle(page)
    for address, _, _ in SCREENS:
        if address != "/":
            lead(page, address)
        with subtests.test(address):
            obeys_nothing(page)


def obeys_nothing(page):
    """Look at a screen in both widths."""
    for width in (390, 1280):
        page.set_viewport_size({"width": width, "height": 900})
        settle(page)
        assert page.evaluate(RAN) == [None, 0]
        assert not UNSEEN.search(page.inner_text("body"))
        sideways = page.evaluate("document.documentElement.scrollWidth > innerWidth")
        assert not sideways, cut_off(page)
    assert page.locator(".message.error, .lost").count() == 0

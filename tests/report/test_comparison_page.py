"""The page as a browser shows it: parts, order, replay and single steps."""

import json
import re
import shutil
import subprocess
from dataclasses import replace

import pytest

from gaittrack.compare_files import compare_files
from gaittrack.notice import NOTICE
from gaittrack.record.visit_facts import VisitFacts
from gaittrack.report.comparison_page import EXAMINED, comparison_page, page_title
from tests.made_up_files import RECIPE, write_walk
from tests.planted_facts import NOTHING_EXAMINED

BROWSER = shutil.which("chromium")
USE = """<script>
var slider = document.getElementById("replay-time");
slider.value = 50; slider.dispatchEvent(new Event("input"));
document.getElementById("show-steps").click();
</script></body>"""


@pytest.fixture(scope="module")
def result(tmp_path_factory):
    """Give a comparison of two by two made-up walks."""
    folder = tmp_path_factory.mktemp("page")
    recipes = {"shoe": RECIPE, "brace": replace(RECIPE, speed_m_s=1.1)}
    files = {name: [folder / f"{name}-{n}.c3d" for n in (1, 2)] for name in recipes}
    for name, recipe in recipes.items():
        for seed, path in enumerate(files[name], 1 if name == "shoe" else 5):
            write_walk(path, seed=seed, recipe=recipe)
    return compare_files(files, reference="shoe", affected="left")


@pytest.fixture(scope="module")
def page(result):
    """Give its page."""
    return comparison_page(result)


def test_page_ends_with_what_defends_the_numbers(page):
    """Sources, settings and definitions stand after the results, the notice last."""
    heads = re.findall(r"<h2>([^<]+)</h2>", page)
    results = heads.index("brace against shoe")
    for name in (
        *("Walks, events and zero", "Filters", "Measurement error and its sources"),
        *("Typical ranges", "Settings", "Definitions"),
    ):
        assert heads.index(name) > results
    assert page.index("Definitions</h2>") < page.index(NOTICE[:40])


def test_what_was_examined_stands_on_the_page_of_stored_walks_only(result, page):
    """By visit, before the numbers, beside what recordings cannot show; files tell nothing."""
    found = NOTHING_EXAMINED | {"skin": "<b>red</b>", "right_tone": "1+"}
    visits = [
        VisitFacts(1, "visit-1", found),
        VisitFacts(2, "visit-2", found | {"right_mediolateral_stability": "tilts into varus"}),
    ]
    stored = comparison_page(result, visits)
    section = re.search(rf"<section><h2>{EXAMINED}</h2>(.*?)</section>", stored)[1]
    rows = [
        re.findall(r"<td[^>]*>(.*?)</td>", row) for row in re.findall(r"<tr>(<td.*?)</tr>", section)
    ]
    ankle = "mediolateral stability of the ankle under load, right"
    assert [ankle, "not recorded", "tilts into varus"] in rows
    assert ["skin under the brace, in words", *["&lt;b&gt;red&lt;/b&gt;"] * 2] in rows
    assert "Not recorded: strength of the quadriceps" in section
    assert stored.index("skin under the brace") < stored.index('class="board"')
    said = f"Examined at visit-2: {ankle}: tilts into varus; muscle tone of the calf, right: 1+; "
    assert (
        "the state of the skin, pain. Examined at visit-1: muscle tone of the calf, right: 1+; "
        in stored
    )
    assert said in stored and "<b>red" not in stored
    assert "Examin" not in page


def test_every_row_of_the_comparison_is_on_the_page(result, page):
    """One table row for each, headline and other."""
    rows = page.count('data-head="What may be said"')
    assert rows == len(result.comparison.rows)


def test_signs_stand_above_the_board_and_are_marked_when_one_fires(result):
    """And are not marked when none does."""
    comparison = result.comparison
    calm = tuple(replace(item, status="clear") for item in comparison.watch)
    loud = (replace(calm[0], status="fires"), *calm[1:])
    for watch, is_marked in ((calm, False), (loud, True)):
        drawn = comparison_page(replace(result, comparison=replace(comparison, watch=watch)))
        assert ('class="signs fired"' in drawn) is is_marked
        assert drawn.index("Signs to look at") < drawn.index('class="board"')


def test_title_names_every_condition(result):
    """The reference last."""
    assert page_title(result.comparison) == "Walking: brace against shoe"


@pytest.mark.skipif(BROWSER is None, reason="no browser on this machine")
def test_slider_moves_the_legs_and_steps_can_be_shown(page, tmp_path):
    """In a browser: half-way along, each leg has the points of the middle frame."""
    file = tmp_path / "page.html"
    file.write_text(page.replace("</body>", USE), encoding="utf-8")
    options = ("--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={tmp_path / 'own'}")
    shown = subprocess.run(
        [BROWSER, *options, "--dump-dom", file.as_uri()], capture_output=True, text=True, check=True
    ).stdout
    data = re.search(r'id="replay-data">(.*?)</script>', page, re.S)
    walks = json.loads(data[1])
    for number, walk in enumerate(walks):
        middle = walk["frames"][round(0.5 * (len(walk["frames"]) - 1) + 1e-9)]
        part = shown[shown.index(f'id="replay-{number}"') :]
        legs = re.findall(r'data-leg="\d".*?points="([^"]+)"', part, re.S)[: len(middle)]
        assert legs == middle
    assert '<body class="show-steps">' in shown

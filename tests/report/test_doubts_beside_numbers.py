"""A marker that drifted in some walks: the doubt stands once beside each number, wherever it is."""

import math
from dataclasses import fields
from types import SimpleNamespace

import pytest

import gaittrack
from dashboards.overview.screen import _measure
from dashboards.walks.editing import changes_box
from gaittrack.answer import answers
from gaittrack.commands.follow_text import following_text
from gaittrack.compare.row_words import doubts
from gaittrack.figures.setting_panels import SetAnswer, draw_setting_panels
from gaittrack.figures.visit_panels import draw_panels
from gaittrack.reasons import Reason
from gaittrack.report.html_parts import drawn
from gaittrack.report.language import language, language_codes
from gaittrack.report.visit_panels import panels_html
from gaittrack.simulate.sample_trials import write_trial
from gaittrack.study.corrections.changed_values import changed_values
from gaittrack.study.results.over_visits import Following, Progress
from tests.faults.good_recordings import SAMPLES, Good, measured, read
from tests.faults.wild_walks import _ramp, _shifted
from tests.report.person_pages import page_of

CONDITIONS = ("without-brace", "with-brace")
CLEARANCE = "minimum_toe_clearance_mm"
DOUBT = "doubted: The mean distance of the marker (left toe) to the others of its bone differs by"


def drifted(trial, by_m):
    return _shifted("toe", by_m, "ahead", _ramp)(Good("toe", trial))


@pytest.fixture(scope="module")
def found(tmp_path_factory):
    """Compare two walks of each condition; in each the toe drifts, in one of two further."""
    folder = tmp_path_factory.mktemp("drift")
    for condition in CONDITIONS:
        (folder / condition).mkdir()
        for number, by_m in ((1, 0.011), (2, 0.014)):
            name = f"{condition}/walk-{number}.c3d"
            write_trial(folder / name, drifted(read(SAMPLES / "P01" / "visit-1" / name), by_m))
    own = {name: folder / name for name in CONDITIONS}
    return gaittrack.compare(own, reference=CONDITIONS[0], affected="left")


def test_walks_that_differ_in_the_figure_are_told_once(found):
    """With the larger figure, and for each condition where it is of both."""
    (row,) = (r for r in found.comparison.rows if (r.measure, r.side) == (CLEARANCE, "left"))
    told = [label for label in row.labels if "distance_creeps" in repr(label)]
    assert [each["condition"] for each in told] == list(CONDITIONS)
    assert doubts(row.labels) == [
        f"{DOUBT} up to 9 mm from stride to stride: it slipped or drifted."
    ]
    values = found.values()
    own = values[(values["measure"] == CLEARANCE) & (values["side"] == "left")]
    assert own["labels"].str.count("doubted").tolist() == [1] * 4


def test_panels_give_a_number_beside_the_measure_and_the_words_once_below(found):
    """Over the visits, and against a setting."""
    (answer,) = answers(found.comparison)
    days = [SimpleNamespace(code=f"visit-{n}", facts={"days_since_first_visit": n}) for n in (1, 9)]
    visits = panels_html(draw_panels([SimpleNamespace(visit=d, answer=answer) for d in days]))
    given = [SetAnswer(answer, n, float(n), str(n), f"lift-{n}") for n in (0, 1)]
    settings = drawn("panels.settings", "title", "", draw_setting_panels(given), "", "")
    for shown in (visits, settings):
        assert shown.count(DOUBT) == 1
        panel = shown[shown.index("How the toe clears") :]
        assert '<b class="doubt">! 1</b>' in panel[: panel.index("</p>")]


@pytest.mark.parametrize("code", language_codes())
def test_the_page_for_the_person_says_that_numbers_are_doubted(found, code):
    """In plain words, and not where nothing is doubted."""
    said = language(code).texts["fair.doubted"]
    visit = gaittrack.compare(
        {
            name: sorted((SAMPLES / "P01/visit-1" / name).glob("walk-[12].c3d"))
            for name in CONDITIONS
        },
        reference=CONDITIONS[0],
        affected="left",
    )
    for each, is_said in ((found, True), (visit, False)):
        page = page_of((each.comparison, list(each.records)), code)
        texts = [text for one in page.lists if one.name == "about" for text, _ in one.items]
        assert (said in texts) == is_said


def test_what_a_correction_changed_says_what_is_doubted():
    """Walk values before and after, each with the number of its doubt."""
    trial = read(SAMPLES / "P01" / "visit-1" / "with-brace" / "walk-1.c3d")
    changes = changed_values(measured(trial), measured(drifted(trial, 0.011)))
    shown = repr(changes_box(changes, "done", "8", "8"))
    lines = [(one.after.labels, one.before.labels) for one in changes]
    n_doubted = sum(bool(doubts(after)) for after, _ in lines)
    assert not any(doubts(before) for _, before in lines)
    assert n_doubted and shown.count("strides) ! 1<") == n_doubted
    assert shown.count(DOUBT) == 1


def test_over_visits_a_doubted_number_has_its_mark():
    """In the row, with the words below; a number that nothing doubts has none."""
    why = Reason("stands_otherwise", names=("left_toe",), by=12)
    label = Reason("of_condition", condition="visit-1", label=Reason("doubted", why=why))
    facts = {each.name: math.nan for each in fields(Progress)}
    facts |= {"measure": "minimum_toe_clearance_mm", "side": "left", "condition": "shoe"}
    facts |= {"n_walks": 3, "value": 11.0, "verdict": "first_visit", "reason": None}
    facts |= {"visit": "visit-1", "measurement_error_source": None}
    rows = tuple(Progress(**facts | {"labels": labels}) for labels in ((label,), ()))
    found = Following("P01", "left", "shoe", rows, (), (), (), ())
    lines = following_text(found).splitlines()
    first = next(n for n, line in enumerate(lines) if "visit-1" in line)
    assert lines[first].endswith(" ! 1") and "!" not in lines[first + 1]
    assert lines[first + 2].startswith("! 1 visit-1: doubted: ")
    assert repr(list(_measure(found, "minimum_toe_clearance_mm"))).count("! 1") == 2

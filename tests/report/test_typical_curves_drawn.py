"""A typical curve of the laboratory stands behind the curves where it holds, and only there."""

import re
import shutil
from pathlib import Path

import pytest

import gaittrack
from gaittrack.compare.comparison import comparison_dict
from gaittrack.report.comparison_page import comparison_page

VISIT = Path(__file__).parents[2] / "sample_trials" / "P01" / "visit-1"
CONDITIONS = ("without-brace", "with-brace")
HOLDS = "lowest_speed_m_s=0.3\nhighest_speed_m_s=1.5\nyoungest_years=40\noldest_years=49\n"


@pytest.fixture(scope="module")
def visit(tmp_path_factory):
    """Give a visit of one walk each, of somebody of 40 to 49 years."""
    folder = tmp_path_factory.mktemp("visit")
    shutil.copy(VISIT / "conditions.toml", folder)
    for condition in CONDITIONS:
        (folder / condition).mkdir()
        shutil.copy(VISIT / condition / "walk-1.c3d", folder / condition)
    shutil.copytree(VISIT / "standing", folder / "standing")
    return folder


def compared(visit, folder, reach):
    """Compare the visit with a typical ankle of that reach."""
    own = folder / "own.toml"
    numbers = f"mean = {[10.0] * 101}\nsd = {[2.5] * 101}\n"
    own.write_text(f"[curves.ankle]\n{numbers}source = 'own 30 adults'\n{reach}")
    paths = {condition: visit / condition for condition in CONDITIONS}
    return gaittrack.compare(paths, reference="without-brace", typical=own)


def drawn(page):
    """Return how often each figure caption of an ankle or knee names the curve, and its lines."""
    figures = re.findall(r"<figure><figcaption>(.*?)</figure>", page, re.S)
    return {
        (title, figure.count("own 30 adults") > 0, figure.count('class="typical"'))
        for figure in figures
        for title in ("Ankle", "Knee")
        if figure.startswith(title)
    }


def test_the_curve_is_drawn_and_named_where_it_holds(visit, tmp_path):
    """Behind the angle it is of; its source stands with the settings, the ranges stay."""
    found = compared(visit, tmp_path, HOLDS)
    page = comparison_page(found)
    assert drawn(page) == {("Ankle", True, 2), ("Knee", False, 0)}
    told = "own 30 adults; 0.3 to 1.5 m/s; 40 to 49 years"
    assert "<dt>Ankle, curve</dt>" in page and page.count(told) > 2
    settings = comparison_dict(found.comparison)["settings"]
    assert settings["typical_curves"]["ankle"]["source"] == "own 30 adults"
    assert settings["typical"] == "adult_18_59" and settings["typical_ranges"]


@pytest.mark.parametrize(
    ("holds", "does_not"),
    [
        ("highest_speed_m_s=1.5", "highest_speed_m_s=0.4"),
        ("lowest_speed_m_s=0.3", "lowest_speed_m_s=1.4"),
        ("oldest_years=49", "oldest_years=48"),
    ],
)
def test_the_curve_is_absent_outside_its_reach(visit, tmp_path, holds, does_not):
    """Of speed or of age: no line, no caption, no source."""
    found = compared(visit, tmp_path, HOLDS.replace(holds, does_not))
    page = comparison_page(found)
    assert drawn(page) == {("Ankle", False, 0), ("Knee", False, 0)}
    assert "own 30 adults" not in page

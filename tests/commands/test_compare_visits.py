"""Comparing walks of several visits, and rows that stand in for others, from the command line."""

import json
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from gaittrack.commands import main

SAMPLES = Path(__file__).parents[2] / "sample_trials"


def compare(*arguments):
    """Run ``gaittrack compare`` and return the run."""
    result = CliRunner().invoke(main, ["compare", *map(str, arguments)])
    assert result.exit_code == 0, result.output
    return result


def test_walks_of_two_visits_use_the_errors_of_another_day():
    """Each condition is described by the file of its own visit; the days differ and are told."""
    first, second = (SAMPLES / "P04" / f"visit-{n}" / "with-brace" for n in (1, 2))
    named = ("--condition", f"with brace={first}", "--condition", f"with-brace later={second}")
    result = compare(*named, "--reference", "with brace", "--json")
    found = json.loads(result.stdout)
    assert found["settings"]["markers"] == {"with-brace later": "other tester"}
    assert [
        n["reason"]["words"] for n in found["fairness"] if n["reason"]["code"] == "other_day"
    ] == ["Recorded on different days: visit 1, day 0 and visit 2, day 42."]
    row = next(r for r in found["rows"] if r["measure"].startswith("peak_hip_flexion_thigh"))
    assert row["measurement_error"] == pytest.approx(2.6 * 2.7718, abs=0.001)
    assert result.stderr.count("what was worn is read from") == 2
    assert len(found["settings"]["conditions_file"]["sha256"].split(", ")) == 2


def test_value_compared_in_place_of_a_headline_one_stands_beside_it(tmp_path):
    """Carried-over maxima and missing minima: the table shows what is compared instead."""
    visit = SAMPLES / "P02" / "visit-1"
    page = tmp_path / "page.html"
    given = ("--without", visit / "without-brace", "--with", visit / "with-brace", "--html", page)
    text = compare(*given).stdout
    for title in ("Mid-swing dorsiflexion", "Toe height under the hip"):
        lines = [line for line in text.splitlines() if line.strip().startswith(title)]
        assert len(lines) == 1, title
    written = page.read_text(encoding="utf-8")
    head = written[: written.index("Is the comparison fair?")]
    assert "Toe height under the hip" in head


def test_a_child_is_never_held_against_adults_unasked():
    """The age band beside the walks chooses the ranges; an option overrules it."""
    visit = SAMPLES / "P04" / "visit-1"
    given = ("--without", visit / "without-brace", "--with", visit / "with-brace", "--json")
    chosen = compare(*given)
    assert json.loads(chosen.stdout)["settings"]["typical"] == "child"
    assert "typical ranges of children are used" in chosen.stderr
    asked = compare(*given, "--typical", "adult")
    assert json.loads(asked.stdout)["settings"]["typical"] == "adult"


def test_the_affected_side_beside_the_walks_is_used_unasked(tmp_path):
    """Its rows come first; what is asked for counts more, and words that are no side are told."""
    visit = shutil.copytree(SAMPLES / "P04" / "visit-1", tmp_path / "visit")
    given = ("--without", visit / "without-brace", "--with", visit / "with-brace", "--json")
    for options, side in (((), "right"), (("--affected", "left"), "left")):
        assert json.loads(compare(*given, *options).stdout)["settings"]["affected"] == side
    words = (visit / "conditions.toml").read_text()
    own = 'affected_side = "right"'
    assert own in words
    (visit / "conditions.toml").write_text(words.replace(own, 'affected_side = "middle"'))
    result = compare(*given)
    told = json.loads(result.stdout)
    assert told["settings"]["affected"] is None and told["examined"] == []
    assert "affected_side is middle" in result.stderr

"""Turning repeat visits into the laboratory's own measurement errors, and using them."""

import json
from pathlib import Path

import pytest

SAMPLES = Path(__file__).parents[2] / "sample_trials"
SWING = "peak_swing_dorsiflexion_deg"


@pytest.fixture(scope="module")
def visits():
    """Give two visits of three persons as options."""
    walks = "without-brace/walk-[12].xlsx"
    people = [("P04", "visit-1"), ("P04", "visit-2")]
    found = [f"P04={SAMPLES / person / visit / walks}" for person, visit in people]
    for person in ("P03", "P01"):
        kind = "csv" if person == "P03" else "c3d"
        found += [
            f"{person}={SAMPLES / person / visit / f'without-brace/walk-[12].{kind}'}"
            for visit in ("visit-1", "visit-2")
        ]
    return [text for each in found for text in ("--visit", each)]


def test_own_errors_are_written_used_and_cited(run, visits, tmp_path):
    """The file serves compare --errors in the situation it was made in, under its own name."""
    out = tmp_path / "own.toml"
    made = run("errors", out, *visits, "--markers", "same-day", "--laboratory", "Hill House")
    assert made.exit_code == 1, made.output
    assert "left out: Minimum toe clearance" in made.stderr
    assert "3 persons, 2 visits" in made.stdout
    visit = SAMPLES / "P04" / "visit-1"
    compared = run(
        *("compare", "--json", "--without", visit / "without-brace"),
        *("--with", visit / "with-brace", "--errors", out),
    )
    assert compared.exit_code == 0, compared.output
    found = json.loads(compared.stdout)
    sources = [row["measurement_error_source"]["words"] for row in found["rows"]]
    assert any(each.startswith("own repeat visits of Hill House") for each in sources)
    assert SWING in found["settings"]["own_errors"]
    assert found["settings"]["errors_file"]["file"] == "own.toml"


def test_too_few_persons_are_refused(run, visits, tmp_path):
    """One person's visits are no measurement error of a laboratory."""
    result = run("errors", tmp_path / "own.toml", *visits[:4])
    assert result.exit_code == 2
    assert "two visits of 3 persons" in result.stderr
    assert not (tmp_path / "own.toml").exists()

"""Turning repeat visits into the laboratory's own floors, and using them."""

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


def test_own_floors_are_written_used_and_cited(run, visits, tmp_path):
    """The file serves compare --floors in the situation it was made in, under its own name."""
    out = tmp_path / "own.toml"
    made = run("floors", out, *visits, "--situation", "moved", "--laboratory", "Hill House")
    assert made.exit_code == 1, made.output
    assert "left out: Minimum toe clearance" in made.stderr
    assert "3 persons, 2 visits" in made.stdout
    visit = SAMPLES / "P04" / "visit-1"
    compared = run(
        *("compare", "--json", "--without", visit / "without-brace"),
        *("--with", visit / "with-brace", "--floors", out),
    )
    assert compared.exit_code == 0, compared.output
    found = json.loads(compared.stdout)
    row = next(each for each in found["rows"] if each["measure"] == SWING)
    assert row["floor_source"]["words"].startswith("own repeat visits of Hill House")
    assert SWING in found["settings"]["own_floors"]
    assert found["settings"]["floors_file"]["file"] == "own.toml"


def test_too_few_persons_are_refused(run, visits, tmp_path):
    """One person's visits are no measurement error of a laboratory."""
    result = run("floors", tmp_path / "own.toml", *visits[:4])
    assert result.exit_code == 2
    assert "two visits of 3 persons" in result.stderr
    assert not (tmp_path / "own.toml").exists()

"""Promises of a laboratory's own measurement error."""

import math

import numpy as np
import pandas as pd
import pytest

from gaittrack.compare.measurement_error import find_floor
from gaittrack.compare.repeat_visits import (
    floor_table,
    laboratory_floors,
    read_floors,
    write_floors,
)
from gaittrack.errors import LayoutError

SHROUT_FLEISS = np.array(
    [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]]
)
"""Shrout & Fleiss 1979, Psychol Bull 86:420, table 2: six targets, four judges."""
NAME = "peak_swing_dorsiflexion_deg"


def _table(scores, measure=NAME):
    rows = [
        (f"P{i}", f"V{j}", measure, float(value))
        for i, row in enumerate(scores)
        for j, value in enumerate(row)
    ]
    return pd.DataFrame(rows, columns=["person", "visit", "measure", "value"])


def test_shrout_fleiss_table_gives_the_published_icc():
    """ICC(2,1) = .29 in their table 4; their ANOVA's residual mean square is 1.02."""
    found = laboratory_floors(_table(SHROUT_FLEISS))[0]
    assert round(found.icc, 2) == 0.29
    assert found.sem_consistency**2 == pytest.approx(1.02, abs=0.005)
    assert found.smallest_change == pytest.approx(2.77 * found.sem, rel=1e-3)


def test_shrout_fleiss_error_includes_the_judges_shift():
    """Their mean squares: judges 32.49, residual 1.02; (32.49 - 1.02) / 6 + 1.02 = 6.26."""
    found = laboratory_floors(_table(SHROUT_FLEISS))[0]
    assert found.sem**2 == pytest.approx(6.26, abs=0.01)


@pytest.mark.parametrize("seed", range(5))
def test_icc_agrees_with_another_library(seed):
    """Pingouin's intraclass correlation is the second computation."""
    pingouin = pytest.importorskip("pingouin")
    rng = np.random.default_rng(seed)
    scores = rng.normal(0, 5, (12, 1)) + rng.normal(0, 2, (12, 3)) + rng.normal(0, 1, (1, 3))
    table = _table(scores)
    theirs = pingouin.intraclass_corr(
        data=table, targets="person", raters="visit", ratings="value"
    ).set_index("Type")
    row = "ICC2" if "ICC2" in theirs.index else "ICC(A,1)"
    found = laboratory_floors(table)[0]
    assert found.icc == pytest.approx(theirs.loc[row, "ICC"], abs=0.005)


def test_known_error_is_found_again():
    """Two visits, error SD 2: SEM is 2 within its own scatter (n = 4000)."""
    rng = np.random.default_rng(0)
    scores = rng.normal(0, 6, (4000, 1)) + rng.normal(0, 2, (4000, 2))
    found = laboratory_floors(_table(scores))[0]
    assert found.sem == pytest.approx(2, rel=0.05)
    assert found.icc == pytest.approx(36 / 40, abs=0.02)


def test_person_without_all_visits_is_left_out_and_counted():
    """Never filled in; whoever has no value at all is counted as well."""
    table = _table([*SHROUT_FLEISS, [math.nan] * len(SHROUT_FLEISS[0])]).iloc[1:]
    found = laboratory_floors(table)[0]
    assert (found.n_persons, found.n_left_out) == (5, 2)


def test_a_disk_that_fails_leaves_the_floors_there_were(tmp_path, monkeypatch):
    """Floors are written whole or not at all."""
    path = tmp_path / "floors.toml"
    write_floors(laboratory_floors(_table(SHROUT_FLEISS)), path)
    before = path.read_text(encoding="utf-8")

    def full(_):
        raise OSError("no space left")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(OSError, match="no space"):
        write_floors(laboratory_floors(_table(SHROUT_FLEISS), laboratory="B"), path)
    assert path.read_text(encoding="utf-8") == before
    assert list(tmp_path.iterdir()) == [path]


def test_file_is_read_back_unchanged(tmp_path):
    """And its floors are cited as the laboratory's own."""
    made = laboratory_floors(_table(SHROUT_FLEISS), laboratory='Gait "A"', made_on="2026-01-05")
    write_floors(made, tmp_path / "floors.toml")
    again = read_floors(tmp_path / "floors.toml")
    assert again == made
    found = find_floor(NAME, "other day", 1, 2, own=floor_table(again))
    assert found.is_own and 'own repeat visits of Gait "A"' in found.source
    assert found.value == pytest.approx(made[0].smallest_change)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda t: t.drop(columns="visit"), "Missing columns: visit"),
        (lambda t: pd.concat([t, t.iloc[:1]]), "two values for visit"),
        (lambda t: t[t["person"].isin(["P0", "P1"])], "2 persons have all"),
        (lambda t: t[t["visit"] == "V0"], "two visits are needed"),
    ],
)
def test_unusable_repeats_are_refused(change, words):
    """With what to do."""
    with pytest.raises(LayoutError, match=words):
        laboratory_floors(change(_table(SHROUT_FLEISS)))


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("icc", "icc21", "Unknown or missing: icc, icc21"),
        ('"other day"', '"next week"', "situation is 'next week'"),
        ("smallest_change = ", "smallest_change = -", "0 or more"),
        ("[[floors]]", "[[floors", "cannot be read"),
    ],
)
def test_damaged_file_is_refused(tmp_path, old, new, words):
    """A wrong floor would change verdicts."""
    path = tmp_path / "floors.toml"
    write_floors(laboratory_floors(_table(SHROUT_FLEISS)), path)
    path.write_text(path.read_text().replace(old, new, 1))
    with pytest.raises(LayoutError, match=words):
        read_floors(path)


def test_identical_visits_leave_no_error_and_perfect_agreement():
    """Closed form; an error of 0 is not used as a floor."""
    found = laboratory_floors(_table([[1, 1], [2, 2], [4, 4]]))
    assert found[0].sem == 0 and found[0].icc == 1 and found[0].largest_shift == 0
    assert not floor_table(found)

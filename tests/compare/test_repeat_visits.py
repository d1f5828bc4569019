"""Promises of a laboratory's own measurement error."""

import math

import numpy as np
import pandas as pd
import pytest

from gaittrack.compare.measurement_error.marker_errors import MARKER_GROUPS, Handling, find_error
from gaittrack.compare.measurement_error.placement import placement_of_visits
from gaittrack.compare.measurement_error.repeat_visits import (
    laboratory_errors,
    own_errors,
    read_errors,
    walk_error,
    write_errors,
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
    found = laboratory_errors(_table(SHROUT_FLEISS))[0]
    assert round(found.icc, 2) == 0.29
    assert found.sem_consistency**2 == pytest.approx(1.02, abs=0.005)
    assert found.smallest_change == pytest.approx(2.77 * found.sem, rel=1e-3)


def test_shrout_fleiss_error_includes_the_judges_shift():
    """Their mean squares: judges 32.49, residual 1.02; (32.49 - 1.02) / 6 + 1.02 = 6.26."""
    found = laboratory_errors(_table(SHROUT_FLEISS))[0]
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
    found = laboratory_errors(table)[0]
    assert found.icc == pytest.approx(theirs.loc[row, "ICC"], abs=0.005)


def test_known_error_is_found_again():
    """Two visits, error SD 2: SEM is 2 within its own scatter (n = 4000)."""
    rng = np.random.default_rng(0)
    scores = rng.normal(0, 6, (4000, 1)) + rng.normal(0, 2, (4000, 2))
    found = laboratory_errors(_table(scores))[0]
    assert found.sem == pytest.approx(2, rel=0.05)
    assert found.icc == pytest.approx(36 / 40, abs=0.02)


def test_person_without_all_visits_is_left_out_and_counted():
    """Never filled in; whoever has no value at all is counted as well."""
    table = _table([*SHROUT_FLEISS, [math.nan] * len(SHROUT_FLEISS[0])]).iloc[1:]
    found = laboratory_errors(table)[0]
    assert (found.n_persons, found.n_left_out) == (5, 2)


def test_a_disk_that_fails_leaves_the_errors_there_were(tmp_path, monkeypatch):
    """Errors are written whole or not at all."""
    path = tmp_path / "own.toml"
    write_errors(laboratory_errors(_table(SHROUT_FLEISS)), path)
    before = path.read_text(encoding="utf-8")

    def full(_):
        raise OSError("no space left")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(OSError, match="no space"):
        write_errors(laboratory_errors(_table(SHROUT_FLEISS), laboratory="B"), path)
    assert path.read_text(encoding="utf-8") == before
    assert list(tmp_path.iterdir()) == [path]


def test_file_is_read_back_unchanged(tmp_path):
    """And its errors are cited as the laboratory's own."""
    made = laboratory_errors(_table(SHROUT_FLEISS), laboratory='Gait "A"', made_on="2026-01-05")
    write_errors(made, tmp_path / "own.toml")
    again = read_errors(tmp_path / "own.toml")
    assert again == made
    handling = Handling("other tester", frozenset(MARKER_GROUPS))
    found = find_error(NAME, handling, (1, 2), own=own_errors(again))
    assert found.is_own and str(found.source).startswith(
        'own repeat visits of Gait "A", 2026-01-05: 6 persons'
    )
    assert found.placement == placement_of_visits(made[0].sem, 15)
    assert "walks were not kept" in str(found.source)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda t: t.drop(columns="visit"), "Missing columns: visit"),
        (lambda t: pd.concat([t, t.iloc[:1], t.iloc[-1:]]), "P0 has two values for visit"),
        (lambda t: t[t["person"].isin(["P0", "P1"])], "2 persons have all"),
        (lambda t: t[t["visit"] == "V0"], "two visits are needed"),
    ],
)
def test_unusable_repeats_are_refused(change, words):
    """With what to do."""
    with pytest.raises(LayoutError, match=words):
        laboratory_errors(change(_table(SHROUT_FLEISS)))


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("icc", "icc21", "Unknown or missing: icc, icc21"),
        ('"other tester"', '"next week"', "how is 'next week'"),
        ("n_persons = 6", "n_persons = 1", "n_persons is 1"),
        ("smallest_change = ", "smallest_change = -", "0 or more"),
        ("[[measurement_errors]]", "[[measurement_errors", "cannot be read"),
    ],
)
def test_damaged_file_is_refused(tmp_path, old, new, words):
    """A wrong error would change verdicts."""
    path = tmp_path / "own.toml"
    write_errors(laboratory_errors(_table(SHROUT_FLEISS)), path)
    path.write_text(path.read_text().replace(old, new, 1))
    with pytest.raises(LayoutError, match=words):
        read_errors(path)


def test_identical_visits_leave_no_error_and_perfect_agreement():
    """Closed form; an error of 0 is not used."""
    found = laboratory_errors(_table([[1, 1], [2, 2], [4, 4]]))
    assert found[0].sem == 0 and found[0].icc == 1 and found[0].largest_shift == 0
    assert not own_errors(found)


def test_the_scatter_of_walks_is_taken_out_of_the_markers_own():
    """tau^2 = SEM^2 - s^2/k: visits that differ by walking alone leave no placement."""
    rng = np.random.default_rng(3)
    walks = rng.normal(0, 6, (400, 1, 1)) + rng.normal(0, 2, (400, 2, 5))
    moved = walks + rng.normal(0, 1.5, (400, 2, 1))
    for values, tau in ((walks, 0.0), (moved, 1.5)):
        table = _table(values.mean(axis=2))
        table["walk_error"] = (values.std(axis=2, ddof=1) / np.sqrt(5)).ravel()
        (found,) = laboratory_errors(table)
        assert found.walk_error == pytest.approx(2 / np.sqrt(5), rel=0.03)
        assert found.own.placement.own == pytest.approx(tau, abs=0.25)
        assert "walks were not kept" not in str(found.source)
    (without,) = laboratory_errors(table.drop(columns="walk_error"))
    assert without.own.placement.own > found.own.placement.own


def test_walks_of_two_legs_count_as_one_mean():
    """Half the variance of one leg's walks, as if the legs scattered by themselves."""
    table = pd.concat([_table(SHROUT_FLEISS).assign(side=side) for side in ("left", "right")])
    (found,) = laboratory_errors(table.assign(walk_error=1.0))
    assert found.walk_error == pytest.approx(np.sqrt(0.5))


def test_a_file_of_version_0_2_is_still_read(tmp_path):
    """Its "other day" asked for no tester: it serves both."""
    path = tmp_path / "own.toml"
    write_errors(laboratory_errors(_table(SHROUT_FLEISS)), path)
    old = path.read_text().replace("[[measurement_errors]]", "[[floors]]")
    old = old.replace('how = "other tester"', 'situation = "other day"')
    path.write_text("\n".join(line for line in old.splitlines() if "walk_error" not in line))
    assert [each.how for each in read_errors(path)] == ["other day, same tester", "other tester"]
    path.write_text(old.replace("other day", "same session, markers moved"))
    assert [each.how for each in read_errors(path)] == ["same day, same tester"]


def test_the_scatter_of_a_visit_by_its_walks_is_that_of_their_mean():
    """Walks of 1 and 4: sd 3 / sqrt(2), of the mean 1.5; a single walk has none."""
    assert walk_error(np.array([1.0, 4.0])) == pytest.approx(1.5)
    assert walk_error(np.array([0.0, 3.0, 0.0])) == pytest.approx(1.0)
    assert math.isnan(walk_error(np.array([1.0])))

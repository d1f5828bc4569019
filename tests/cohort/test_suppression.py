"""No small group stands in the exported statistics, nor follows from what stands beside it."""

import numpy as np
import pandas as pd
import pytest

from gaittrack.cohort.inference.statistics import COUNT_OF
from gaittrack.cohort.inference.suppression import without_small_groups
from gaittrack.cohort.tables.reason_cells import unpacked

NAMES = [*COUNT_OF.values(), "n_missing"]
COMPARED = NAMES[: NAMES.index("n_not_comparable")]
LEAST, N_PEOPLE = 4, 14


def row_of(counts):
    row = dict.fromkeys(NAMES, 0) | counts
    row["n_people"] = sum(row[name] for name in COMPARED)
    judged = row["n_people"] - row["n_no_error_figure"]
    shares = {
        f"share_{word}_percent": 100 * row[f"n_{word}"] / judged if judged else np.nan
        for word in ("toward", "away", "no_change_larger")
    }
    numbers = {"mean_difference": 1.0, "low": 0.5, "high": 1.5, "sd_between_people": 2.0}
    models = {
        f"{model}_{name}": value
        for model in ("mixed", "speed_adjusted")
        for name, value in (
            *(("difference", 1.0), ("low", 0.5), ("high", 1.5)),
            *(("n_people", row["n_people"]), ("n_differences", 2 * row["n_people"])),
        )
    }
    return {"measure_id": "m"} | row | shares | numbers | models


def released(rows):
    table = without_small_groups(pd.DataFrame(rows), least=LEAST)
    return table.to_dict("records")


@pytest.mark.parametrize("total", [4, 9, 14])
def test_no_small_count_follows_from_those_beside_it(total):
    """Of every way to share people among three words: what is left out is of four people or more.

    And never one count alone; how many were compared is told in all of them.
    """
    names = ["n_toward", "n_away", "n_no_change_larger"]
    for first in range(total + 1):
        for second in range(total + 1 - first):
            parts = (first, second, total - first - second)
            counts = dict(zip(names, parts, strict=True))
            (row,) = released([row_of(counts | {"n_missing": N_PEOPLE - total})])
            hidden = [name for name in names if pd.isna(row[name])]
            assert {name for name in names if 0 < counts[name] < LEAST} <= set(hidden)
            assert (
                not hidden
                or (len(hidden) > 1 and sum(counts[name] for name in hidden) >= LEAST)
                or len([each for each in parts if each]) == 1
            )
            assert (row["n_people"], row["n_missing"]) == (total, N_PEOPLE - total)
            assert row["mean_difference"] == 1.0


def test_how_many_were_compared_is_told_where_two_could_not_be():
    """Two of 14 without a value leave the number of the others, and their mean, as they are."""
    (row,) = released([row_of({"n_toward": 12, "n_missing": 2})])
    assert (row["n_people"], row["n_missing"], row["mean_difference"]) == (12, 2, 1.0)
    assert row["suppressed"] == ""


def test_numbers_of_too_few_people_are_left_out():
    """Three compared people of 14 have no mean, no model and no shares; a word says why."""
    (row,) = released([row_of({"n_toward": 3, "n_not_defined": 11})])
    gone = ["n_toward", "mean_difference", "low", "high", "sd_between_people"]
    gone += ["share_toward_percent", "mixed_difference", "mixed_n_differences"]
    assert all(pd.isna(row[name]) for name in gone)
    assert (row["n_people"], row["mixed_n_people"]) == (3, 3)
    assert str(*unpacked(row["suppressed"])) == "small groups (fewer than 4 people) are left out"


@pytest.mark.parametrize(
    "counts", [{"n_no_change_larger": 14}, {"n_toward": 5, "n_no_change_larger": 9}]
)
def test_large_groups_are_shown_as_they_are(counts):
    """Nothing is left out where nobody stands alone."""
    row = row_of(counts)
    (shown,) = released([row])
    assert shown.pop("suppressed") == ""
    assert shown == row

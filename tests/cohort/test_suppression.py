"""No small group stands in the exported statistics, nor follows from what stands there."""

import itertools

import numpy as np
import pandas as pd
import pytest

from gaittrack.cohort.reason_cells import unpacked
from gaittrack.cohort.statistics import COUNT_OF
from gaittrack.cohort.suppression import without_small_groups

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
    table = without_small_groups(pd.DataFrame(rows), least=LEAST, n_people=N_PEOPLE)
    return table.to_dict("records")


def of_total(total, n_parts):
    """Yield every way to share a total among parts."""
    for cuts in itertools.combinations(range(total + n_parts - 1), n_parts - 1):
        edges = (-1, *cuts, total + n_parts - 1)
        yield tuple(b - a - 1 for a, b in itertools.pairwise(edges))


SHORT = ["n_toward", "n_no_change_larger", "n_not_defined", "n_missing"]
EVERY = [dict(zip(SHORT, counts, strict=True)) for counts in of_total(N_PEOPLE, len(SHORT))]


def seen_as(row):
    """Return what a reader knows: the counts shown, and the total where it is shown."""
    shown = tuple(None if pd.isna(row[name]) else int(row[name]) for name in SHORT)
    total = None if pd.isna(row["n_people"]) else int(row["n_people"])
    model = row["mixed_n_people"]
    return shown, total, None if pd.isna(model) else int(model)


def fits(counts, shown, total, model):
    own = tuple(counts[name] for name in SHORT)
    compared = own[0] + own[1]
    return (
        all(s is None or s == c for s, c in zip(shown, own, strict=True))
        and total in (None, compared)
        and model in (None, compared)
    )


def test_no_small_group_follows_from_what_is_shown():
    """Of every table of 14 people in four groups: what is shown fits two values of each small one.

    By trying all tables there are. Small are counts of 1 to 3, and totals or their complement.
    """
    for counts in EVERY:
        (row,) = released([row_of(counts)])
        known = seen_as(row)
        possible = [other for other in EVERY if fits(other, *known)]
        compared = counts["n_toward"] + counts["n_no_change_larger"]
        for name in SHORT:
            if 0 < counts[name] < LEAST:
                assert len({other[name] for other in possible}) > 1, (counts, name)
        if 0 < compared < LEAST or 0 < N_PEOPLE - compared < LEAST:
            sizes = {other["n_toward"] + other["n_no_change_larger"] for other in possible}
            assert len(sizes) > 1, counts


def test_who_is_missing_is_not_shown_by_another_row():
    """The same people are missing in all measures: their number never hides another count."""
    hidden = row_of({"n_no_change_larger": 5, "n_not_defined": 2, "n_missing": 7})
    plain = row_of({"n_no_change_larger": 7, "n_missing": 7})
    first, second = released([hidden, plain])
    assert (second["n_missing"], second["n_no_change_larger"]) == (7, 7)
    assert pd.isna(first["n_not_defined"])
    assert pd.isna(first["n_people"])


def test_small_groups_take_shares_and_numbers_with_them():
    """Three compared people of 14 have no mean, no model and no shares; a word says why."""
    (row,) = released([row_of({"n_toward": 3, "n_not_defined": 11})])
    gone = ["n_toward", "n_people", "mean_difference", "low", "high", "sd_between_people"]
    gone += ["share_toward_percent", "mixed_difference", "mixed_n_people", "mixed_n_differences"]
    assert all(pd.isna(row[name]) for name in gone)
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

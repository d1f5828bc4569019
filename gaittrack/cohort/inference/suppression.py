"""Leave small groups out of the statistics: how few people something was found of.

In comes a statistics table, out comes the table an export may hold. A count below the least number
of people is left out; the counts of what was found add up to ``n_people``, so the next ones go with
it until they are two and of enough people together. Numbers made from too few people are left out.
How many were compared, and how many could not be and why, is always told.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import pandas as pd

from gaittrack.cohort.inference.statistics import COUNT_OF
from gaittrack.cohort.tables.reason_cells import packed
from gaittrack.reasons import Reason

_UNCOMPARED: Final = ("n_not_comparable", "n_not_trusted", "n_not_defined", "n_missing")
_FOUND: Final = tuple(name for name in COUNT_OF.values() if name not in _UNCOMPARED)
_SIZE: Final = "n_people"
_OF_PEOPLE: Final = ("mean_difference", "low", "high", "sd_between_people", *_FOUND)
"""Numbers of the people compared; those of a model begin with its name, as their own size does."""


def without_small_groups(statistics: pd.DataFrame, *, least: int) -> pd.DataFrame:
    """Return the statistics without groups of fewer than ``least`` people.

    Parameters
    ----------
    statistics : DataFrame
        From ``statistics.statistics_table``.
    least : int
        Fewest people that may be shown as a group.

    Returns
    -------
    DataFrame
        What is left out is missing; the column ``suppressed`` says so.
    """
    if statistics.empty:
        return statistics
    rows = []
    for found in statistics.astype(object).to_dict("records"):
        row = {str(name): value for name, value in found.items()}
        hidden = {name for name in _hidden(row, least) if not pd.isna(row[name])}
        left = {name: None if name in hidden else value for name, value in row.items()}
        said = Reason("small_groups_left_out", least=least) if hidden else None
        rows.append(left | {"suppressed": packed(said)})
    return pd.DataFrame(rows, columns=[*statistics.columns, "suppressed"])


def _hidden(row: Mapping[str, Any], least: int) -> set[str]:
    """Return the columns of a row that must not be shown."""
    hidden = _small_counts({name: row[name] for name in _FOUND}, least)
    for size in (name for name in row if name.endswith(_SIZE)):
        if 0 < row[size] < least:
            model = size.removesuffix(_SIZE)
            of_model = {name for name in row if name.startswith(model)} - {size}
            hidden |= of_model if model else {*_OF_PEOPLE}
    if hidden & {*_FOUND}:
        hidden |= {name for name in row if name.startswith("share_")}
    return hidden


def _small_counts(counts: Mapping[str, int], least: int) -> set[str]:
    """Return small counts, with the next ones that keep them from following from the total."""
    rising = sorted((name for name in counts if counts[name]), key=lambda name: counts[name])
    n_small = sum(counts[name] < least for name in rising)
    n_hidden = n_small
    while 0 < n_hidden < len(rising) and (
        n_hidden < 2 or sum(counts[name] for name in rising[:n_hidden]) < least
    ):
        n_hidden += 1
    return {*rising[:n_hidden]}

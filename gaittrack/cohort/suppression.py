"""Leave small groups out of the statistics, and what would show them by difference.

In comes a statistics table, out comes the table an export may hold. A count below the least number
of people is left out. The counts of a row add up to known totals, so where only one would be left
out a second one goes with it; where a total or its complement is small, ``n_people`` goes too, with
all from which it can be computed. The change table of the same export still holds every person:
this is for statistics that are passed on alone.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final

import pandas as pd

from gaittrack.cohort.reason_cells import packed
from gaittrack.cohort.statistics import COUNT_OF
from gaittrack.reasons import Reason

_UNCOMPARED: Final = ("n_not_comparable", "n_not_trusted", "n_not_defined", "n_missing")
_COMPARED: Final = tuple(name for name in COUNT_OF.values() if name not in _UNCOMPARED)
_MODELS: Final = ("mixed", "speed_adjusted")
_NUMBERS: Final = ("difference", "low", "high")
_SHARES: Final = tuple(f"share_{name}_percent" for name in ("toward", "away", "no_change_larger"))
_SHOWS_SIZE: Final = ("n_people", "sd_between_people", *_SHARES)
"""Number of people, and what it can be computed from together with counts and interval."""
Row = Mapping[str, Any]


def without_small_groups(statistics: pd.DataFrame, *, least: int, n_people: int) -> pd.DataFrame:
    """Return the statistics without groups of fewer than ``least`` people.

    Parameters
    ----------
    statistics : DataFrame
        From ``statistics.statistics_table``.
    least : int
        Fewest people that may be shown as a group.
    n_people : int
        In the export; known to every reader.

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
        hidden = _hidden(row, least, n_people)
        left = {name: None if name in hidden else value for name, value in row.items()}
        said = Reason("small_groups_left_out", least=least) if hidden else None
        rows.append(left | {"suppressed": packed(said)})
    return pd.DataFrame(rows, columns=[*statistics.columns, "suppressed"])


def _hidden(row: Row, least: int, n_people: int) -> set[str]:
    """Return the columns of a row that must not be shown."""

    def is_small(number: float) -> bool:
        return 0 < number < least

    hidden = {name for name in (*_COMPARED, *_UNCOMPARED) if is_small(row[name])}
    if is_small(n_people - row["n_missing"]):
        hidden.add("n_missing")
    is_size_small = is_small(row["n_people"]) or is_small(n_people - row["n_people"])
    # Whoever is missing is missing in the rows of all measures: to hide it in one hides nothing.
    is_size_hidden = is_size_small or not _complete(row, _UNCOMPARED, hidden, not_one="n_missing")
    if is_size_hidden:
        hidden |= set(_SHOWS_SIZE)
        for names in (_COMPARED, _UNCOMPARED):
            if not hidden & set(names):
                _hide_smallest(row, names, hidden, not_one="n_missing")
    else:
        _complete(row, _COMPARED, hidden)
    if is_small(row["n_people"]):
        hidden |= {"mean_difference", "low", "high"}
    if hidden & set(_COMPARED):
        hidden |= set(_SHARES)
    hidden |= _hidden_of_models(row, is_small, n_people, is_size_hidden)
    return {name for name in hidden if not _is_nothing(row[name])}


def _hidden_of_models(
    row: Row, is_small: Callable[[float], bool], n_people: int, is_size_hidden: bool
) -> set[str]:
    hidden: set[str] = set()
    for model in _MODELS:
        size = row[f"{model}_n_people"]
        if is_size_hidden or is_small(size) or is_small(n_people - size):
            hidden |= {f"{model}_n_people", f"{model}_n_differences"}
        if is_small(size):
            hidden |= {f"{model}_{name}" for name in _NUMBERS}
    return hidden


def _complete(row: Row, names: Sequence[str], hidden: set[str], *, not_one: str = "") -> bool:
    """Hide a second count where one alone would follow from the total; say whether that is done."""
    if len(hidden & set(names)) != 1:
        return True
    return _hide_smallest(row, names, hidden, not_one=not_one)


def _hide_smallest(row: Row, names: Sequence[str], hidden: set[str], *, not_one: str) -> bool:
    shown = [name for name in names if row[name] and name not in hidden and name != not_one]
    hidden |= set(sorted(shown, key=lambda name: int(row[name]))[:1])
    return bool(shown)


def _is_nothing(value: object) -> bool:
    return value is None or (isinstance(value, float) and math.isnan(value))

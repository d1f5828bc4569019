"""A laboratory's own measurement error, from people measured again when nothing had changed.

In comes a table of repeat visits, out come the standard error of measurement, the smallest
detectable change and the intraclass correlation of each measure, and a small TOML file that keeps
them and is cited as the laboratory's own.
"""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any, Final

from gaittrack.atomic_write import write_text_atomically
from gaittrack.compare.measurement_error.marker_errors import (
    HOWS,
    How,
    OwnError,
    OwnErrors,
    in_situation,
)
from gaittrack.compare.measurement_error.placement import placement_of_visits
from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.errors import LayoutError
from gaittrack.lab_files import read_toml, refuse_wrong_keys
from gaittrack.late import pandas as pd
from gaittrack.reasons import Reason
from gaittrack.trial import FloatArray

SMALLEST_CHANGE_FACTOR: Final = 1.96 * math.sqrt(2)
"""Smallest detectable change over standard error of measurement, at 95 %: the difference of two
measurements has sqrt(2) times the error of one."""
LEAST_PERSONS: Final = 3
FEW_PERSONS: Final = 10
"""Below this the figure itself is rough; own choice."""
REPEAT_COLUMNS: Final = ("person", "visit", "measure", "value")
_TABLE: Final = "measurement_errors"
_TABLE_UNTIL_0_2: Final = "floors"
_HOWS_UNTIL_0_2: Final[dict[str, tuple[How, ...]]] = {
    "same session, markers untouched": ("untouched",),
    "same session, markers moved": ("same day, same tester",),
    "other day": ("other day, same tester", "other tester"),
}
"""Who put the markers on was not asked: figures of other days served both."""


@dataclass(frozen=True, slots=True)
class RepeatError:
    """What repeat visits say of one measure.

    Attributes
    ----------
    how : How
        What was done to the markers between the visits.
    sem : float
        Standard error of measurement (agreement: scatter within a person, shifts between visits
        included), in the unit of the measure.
    sem_consistency : float
        The same without shifts between visits: root of the residual mean square.
    smallest_change : float
        1.96 * sqrt(2) * sem.
    icc : float
        ICC(2,1): two-way random, absolute agreement, single measurement; at most 1.
    largest_shift : float
        Largest difference between the means of two visits.
    n_persons, n_visits, n_left_out : int
        ``n_left_out``: persons left out for a missing visit.
    walk_error : float
        Scatter of a visit's mean by its walks, s / sqrt(k); 0 where the walks were not kept: then
        they count as marker error too, and intervals are wider than need be.
    """

    measure: str
    how: How
    sem: float
    sem_consistency: float
    smallest_change: float
    icc: float
    largest_shift: float
    n_persons: int
    n_visits: int
    n_left_out: int = 0
    laboratory: str = ""
    made_on: str = ""
    walk_error: float = 0.0

    @property
    def own(self) -> OwnError:
        """What it says for a comparison."""
        degrees = (self.n_persons - 1) * (self.n_visits - 1)
        placement = placement_of_visits(self.sem, degrees, self.walk_error)
        return OwnError(placement, self.smallest_change, in_situation(self.source, self.how))

    @property
    def source(self) -> Reason:
        """How it is cited."""
        whose = Reason("repeat_visits")
        if self.laboratory:
            whose = Reason("repeat_visits_of", laboratory=self.laboratory)
        if self.made_on:
            whose = Reason("repeat_visits_on", whose=whose, day=self.made_on)
        code = "error_own_rough" if self.n_persons < FEW_PERSONS else "error_own"
        walks = "" if self.walk_error else Reason("walks_count_as_markers")
        counts = {"n_persons": self.n_persons, "n_visits": self.n_visits}
        return Reason(code, whose=whose, walks=walks, sem=self.sem, icc=self.icc, **counts)


def with_enough_persons(repeats: pd.DataFrame) -> tuple[pd.DataFrame, list[str]]:
    """Return the measures that enough persons have at all visits, and the names of the others.

    Parameters
    ----------
    repeats : DataFrame
        As for :func:`laboratory_errors`. With fewer than two visits nothing is left of it.
    """
    n_visits = repeats["visit"].nunique()
    each = repeats.groupby(["measure", "person"])["visit"].nunique()
    n_persons = (each == n_visits).groupby("measure").sum()
    enough = [
        name for name in MEASURE_BY_NAME if n_visits > 1 and n_persons.get(name, 0) >= LEAST_PERSONS
    ]
    left_out = [name for name in n_persons.index if name not in enough]
    return repeats[repeats["measure"].isin(enough)], left_out


def laboratory_errors(
    repeats: pd.DataFrame,
    *,
    how: How = "other tester",
    laboratory: str = "",
    made_on: str = "",
) -> list[RepeatError]:
    """Compute measurement error from repeat visits.

    Parameters
    ----------
    repeats : DataFrame
        Columns ``person, visit, measure, value`` and optionally ``side``: one condition value per
        person, visit (and side). The sides of one person count as one person's mean. With a column
        ``walk_error``, the scatter of the value by its walks, that is told apart.
    how : How
        What was done to the markers between visits; where testers were not told apart, "other
        tester".
    laboratory, made_on : str
        For the citation.

    Returns
    -------
    list of RepeatError
        One per measure.

    Raises
    ------
    LayoutError
        A column is missing, a person has two values for one visit, or too few complete persons.

    Source
    ------
    ICC(2,1): Shrout & Fleiss 1979, Psychol Bull 86:420. SEM and smallest detectable change:
    de Vet 2006, J Clin Epidemiol 59:1033.
    """
    _check(repeats, how)
    found = []
    for measure, table in repeats.groupby("measure", sort=False):
        scores = _scores(table, str(measure))
        complete = scores.dropna()
        if len(complete) < LEAST_PERSONS or complete.shape[1] < 2:
            raise LayoutError.of(
                "too_few_persons",
                where=f"repeat visits, {measure}",
                n_complete=len(complete),
                n_visits=scores.shape[1],
                least_persons=LEAST_PERSONS,
            )
        found.append(
            RepeatError(
                measure=str(measure),
                how=how,
                n_persons=len(complete),
                n_visits=complete.shape[1],
                n_left_out=len(scores) - len(complete),
                laboratory=laboratory,
                made_on=made_on,
                walk_error=_walk_error(table[table["person"].isin(complete.index)]),
                **_agreement(complete.to_numpy(dtype=float)),
            )
        )
    return found


def _walk_error(table: pd.DataFrame) -> float:
    """Return the scatter of a visit's mean by its walks; 0 where it is not known throughout."""
    if "walk_error" not in table.columns or table["walk_error"].isna().any():
        return 0.0
    squares = (table["walk_error"] ** 2).groupby([table["person"], table["visit"]])
    return math.sqrt(float((squares.sum() / squares.count() ** 2).mean()))


def _check(repeats: pd.DataFrame, how: str) -> None:
    missing = [name for name in REPEAT_COLUMNS if name not in repeats.columns]
    if missing:
        raise LayoutError.of(
            "missing_columns",
            where="repeat visits",
            missing=", ".join(missing),
            repeat_columns=", ".join(REPEAT_COLUMNS),
        )
    if how not in HOWS:
        raise ValueError(f"how must be one of {'; '.join(HOWS)}, got {how!r}")


def _scores(table: pd.DataFrame, measure: str) -> pd.DataFrame:
    keys = ["person", "visit", *(["side"] if "side" in table.columns else [])]
    twice = table[table.duplicated(keys)]
    if len(twice):
        first = twice.iloc[0]
        raise LayoutError.of(
            "two_values_at_visit",
            where=f"repeat visits, {measure}",
            person=first["person"],
            visit=first["visit"],
        )
    scores: pd.DataFrame = table.pivot_table(
        index="person", columns="visit", values="value", aggfunc="mean", dropna=False
    )
    return scores


def _agreement(scores: FloatArray) -> dict[str, float]:
    """Return what a :class:`RepeatError` says of the scores, by the names of its fields."""
    n, k = scores.shape
    persons = scores.mean(axis=1, keepdims=True)
    visits = scores.mean(axis=0, keepdims=True)
    grand = scores.mean()
    between = k * ((persons - grand) ** 2).sum() / (n - 1)
    shift = n * ((visits - grand) ** 2).sum() / (k - 1)
    residual = ((scores - persons - visits + grand) ** 2).sum() / ((n - 1) * (k - 1))
    total = between + (k - 1) * residual + k * (shift - residual) / n
    icc = (between - residual) / total if total > 0 else math.nan
    sem = math.sqrt(residual + max(shift - residual, 0.0) / n)
    return {
        "sem": sem,
        "sem_consistency": math.sqrt(residual),
        "smallest_change": SMALLEST_CHANGE_FACTOR * sem,
        "icc": float(icc),
        "largest_shift": float(visits.max() - visits.min()),
    }


def walk_error(walk_values: FloatArray) -> float:
    """Return the scatter of a visit's mean by its walks, s / sqrt(k); NaN for a single walk."""
    n_walks = len(walk_values)
    return math.nan if n_walks < 2 else float(walk_values.std(ddof=1)) / math.sqrt(n_walks)


def own_errors(errors: Sequence[RepeatError]) -> OwnErrors:
    """Turn repeat-visit errors into those of a comparison.

    A measure whose visits did not differ at all (a share that is 100 % for everybody) gives none:
    an error of 0 is not believable.
    """
    return {(each.measure, each.how): each.own for each in errors if each.smallest_change > 0}


def write_errors(errors: Sequence[RepeatError], path: Path) -> None:
    """Write errors, whole or not at all, to a TOML file that :func:`read_errors` reads back."""
    write_text_atomically(path, errors_text(errors))


def errors_text(errors: Sequence[RepeatError]) -> str:
    """Return errors as the file says them."""
    lines = ["# Measurement error of this laboratory, from repeat visits.", ""]
    for each in errors:
        lines.append(f"[[{_TABLE}]]")
        for item in fields(each):
            value = getattr(each, item.name)
            text = json.dumps(value) if isinstance(value, str) else repr(value)
            lines.append(f"{item.name} = {text}")
        lines.append("")
    return "\n".join(lines)


def read_errors(path: Path) -> list[RepeatError]:
    """Read a laboratory's errors, also as written by version 0.2 (``[[floors]]``).

    Raises
    ------
    LayoutError
        Not readable, an unknown or missing key, or a figure that is no number from 0 up.
    """
    what, action = "file of measurement errors", "Make it again from the repeat visits."
    table = read_toml(path, what, action)
    found = []
    for name in (_TABLE, _TABLE_UNTIL_0_2):
        for n, row in enumerate(table.get(name, []), 1):
            where = f"{path.name} [[{name}]] {n}"
            found += [_error(each, where) for each in _as_of_today(row)]
    return found


def _as_of_today(row: dict[str, Any]) -> list[dict[str, Any]]:
    """Return a row of version 0.2 with what was done to the markers in the words of today."""
    if "situation" not in row:
        return [row]
    rest = {key: value for key, value in row.items() if key != "situation"}
    hows = _HOWS_UNTIL_0_2.get(row["situation"], (row["situation"],))
    return [{**rest, "how": how} for how in hows]


def _error(row: dict[str, Any], where: str) -> RepeatError:
    names = {item.name for item in fields(RepeatError)}
    needed = names - {"n_left_out", "laboratory", "made_on", "walk_error"}
    refuse_wrong_keys(row, sorted(names), needed, where)
    if row["how"] not in HOWS:
        raise LayoutError.of("unknown_handling", where=where, how=row["how"], hows="; ".join(HOWS))
    for name in ("sem", "smallest_change", "walk_error"):
        _refuse_no_size(name, row.get(name, 0.0), where)
    for name in ("n_persons", "n_visits"):
        if type(row[name]) is not int or row[name] < 2:
            raise LayoutError.of("fewer_than_two", where=where, name=name, row=row[name])
    return RepeatError(**row)


def _refuse_no_size(name: str, value: object, where: str) -> None:
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    if not is_number or not 0 <= float(value) < math.inf:  # type: ignore[arg-type]
        raise LayoutError.of("not_a_size", where=where, name=name, value=value)

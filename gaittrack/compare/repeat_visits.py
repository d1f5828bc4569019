"""A laboratory's own measurement error, from people measured again when nothing had changed.

In comes a table of repeat visits, out come the standard error of measurement, the smallest
detectable change and the intraclass correlation of each measure, and a small TOML file that keeps
them and is cited as the laboratory's own.
"""

from __future__ import annotations

import json
import math
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any, Final

import pandas as pd

from gaittrack.atomic_write import write_text_atomically
from gaittrack.compare.measurement_error import SITUATIONS, FloorRule, FloorTable, Situation
from gaittrack.errors import LayoutError
from gaittrack.reasons import Reason
from gaittrack.trial import FloatArray

SMALLEST_CHANGE_FACTOR: Final = 1.96 * math.sqrt(2)
"""Smallest detectable change over standard error of measurement, at 95 %: the difference of two
measurements has sqrt(2) times the error of one."""
LEAST_PERSONS: Final = 3
FEW_PERSONS: Final = 10
"""Below this the figure itself is rough; own choice."""
REPEAT_COLUMNS: Final = ("person", "visit", "measure", "value")


@dataclass(frozen=True, slots=True)
class RepeatError:
    """What repeat visits say of one measure.

    Attributes
    ----------
    situation : Situation
        What differed between the visits.
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
    """

    measure: str
    situation: Situation
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

    @property
    def source(self) -> Reason:
        """How the floor is cited."""
        whose = Reason("repeat_visits")
        if self.laboratory:
            whose = Reason("repeat_visits_of", laboratory=self.laboratory)
        if self.made_on:
            whose = Reason("repeat_visits_on", whose=whose, day=self.made_on)
        return Reason(
            "floor_own_rough" if self.n_persons < FEW_PERSONS else "floor_own",
            whose=whose,
            n_persons=self.n_persons,
            n_visits=self.n_visits,
            sem=self.sem,
            icc=self.icc,
        )


def laboratory_floors(
    repeats: pd.DataFrame,
    *,
    situation: Situation = "other day",
    laboratory: str = "",
    made_on: str = "",
) -> list[RepeatError]:
    """Compute measurement error from repeat visits.

    Parameters
    ----------
    repeats : DataFrame
        Columns ``person, visit, measure, value`` and optionally ``side``: one condition value per
        person, visit (and side). The sides of one person count as one person's mean.
    situation : Situation
        What differed between visits.
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
    _check(repeats, situation)
    found = []
    for measure, table in repeats.groupby("measure", sort=False):
        scores = _scores(table, str(measure))
        complete = scores.dropna()
        if len(complete) < LEAST_PERSONS or complete.shape[1] < 2:
            raise LayoutError(
                f"{len(complete)} persons have all of {scores.shape[1]} visits; "
                f"{LEAST_PERSONS} persons with two visits are needed.",
                where=f"repeat visits, {measure}",
                action="Add repeat visits, or leave this measure out.",
            )
        found.append(
            RepeatError(
                measure=str(measure),
                situation=situation,
                n_persons=len(complete),
                n_visits=complete.shape[1],
                n_left_out=len(scores) - len(complete),
                laboratory=laboratory,
                made_on=made_on,
                **_agreement(complete.to_numpy(dtype=float)),
            )
        )
    return found


def _check(repeats: pd.DataFrame, situation: str) -> None:
    missing = [name for name in REPEAT_COLUMNS if name not in repeats.columns]
    if missing:
        raise LayoutError(
            f"Missing columns: {', '.join(missing)}.",
            where="repeat visits",
            action=f"Give the columns {', '.join(REPEAT_COLUMNS)} and, if you like, side.",
        )
    if situation not in SITUATIONS:
        raise ValueError(f"situation must be one of {', '.join(SITUATIONS)}, got {situation!r}")


def _scores(table: pd.DataFrame, measure: str) -> pd.DataFrame:
    keys = ["person", "visit", *(["side"] if "side" in table.columns else [])]
    twice = table[table.duplicated(keys)]
    if len(twice):
        first = twice.iloc[0]
        raise LayoutError(
            f"{first['person']} has two values for visit {first['visit']}.",
            where=f"repeat visits, {measure}",
            action="Give one value per person, visit and side.",
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


def floor_table(errors: Sequence[RepeatError]) -> FloorTable:
    """Turn repeat-visit errors into floors for a comparison.

    A measure whose visits did not differ at all (a share that is 100 % for everybody) gives no
    floor: an error of 0 is not believable.
    """
    return {
        (each.measure, each.situation): FloorRule(
            each.smallest_change, 0, each.source, is_of_situation=True
        )
        for each in errors
        if each.smallest_change > 0
    }


def write_floors(errors: Sequence[RepeatError], path: Path) -> None:
    """Write floors, whole or not at all, to a TOML file that :func:`read_floors` reads back."""
    lines = ["# Measurement error of this laboratory, from repeat visits.", ""]
    for each in errors:
        lines.append("[[floors]]")
        for item in fields(each):
            value = getattr(each, item.name)
            text = json.dumps(value) if isinstance(value, str) else repr(value)
            lines.append(f"{item.name} = {text}")
        lines.append("")
    write_text_atomically(path, "\n".join(lines))


def read_floors(path: Path) -> list[RepeatError]:
    """Read a laboratory's floors.

    Raises
    ------
    LayoutError
        Not readable, an unknown or missing key, or a smallest change that is no number from 0 up.
    """
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise LayoutError(
            f"The file of floors cannot be read: {error}.",
            where=str(path),
            action="Make it again from the repeat visits.",
        ) from error
    rows = table.get("floors", [])
    return [_floor(row, f"{path.name} [[floors]] {n}") for n, row in enumerate(rows, 1)]


def _floor(row: dict[str, Any], where: str) -> RepeatError:
    names = {item.name for item in fields(RepeatError)}
    needed = names - {"n_left_out", "laboratory", "made_on"}
    wrong = sorted((set(row) - names) | (needed - set(row)))
    if wrong:
        raise LayoutError(
            f"Unknown or missing: {', '.join(wrong)}.",
            where=where,
            action=f"Keys are: {', '.join(sorted(names))}.",
        )
    change = row["smallest_change"]
    if row["situation"] not in SITUATIONS:
        raise LayoutError(
            f"situation is {row['situation']!r}.",
            where=where,
            action=f"Use one of: {', '.join(SITUATIONS)}.",
        )
    if (
        isinstance(change, bool)
        or not isinstance(change, int | float)
        or not 0 <= change < math.inf
    ):
        raise LayoutError(
            f"smallest_change is {change!r}.", where=where, action="Give a number, 0 or more."
        )
    return RepeatError(**row)

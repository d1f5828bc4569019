"""A cohort in one picture: everybody's change in order, with its intervals, error and the mean.

In come rows of the table ``changes`` of one measure, side and pair of conditions, one visit each,
out come places in per cent of the drawing, so that screens and pages only set them.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby
from typing import Any, Final

import pandas as pd

from gaittrack.answer.sentences import CHIPS
from gaittrack.cohort.asking.answering import CohortAnswer
from gaittrack.cohort.inference.statistics import NO_PAIR
from gaittrack.compare.row_words import interval_words, signed
from gaittrack.figures.plain_numbers import with_minus
from gaittrack.figures.visit_panels import height_on, round_ticks, tick_label

_Bounds = tuple[float, float]
_BOUNDS: Final = ("walks_low", "walks_high", "low", "high")
_TICKS: Final = 7
MOST_MARKS: Final = 200
"""People beyond whom each change is a short line: shapes would cover each other. Own choice."""
_DRAWN: Final = ("person", "side", "difference", *_BOUNDS, "measurement_error", "verdict")


@dataclass(frozen=True, slots=True)
class ChangePoint:
    """One person's change, in per cent from the left and from the top.

    Attributes
    ----------
    walks, whole : (float, float) or None
        Interval of the walks alone, and with what putting markers on again can do.
    says : str
        All of it in words; empty where there are too many for marks.
    """

    label: str
    at: float
    change: float
    walks: _Bounds | None
    whole: _Bounds | None
    verdict: str
    says: str


@dataclass(frozen=True, slots=True)
class ChangePicture:
    """Everybody's change, from the lowest to the highest.

    Attributes
    ----------
    ticks : tuple of (float, str)
        Height in per cent, and label.
    mean, interval : float, (float, float), or None
        Over people; heights in per cent, as far as they lie on the scale.
    bands : tuple of (float, float, float, float)
        From left to right where the error stays the same: left, right, top, bottom; per cent.
    """

    ticks: tuple[tuple[float, str], ...]
    zero: float
    points: tuple[ChangePoint, ...]
    bands: tuple[tuple[float, float, float, float], ...]
    mean: float | None
    interval: _Bounds | None


def drawn_rows(changes: pd.DataFrame) -> pd.DataFrame:
    """Return the rows that may be drawn: with a difference, and comparable."""
    fits = changes["difference"].notna() & ~changes["verdict"].isin(NO_PAIR)
    return changes[fits.to_numpy(dtype=bool)]


def draw_changes(answer: CohortAnswer) -> ChangePicture:
    """Draw the change of each person of an answer who can be compared, and their mean."""
    rows = drawn_rows(answer.first).sort_values("difference", kind="stable")
    numbers = rows[["difference", *_BOUNDS, "measurement_error"]].astype(float)
    errors = numbers["measurement_error"].max()
    reach = [0.0, *numbers[list(_BOUNDS)].to_numpy().ravel(), *numbers["difference"]]
    known = [each for each in (*reach, errors, -errors) if math.isfinite(each)]
    ticks = round_ticks(known, n_ticks=_TICKS)
    several = rows["person"].duplicated(keep=False).tolist()
    told = list(zip(rows[list(_DRAWN)].to_dict("records"), several, strict=True))
    points = tuple(
        _point(row, 100 * (place + 0.5) / len(told), ticks, answer, with_leg=leg)
        for place, (row, leg) in enumerate(told)
    )
    mean, low, high = answer.mean
    return ChangePicture(
        tuple((height_on(at, ticks), _signed_label(at, answer.measure.name)) for at in ticks),
        height_on(0.0, ticks),
        points,
        tuple(_bands([row["measurement_error"] for row, _ in told], ticks)),
        height_on(mean, ticks) if math.isfinite(mean) else None,
        _shown(_heights(low, high, ticks)),
    )


def _shown(ends: _Bounds | None) -> _Bounds | None:
    """Return the part of an interval that lies on the scale, which is that of the people."""
    return None if ends is None else (min(ends[0], 100.0), max(ends[1], 0.0))


def _signed_label(at: float, measure: str) -> str:
    return f"+{tick_label(at, measure)}" if at > 0 else tick_label(at, measure)


def _point(
    row: dict[Any, Any], at: float, ticks: list[float], answer: CohortAnswer, *, with_leg: bool
) -> ChangePoint:
    label = f"{row['person']} {row['side'][0].upper()}" if with_leg else str(row["person"])
    return ChangePoint(
        label,
        round(at, 3),
        height_on(row["difference"], ticks),
        _heights(row["walks_low"], row["walks_high"], ticks),
        _heights(row["low"], row["high"], ticks),
        row["verdict"],
        _words(row, label, answer.measure.decimals) if answer.n_people <= MOST_MARKS else "",
    )


def _words(row: dict[Any, Any], label: str, decimals: int) -> str:
    interval = interval_words(row["low"], row["high"], decimals)
    change = f"{label}: {signed(row['difference'], decimals)}, 95 % {interval}"
    return with_minus(f"{change}: {CHIPS[row['verdict']]}")


def _heights(low: float, high: float, ticks: list[float]) -> _Bounds | None:
    if not (math.isfinite(low) and math.isfinite(high)):
        return None
    return height_on(low, ticks), height_on(high, ticks)


def _bands(errors: list[float], ticks: list[float]) -> Iterator[tuple[float, float, float, float]]:
    """Yield where the error stays the same: left, right, top, bottom; none where not known."""
    place = 0
    for error, own in groupby(errors, key=lambda each: None if math.isnan(each) else each):
        n = len(list(own))
        sides = 100 * place / len(errors), 100 * (place + n) / len(errors)
        place += n
        if error is not None:
            yield (*sides, height_on(error, ticks), height_on(-error, ticks))

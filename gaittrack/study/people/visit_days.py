"""The days of visits, and their order in time.

In come rows of visits, out come the same with the days since the first one filled in from dates
where nobody wrote them down.
"""

from __future__ import annotations

import datetime
import math
from collections.abc import Iterable, Mapping
from typing import Any, Final

_DAYS: Final = "days_since_first_visit"


def in_time(visit: Mapping[str, Any]) -> tuple[float, str, float, str]:
    """Return what visits are ordered by: days since the first, date, number, code."""
    days, number = visit[_DAYS], visit["number"]
    return (
        math.inf if days is None else days,
        visit["date"] or "9999",
        math.inf if number is None else number,
        visit["code"],
    )


def with_days(visits: Iterable[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Return visits of one person in the order of time, days filled in from dates.

    Parameters
    ----------
    visits : iterable of mapping
        Rows of ``visit``.

    Returns
    -------
    list of dict
        Days that are recorded stay. Others count from a visit of which date and days are recorded,
        or, where no days are recorded at all, from the earliest date. None where neither tells.
    """
    rows = [dict(visit) for visit in visits]
    start = _day_zero(rows)
    for row in rows:
        if row[_DAYS] is None and row["date"] and start is not None:
            row[_DAYS] = float((datetime.date.fromisoformat(row["date"]) - start).days)
    return sorted(rows, key=in_time)


def _day_zero(rows: list[dict[str, Any]]) -> datetime.date | None:
    dated = sorted((row for row in rows if row["date"]), key=lambda row: str(row["date"]))
    both = [row for row in dated if row[_DAYS] is not None]
    if both:
        day = datetime.date.fromisoformat(both[0]["date"])
        return day - datetime.timedelta(days=round(both[0][_DAYS]))
    if dated and all(row[_DAYS] is None for row in rows):
        return datetime.date.fromisoformat(dated[0]["date"])
    return None

"""The day that a name or a line of a file says.

In comes a text, out comes a day in ISO form; nothing where it may be another one.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterator
from contextlib import suppress
from typing import Final

_EARLIEST_YEAR: Final = 1990
"""A number that would be an earlier day is none; own choice."""
_DAY: Final = re.compile(
    r"(?<!\d)(?:(\d{4})([-._/ ])(\d{1,2})\2(\d{1,2})|(\d{4})()(\d{2})(\d{2})"
    r"|(\d{1,2})([-._/ ])(\d{1,2})\10(\d{4}))(?!\d)"
)


def said_day(text: str) -> str:
    """Return the day that stands in a name, in ISO form; empty when there is none or several.

    Where it may be day or month that comes first, none is said, except with points (5.3.2024).
    """
    found = {day for match in _DAY.finditer(text) for day in _days(match)}
    return found.pop() if len(found) == 1 else ""


def whole_day(text: str) -> str:
    """Return the day that a text is, and nothing else, as :func:`said_day` reads it."""
    return said_day(text) if _DAY.fullmatch(text) else ""


def _days(match: re.Match[str]) -> Iterator[str]:
    first, separator, second, third = [each for each in match.groups() if each is not None]
    orders = [(first, second, third)] if len(first) == 4 else [(third, second, first)]
    if len(first) < 4 and separator != ".":
        orders.append((third, first, second))
    return (day for order in orders if (day := day_of(*map(int, order))))


def day_of(year: int, month: int, day: int) -> str:
    """Return a day in ISO form; empty for one that is none, or none of a recording."""
    with suppress(ValueError):
        date = datetime.date(year, month, day)
        if _EARLIEST_YEAR <= date.year and date <= datetime.date.today():
            return date.isoformat()
    return ""

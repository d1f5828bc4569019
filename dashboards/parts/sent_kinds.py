"""What a browser sends to a callback can be stored and shown at all.

In comes a callback, out comes the same, which refuses texts that are none, numbers that no database
holds, and values within values without end: no screen sends them.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Callable
from typing import Any, Final

from gaittrack.errors import StudyError

_LARGEST: Final = 2**63
"""Whole numbers from there on are none of a database."""
_DEEPEST: Final = 40
"""Own choice; screens send some five."""


def checked(function: Callable[..., Any]) -> Callable[..., Any]:
    """Return a callback that refuses what no screen sends.

    Raises
    ------
    StudyError
        From the callback.
    """

    @functools.wraps(function)
    def check_first(*given: Any) -> Any:
        if not all(map(_is_plain, given)):
            raise StudyError.of("not_sent_by_screen", where="request")
        return function(*given)

    return check_first


def _is_plain(value: Any, depth: int = 0) -> bool:
    if isinstance(value, str):
        return not any("\ud800" <= letter <= "\udfff" for letter in value)
    if isinstance(value, int):
        return abs(value) < _LARGEST
    if isinstance(value, float):
        return math.isfinite(value)
    if isinstance(value, list | dict):
        parts = [*value, *value.values()] if isinstance(value, dict) else value
        return depth < _DEEPEST and all(_is_plain(each, depth + 1) for each in parts)
    return True

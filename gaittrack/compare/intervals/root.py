"""Where a function of one number crosses 0, by the method of Brent.

In come a function and two ends, out comes what ``scipy.optimize.brentq`` gives, to the last digit,
without the package around it, which loads half of scipy for a fifth of a second.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, Final

from gaittrack.late import optimize, without_package

_Function = Callable[[float], float]
_Search = Callable[[_Function, float, float], float]
_EXACT: Final = (2e-12, 8.881784197001252e-16, 100, (), False, True)
"""Tolerances and most steps as ``brentq`` has them: of the root, relative to it; no report."""


def _by_package(function: _Function, low: float, high: float) -> float:
    return float(optimize.brentq(function, low, high))


def _scipys_search() -> _Search:
    kernel: Any = getattr(without_package("scipy.optimize", "_zeros"), "_brentq", None)

    def search(function: _Function, low: float, high: float) -> float:
        return float(kernel(function, low, high, *_EXACT))

    return search if _finds(search) else _by_package


def _finds(search: _Search) -> bool:
    """Tell whether it finds a root known by heart: it is no public function."""
    try:
        return abs(search(lambda x: x * x - 2.0, 1.0, 2.0) - math.sqrt(2.0)) < 1e-11
    except (TypeError, ValueError, RuntimeError):
        return False


_search: Final = _scipys_search()


def root_between(function: _Function, low: float, high: float) -> float:
    """Return where a continuous function is 0 between two ends of which one is above and one below.

    Raises
    ------
    ValueError
        Both ends lie on one side, or the function has no value there.
    """
    if math.isnan(function(low)) or math.isnan(function(high)):
        raise ValueError(f"no value at {low} or {high}")
    return _search(function, low, high)

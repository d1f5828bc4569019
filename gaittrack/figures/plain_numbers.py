"""Measured values as a figure takes them: rounded, and None where there is a gap."""

from __future__ import annotations

import re
from typing import Any, Final

import numpy as np

from gaittrack.trial import FloatArray

_HYPHEN: Final = re.compile(r"(?<!\w)-(?=\d)")


def with_minus(text: str) -> str:
    """Return a number in words with the sign that numbers are set with, in place of a hyphen."""
    return _HYPHEN.sub("−", text)


def plain_numbers(values: FloatArray, decimals: int) -> list[Any]:
    """Return values as plain numbers.

    Parameters
    ----------
    values : array
        Of any shape.

    Returns
    -------
    list
        Of numbers, or of lists in the shape of ``values``; None for what is not finite.
    """
    plain = np.round(values, decimals).astype(object)
    plain[~np.isfinite(values)] = None
    found: list[Any] = plain.tolist()
    return found

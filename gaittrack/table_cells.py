"""How a value of a result stands in a cell of a table.

In comes anything a result holds, out comes a number, a truth, a text or None.
"""

from __future__ import annotations


def cell(value: object) -> object:
    """Return a value as a cell; several in words, a reason as its sentence."""
    if value is None or isinstance(value, str | int | float):
        return value
    if isinstance(value, list | tuple):
        return "; ".join(str(each) for each in value)
    return str(value)

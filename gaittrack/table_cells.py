"""How results stand in tables: what a cell holds, and tables on top of each other.

In comes anything a result holds, out comes a number, a truth, a text or None; in come tables of the
same columns, out comes one.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import pandas as pd


def cell(value: object) -> object:
    """Return a value as a cell; several in words, a reason as its sentence."""
    if value is None or isinstance(value, str | int | float):
        return value
    if isinstance(value, list | tuple):
        return "; ".join(str(each) for each in value)
    return str(value)


def stacked(tables: Iterable[pd.DataFrame], columns: Sequence[str]) -> pd.DataFrame:
    """Return tables as one, their rows numbered anew; without a row an empty one."""
    filled = [table for table in tables if len(table)]
    return pd.concat(filled, ignore_index=True) if filled else pd.DataFrame(columns=list(columns))

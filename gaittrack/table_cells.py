"""How results stand in tables: what a cell holds, and tables on top of each other.

In comes anything a result holds, out comes a number, a truth, a text or None; in come tables of the
same columns, out comes one; in comes a table, out comes one whose texts no program runs.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import Final

from gaittrack.late import pandas as pd

_FORMULA_STARTS: Final = ("=", "+", "-", "@", "\t", "\r", "\n", "\0")
_CONTROL: Final = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff]")


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


def safe_text(table: pd.DataFrame) -> pd.DataFrame:
    """Return a table whose text cells no spreadsheet takes for a formula.

    Numbers stay numbers, also negative ones. Text that begins with ``= + - @``, a tab, a line end
    or NUL gets an apostrophe before it; control characters are taken out.
    """
    safe = table.copy()
    for name in safe.columns:
        if isinstance(safe[name].dtype, pd.StringDtype):
            told = {text: escaped_text(text) for text in safe[name].dropna().unique()}
            if changed := {text: new for text, new in told.items() if new != text}:
                safe[name] = safe[name].replace(changed)
    return safe


def escaped_text(text: str) -> str:
    """Return a text that no spreadsheet takes for a formula; see :func:`safe_text`."""
    starts = text.startswith(_FORMULA_STARTS) or text.lstrip().startswith(_FORMULA_STARTS[:4])
    return _CONTROL.sub("", f"'{text}" if starts else text)

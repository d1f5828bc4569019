"""From text to rows of cells, the delimiter being known.

In comes the text of a table; out go its rows, each a tuple of stripped cells.
"""

from __future__ import annotations

import csv
import io
import re

from gaittrack.errors import DataError

Rows = tuple[tuple[str, ...], ...]
_BLANK_CELLS = re.compile(r"""(?<!\S)'([^']*)'(?!\S)|(?<!\S)"([^"]*)"(?!\S)|(\S+)""")


def split_rows(text: str, delimiter: str, *, where: str) -> Rows:
    """Split text into rows of stripped cells; quoted cells stay whole.

    Raises
    ------
    DataError
        A quote that is never closed.
    """
    if delimiter in (" ", ""):
        lines = re.split(r"\r\n|\n|\r", text)
        if delimiter == "":
            return tuple((_unquoted(line.strip()),) if line.strip() else () for line in lines)
        return tuple(_blank_cells(line) for line in lines)
    try:
        reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
        return tuple(tuple(_unquoted(cell.strip()) for cell in row) for row in reader)
    except csv.Error as error:
        if not where:
            return ()
        raise DataError.of("cells_cannot_split", where=where, error=str(error)) from error


def _blank_cells(line: str) -> tuple[str, ...]:
    return tuple(one or two or three for one, two, three in _BLANK_CELLS.findall(line))


def _unquoted(cell: str) -> str:
    if len(cell) > 1 and cell[0] == cell[-1] and cell[0] in "'\"":
        return cell[1:-1].strip()
    return cell

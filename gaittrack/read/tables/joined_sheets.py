"""Sheets of a workbook that are each of one joint or side of the same recording.

In come the tables of the sheets by their names; out goes one table with all their columns, each
named by its sheet too. Sheets are joined only where their names say which joint or side each is of,
all different, and their first columns hold the same.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise

from gaittrack.read.tables.column_names import ColumnName, read_column_name
from gaittrack.read.tables.row_splitting import Rows
from gaittrack.read.tables.table_sniffing import Table, frame_table


def joined_sheets(tables: Mapping[str, Table], where: str) -> tuple[tuple[str, ...], Table] | None:
    """Return the names of the sheets and their one table; None where they are none.

    Parameters
    ----------
    where : str
        File name for messages.
    """
    spelt = {name: read_column_name(name) for name in tables}
    parts = {name: tables[name] for name, said in spelt.items() if _names_part(said)}
    told = {(spelt[name].side, spelt[name].joint) for name in parts}
    if len(parts) < 2 or len(told) < len(parts) or not _are_alike(list(parts.values())):
        return None
    rows, header = _rows(parts)
    joined = frame_table(
        rows,
        where=where,
        decimal=next(iter(parts.values())).decimal,
        header_row=header,
        delimiter="workbook cells",
        encoding="workbook",
    )
    return tuple(parts), joined


def _names_part(said: ColumnName) -> bool:
    """Whether the name of a sheet says a joint or a side, and nothing that is not known."""
    is_of_angle = said.role == "angle" or (said.role == "unknown" and said.side is not None)
    return is_of_angle and not said.rest and not said.cycle


def _are_alike(parts: list[Table]) -> bool:
    """Whether tables have a header each, as many rows, and the same in their first columns."""
    if any(table.header is None or table.width < 2 for table in parts):
        return False
    firsts = [[row[0] for row in _body(table)] for table in parts]
    return all(one == other for one, other in pairwise(firsts))


def _body(table: Table) -> Rows:
    """Return the rows below the header."""
    rows = table.rows[(table.header or 0) + 1 : table.last]
    return tuple((*row[: table.width], *[""] * (table.width - len(row))) for row in rows)


def _rows(parts: Mapping[str, Table]) -> tuple[Rows, int]:
    """Return the rows of the one table, and which of them is the header, from 1."""
    first = next(iter(parts.values()))
    above = first.rows[: first.header]
    names = [first.names[0]]
    for sheet, table in parts.items():
        names += [f"{sheet} {name}".strip() for name in table.names[1:]]
    bodies = [_body(table) for table in parts.values()]
    rows = [
        (together[0][0], *(cell for cells in together for cell in cells[1:]))
        for together in zip(*bodies, strict=True)
    ]
    return (*above, tuple(names), *rows), len(above) + 1

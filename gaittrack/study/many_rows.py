"""Insert many rows of plain values at once.

In come values in the order of named columns; they go to the driver as they are. Looked at one by
one, the thousand values of a walk cost more than storing them.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Any

from sqlalchemy import Connection, Table


def insert_rows(
    connection: Connection, table: Table, names: Sequence[str], rows: Sequence[tuple[Any, ...]]
) -> None:
    """Insert rows.

    Parameters
    ----------
    names : sequence of str
        Of columns whose values the driver takes as they are: texts, numbers, bytes, None.
    rows : sequence of tuple
        Their values.
    """
    if rows:
        mark = "?" if connection.dialect.paramstyle == "qmark" else "%s"
        connection.exec_driver_sql(_statement(table, tuple(names), mark), list(rows))


@cache
def _statement(table: Table, names: tuple[str, ...], mark: str) -> str:
    columns = ", ".join(f'"{table.c[name].name}"' for name in names)
    return f'INSERT INTO "{table.name}" ({columns}) VALUES ({", ".join([mark] * len(names))})'

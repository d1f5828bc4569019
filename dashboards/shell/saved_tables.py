"""Make a file of a table that a browser shows: its texts as a CSV or XLSX file.

In come the rows as they stand on a screen, out comes the file, for who may export. Nothing is
looked up: what comes from a browser is only written down, and no cell becomes a formula.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any, Final

from dash import Dash, Input, dcc
from dash import no_update as unchanged
from dash.development.base_component import Component

from dashboards.parts.saving import SAVE
from dashboards.shell.access import require
from dashboards.shell.handing_out import file_output, file_place, hand_out_bytes
from gaittrack.errors import StudyError
from gaittrack.report.comparison_workbook import XLSX
from gaittrack.report.table_files import csv_of, xlsx_of

_MOST_CELLS: Final = 400_000
_UNSAFE: Final = re.compile(r"[^\w.-]+")


def places() -> list[Component]:
    """Return the parts of the frame through which tables are saved."""
    return [dcc.Store(id=SAVE), file_place(SAVE)]


def register(app: Dash) -> None:
    """Register the callback that makes the files."""

    @app.callback(file_output(SAVE), Input(SAVE, "data"), prevent_initial_call=True)
    def save(asked: dict[str, Any] | None) -> Any:
        require("export")
        if not asked:
            return unchanged
        return hand_out_table(_checked(asked["rows"]), asked)


def hand_out_table(rows: Sequence[Sequence[str]], asked: Mapping[str, Any]) -> Any:
    """Hand out rows, heads first, as the file of the ``kind`` and ``name`` that was asked for."""
    name = _UNSAFE.sub("-", str(asked.get("name")))[:80].strip("-.") or "table"
    if asked.get("kind") == "csv":
        return hand_out_bytes(csv_of(rows), f"{name}.csv", "text/csv")
    return hand_out_bytes(xlsx_of(rows), f"{name}.xlsx", XLSX)


def _checked(rows: Sequence[Sequence[object]]) -> list[list[str]]:
    """Return the rows as texts.

    Raises
    ------
    StudyError
        There is none, or too many.
    """
    if not 0 < sum(map(len, rows)) <= _MOST_CELLS:
        raise StudyError.of("no_table_to_save", where="Save")
    return [[str(cell) for cell in row] for row in rows]

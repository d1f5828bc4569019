"""A table of texts as a file: CSV or XLSX.

In come rows as they are shown, out come bytes. What reads as a number is one in the workbook; no
text becomes a formula.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from io import BytesIO, StringIO
from typing import Final

import xlsxwriter

from gaittrack.table_cells import escaped_text

_NUMBER: Final = re.compile(r"[+-]?\d+(?:\.\d+)?")
_MARK: Final = "\ufeff"
"""Tells spreadsheet programs that the text is UTF-8."""
_Rows = Sequence[Sequence[str]]


def csv_of(rows: _Rows) -> bytes:
    """Return rows, heads first, as a CSV file, as RFC 4180 says."""
    text = StringIO(newline="")
    writer = csv.writer(text)
    for row in rows:
        writer.writerow(each if _NUMBER.fullmatch(each) else escaped_text(each) for each in row)
    return f"{_MARK}{text.getvalue()}".encode()


def xlsx_of(rows: _Rows) -> bytes:
    """Return rows, heads first, as a workbook of one sheet, numbers as numbers."""
    content = BytesIO()
    book = xlsxwriter.Workbook(content, {"in_memory": True})
    sheet = book.add_worksheet("table")
    for place, row in enumerate(rows):
        for column, text in enumerate(row):
            if place and _NUMBER.fullmatch(text):
                sheet.write_number(place, column, float(text))
            else:
                sheet.write_string(place, column, text)
    sheet.freeze_panes(1, 0)
    book.close()
    return content.getvalue()

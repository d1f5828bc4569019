"""Which columns of a text table are one point in space.

In comes a table; out go :class:`PointColumns`: a label and the columns of its coordinates. Axis
letters stand behind each name (``FHx``), in a row of their own below the labels, or nowhere, when
labels are followed by two or three columns each. Where two rows name the points, the upper one,
which names the body, is kept.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from gaittrack.read.marker_texts.axis_spellings import points_spelt_otherwise
from gaittrack.read.tables.column_names import axis_and_stem, read_column_name
from gaittrack.read.tables.number_cells import is_number, is_text, is_unit_row
from gaittrack.read.tables.table_numbers import numbers_or_gaps
from gaittrack.read.tables.table_sniffing import Table

HEADER_ROWS = 8
"""Rows above the numbers that may belong to the header; our choice."""
_SAYS_NAMES = re.compile(
    r"(?:marker|point|landmark|body ?part|joint)s?(?:[_ ]?(?:name|label)s?)?|(?:name|label)s?"
)
"""What stands before or above the row of labels, in lower case."""
MOSTLY = 0.8
"""Share of the points that a row must name to be a row of labels; our choice."""


@dataclass(frozen=True, slots=True)
class PointColumns:
    """One point: its label and the columns of its coordinates, in the order of ``axes``."""

    label: str
    columns: tuple[int, ...]
    axes: str


@dataclass(frozen=True, slots=True)
class MarkerHeader:
    """What the header says.

    Attributes
    ----------
    points : tuple of PointColumns
        Groups of two or three columns; the label is "" where there are more columns than labels.
    lead : tuple of tuple of str
        For each column before the first point, the words above it.
    unused : int
        Columns that belong to no point.
    """

    points: tuple[PointColumns, ...]
    lead: tuple[tuple[str, ...], ...]
    unused: int


def read_marker_header(table: Table) -> MarkerHeader | None:
    """Return the points of a table, or None when its header does not name points."""
    start = max(0, table.first - HEADER_ROWS)
    rows = [row for row in table.rows[start : table.first] if any(row)]
    place = _axis_row(rows)
    if place is None:
        return _named_by_key(table, rows) or _without_axes(table, rows) or _spelt_otherwise(table)
    groups = _groups(_in_place(rows[place], table), table.width)
    if not groups:
        return None
    upper = [row for row in rows[:place] if not is_unit_row(row)]
    n_lead = min(groups[0].columns)
    upper.sort(key=lambda row: _says_names(row[:n_lead]))
    named = [_named_by(row, groups, n_lead) for row in reversed(upper)]
    best = next((points for points in named if points), None)
    points = best or (groups if any(group.label for group in groups) else None)
    if points is None:
        return None
    lead = _lead_words(rows, n_lead)
    used = sum(len(point.columns) for point in points)
    return MarkerHeader(tuple(points), lead, table.width - n_lead - used)


def _says_names(lead: Sequence[str]) -> bool:
    """Whether the cells before a row of labels say that it is one: of several, it is meant."""
    return any(cell and _SAYS_NAMES.fullmatch(cell.lower()) for cell in lead)


def _in_place(row: Sequence[str], table: Table) -> Sequence[str]:
    """Return axes above their columns: blanks alone do not keep the empty cells before them."""
    missing = table.width - len(row)
    return [*[""] * missing, *row] if table.delimiter == " " and missing > 0 else row


def _named_by_key(table: Table, rows: Sequence[tuple[str, ...]]) -> MarkerHeader | None:
    """Read a line of labels behind a key, such as ``MARKER_NAMES``, with three columns for each."""
    for row in rows:
        labels = [cell for cell in row[1:] if cell]
        is_key = "name" in row[0].lower() and _says_names(row[:1])
        if is_key and len(labels) > 1 and 3 * len(labels) == table.width:
            points = [
                PointColumns(label, (3 * n, 3 * n + 1, 3 * n + 2), "xyz")
                for n, label in enumerate(labels)
            ]
            return MarkerHeader(tuple(points), (), 0)
    return None


def _spelt_otherwise(table: Table) -> MarkerHeader | None:
    """Read axes that stand in front of the names, or are numbers, or told by order."""
    names = table.names
    found = points_spelt_otherwise(names, lambda: numbers_or_gaps(table))
    if not found:
        return None
    points = tuple(PointColumns(label, columns, "xyz") for label, columns in found.items())
    n_lead = min(min(point.columns) for point in points)
    lead = tuple((name,) if name else () for name in names[:n_lead])
    return MarkerHeader(points, lead, table.width - n_lead - 3 * len(points))


def _axis_row(rows: Sequence[tuple[str, ...]]) -> int | None:
    """Return the lowest row in which at least two neighbours are the axes of one point."""
    for place in range(len(rows) - 1, -1, -1):
        filled = sum(1 for cell in rows[place] if cell)
        axes = sum(len(group.columns) for group in _groups(rows[place], len(rows[place])))
        if axes >= 2 and axes >= 0.4 * filled:
            return place
    return None


def _groups(row: Sequence[str], width: int) -> list[PointColumns]:
    """Return neighbours that share a stem and carry different axis letters, in any order."""
    groups: list[PointColumns] = []
    stem, axes, columns = "", "", list[int]()
    for column, cell in enumerate((*row[:width], "")):
        axis, name = axis_and_stem(cell)
        if axis and axes and name == stem and axis not in axes:
            axes += axis
            columns.append(column)
            continue
        if len(columns) > 1:
            in_order = sorted(zip(axes, columns, strict=True))
            groups.append(PointColumns(stem, tuple(c for _, c in in_order), "".join(sorted(axes))))
        stem, axes, columns = (name, axis, [column]) if axis else ("", "", [])
    return groups


def _named_by(
    row: Sequence[str], groups: Sequence[PointColumns], n_lead: int
) -> list[PointColumns] | None:
    """Give the groups the labels of a row above them, or return None when it names none."""
    labels = _aligned(row, groups) or _in_sequence(row, groups, n_lead)
    if labels is None:
        return None
    return [
        PointColumns(label, group.columns, group.axes)
        for label, group in zip(labels, groups, strict=True)
    ]


def _aligned(row: Sequence[str], groups: Sequence[PointColumns]) -> list[str] | None:
    labels: list[str] = []
    for group in groups:
        cells = [row[column] if column < len(row) else "" for column in sorted(group.columns)]
        later = set(cells[1:]) - {"", cells[0]}
        labels.append("" if later or not is_text(cells[0]) else cells[0])
    named = [label for label in labels if label]
    if len(named) < MOSTLY * len(groups) and not (named and labels[: len(named)] == named
                                                  and _has_gaps(row)):  # fmt: skip
        return None
    return labels if len(set(named)) >= max(1, MOSTLY * len(named)) else None


def _has_gaps(row: Sequence[str]) -> bool:
    """Whether the row leaves cells empty between its labels."""
    return "" in row[1 : max((i for i, cell in enumerate(row) if cell), default=0)]


def _in_sequence(
    row: Sequence[str], groups: Sequence[PointColumns], n_lead: int
) -> list[str] | None:
    """Return labels that follow each other without gaps: one for each lead column, then points."""
    words = [cell for cell in row if cell]
    if _has_gaps(row) or any(group.label for group in groups):
        return None
    leads = 0
    while leads < min(n_lead, len(words)) and read_column_name(words[leads]).role in (
        "time",
        "frame",
    ):
        leads += 1
    if len(words) == len(groups) + n_lead:
        leads = n_lead
    labels = words[leads:]
    if not labels or len(labels) > len(groups) or (len(labels) < 2 and len(groups) > 1):
        return None
    return labels + [""] * (len(groups) - len(labels))


def _lead_words(rows: Sequence[tuple[str, ...]], n_lead: int) -> tuple[tuple[str, ...], ...]:
    return tuple(
        tuple(row[column] for row in rows if column < len(row) and row[column])
        for column in range(n_lead)
    )


def _without_axes(table: Table, rows: Sequence[tuple[str, ...]]) -> MarkerHeader | None:
    """Read labels that are followed by two or three columns each, with no axis letters."""
    named = [row for row in rows if not is_unit_row(row) and sum(map(is_text, row)) > 2]
    first = table.rows[table.first]
    if not named or not first or not is_number(first[0]):
        return None
    row = named[-1]
    n_lead = 0
    while n_lead < len(row) and _leads(rows, n_lead, row[n_lead]):
        n_lead += 1
    labels = [(column, cell) for column, cell in enumerate(row) if cell and column >= n_lead]
    if not n_lead or len(labels) < 2:
        return None
    size = _columns_each(table.width - n_lead, labels, gaps=_has_gaps(row[n_lead:]))
    if size is None or not _holds_numbers(table, n_lead + size * len(labels)):
        return None
    points = tuple(
        PointColumns(label, tuple(range(start, start + size)), "xyz"[:size])
        for place, (_, label) in enumerate(labels)
        for start in [n_lead + place * size]
    )
    unused = table.width - n_lead - size * len(points)
    return MarkerHeader(points, _lead_words(rows, n_lead), unused)


def _leads(rows: Sequence[tuple[str, ...]], column: int, name: str) -> bool:
    """Whether a column is of times or frames, by its name or, where it has none, by its unit."""
    words = [name] if name else [row[column] for row in rows if column < len(row) and row[column]]
    return any(map(is_of_time, words))


def is_of_time(word: str) -> bool:
    """Whether a word above a column says that it holds times or frames."""
    return read_column_name(word).role in ("time", "frame")


def _holds_numbers(table: Table, width: int) -> bool:
    """Whether each of the first columns holds a number in the first rows."""
    rows = [row for row in table.rows[table.first : table.last][:HEADER_ROWS] if any(row)]
    return all(any(column < len(row) and row[column] for row in rows) for column in range(width))


def _columns_each(width: int, labels: Sequence[tuple[int, str]], *, gaps: bool) -> int | None:
    """Return 2 or 3, or None when nothing tells."""
    if gaps:
        spacings = {two[0] - one[0] for one, two in zip(labels[:-1], labels[1:], strict=True)}
        return spacings.pop() if spacings in ({2}, {3}) else None
    for size in (3, 2):
        extra = width - size * len(labels)
        if 0 <= extra < len(labels) and extra % size == 0:
            return size
    return None

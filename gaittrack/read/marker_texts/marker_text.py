"""Marker text tables: coordinates over time with a header of labels.

In come the bytes of a tab, comma or blank separated file; out goes a :class:`Trial` with markers in
metres in the axes of the file. A table with two coordinates per marker is a side view: its first
axis becomes x and its second z, so that up is the third axis; y is 0 and ``n_dimensions`` is 2.
Force and centre of pressure in the same table become a force plate at the marker rate.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np

from gaittrack.errors import DataError, GaitTrackError, LayoutError, Problem
from gaittrack.lab_map import LabMap, SheetMap
from gaittrack.read.marker_texts.marker_header import (
    HEADER_ROWS,
    MarkerHeader,
    PointColumns,
    is_of_time,
    read_marker_header,
)
from gaittrack.read.marker_texts.marker_text_forces import plate_labels, read_plates
from gaittrack.read.tables.column_names import read_column_name
from gaittrack.read.tables.length_unit import SAID_IN, find_length_unit
from gaittrack.read.tables.number_cells import is_number
from gaittrack.read.tables.preamble import (
    declared_rate_hz,
    declared_unit,
    missing_rows,
    other_unit,
    rate_of_columns_hz,
    said_above,
)
from gaittrack.read.tables.row_lengths import row_length_problems
from gaittrack.read.tables.table_numbers import number_matrix
from gaittrack.read.tables.table_sniffing import Table, read_text_table, unit_row
from gaittrack.read.tables.text_decoding import whole_rows
from gaittrack.read.tables.time_base import TimeBase, find_time_base
from gaittrack.reasons import Reason
from gaittrack.trial import FloatArray, Provenance, Trial

FORMAT = "marker text table"
SUFFIXES = frozenset((".trc", ".txt", ".tsv", ".csv"))
FARTHEST_M = 200.0
"""Coordinates beyond are taken for damaged numbers; our choice."""
_ANGLE_WORDS = re.compile(r"angle|flex|rotat|abduct|adduct|tilt|\(deg|\[deg|\(rad|\[rad", re.I)
_CHANGE = re.compile(r"(.+?)[\s_.:\-]*(?:v|vel|velocity|speed|a|acc|accel|acceleration)", re.I)
"""Beside a marker of that name: how fast it moves."""
_UNLABELLED = re.compile(r"[*#]\d*|unnamed.*|unlabel.*", re.I)


def looks_like(content: bytes, suffix: str) -> bool:
    """Whether the bytes are a marker text table.

    Parameters
    ----------
    content : bytes
        The file, or its beginning.
    suffix : str
        Not needed; a format is recognised by its content.
    """
    try:
        if is_of_markers(read_text_table(whole_rows(content), where="")):
            return True
        return bool(_block_of_markers(content, SheetMap()))
    except GaitTrackError:
        return False


def is_of_markers(table: Table) -> bool:
    """Whether a table holds coordinates of markers."""
    header = read_marker_header(table)
    return header is not None and _names_markers(header, table)


def _block_of_markers(content: bytes, told: SheetMap) -> int:
    """Return which one of several tables of a file holds markers; 0 for none, or several."""
    n = len(_read_table(content, "", told).blocks)
    found = [k for k in range(1, n + 1) if is_of_markers(_read_table(content, "", told, k))]
    return found[0] if len(found) == 1 else 0


def _names_markers(header: MarkerHeader, table: Table) -> bool:
    markers = _markers(header.points)
    angular = [point for point in markers if _ANGLE_WORDS.search(point.label)]
    in_degrees = {"deg", "rad", "degrees", "\u00b0"} & {c.strip("[]()") for c in unit_row(table)}
    return len(markers) >= 2 and len(angular) < len(markers) / 2 and not in_degrees


def _markers(points: Sequence[PointColumns]) -> list[PointColumns]:
    others = plate_labels(points)
    return [point for point in points if point.label and point.label not in others]


def read(
    path: Path, content: bytes, sha256: str, *, lab_map: LabMap, rate_hz: float | None
) -> Trial:
    """Read a marker text table.

    Parameters
    ----------
    path : Path
        For its name only.
    lab_map : LabMap
        Its ``[sheet]`` may tell encoding, delimiter, decimal, block, rate_hz and length_unit.
    rate_hz : float, optional
        Frames per second; before the map's and the table's own.

    Raises
    ------
    LayoutError
        The header does not tell which columns belong together.
    EmptyFileError, DataError, TruncatedFileError
    """
    told = lab_map.sheet
    table, others = _table(content, path.name, told)
    header = _header(table, path.name)
    lengths = row_length_problems(table, path.name)
    values, problems = number_matrix(table, path.name, _beside(header, table))
    above = table.rows[: table.first]
    counts = missing_rows(above, len(values), path.name, is_whole=table.ends_whole)
    base = _time_base(header, table, values, told, rate_hz, path.name)
    points, dropped = _sorted_out(header, table, path.name)
    raw, gaps = _zeros_to_gaps(
        {label: base.spread(_coordinates(values, point)) for label, point in points.items()}
    )
    if not told.length_unit and (other := other_unit(above)):
        raise DataError.of("unit_of_length_is_other", where=path.name, unit=other)
    said = _said_unit(header, table, points)
    unit = find_length_unit(raw, where=path.name, said=said, told=told.length_unit)
    markers, far = _far_to_gaps(raw, SAID_IN[unit.unit])
    plates = read_plates(header.points, values, base, scale_m=SAID_IN[unit.unit])
    steps = (*table.steps, base.step, unit.step, *_axes_step(points), *plates.steps)
    return Trial(
        base.rate_hz,
        base.n_frames,
        Provenance(path.name, sha256, FORMAT, steps, **said_above(above)),
        first_frame=base.first_frame,
        markers=markers,
        plates=plates.plates,
        problems=(
            *(*others, *lengths, *problems, *counts, *base.problems, *dropped, *gaps),
            *(*unit.problems, *far, *plates.problems),
        ),
        n_dimensions=_n_dimensions(points),
    )


def _header(table: Table, where: str) -> MarkerHeader:
    header = read_marker_header(table)
    if header is None:
        raise LayoutError.of("header_does_not_tell_columns", where=where)
    return header


def _read_table(content: bytes, where: str, told: SheetMap, block: int | None = None) -> Table:
    return read_text_table(
        content,
        where=where,
        encoding=told.encoding,
        delimiter=told.delimiter,
        decimal=told.decimal,
        block=block or told.block,
    )


def _table(content: bytes, where: str, told: SheetMap) -> tuple[Table, tuple[Problem, ...]]:
    """Return the table of markers, and which others the file holds."""
    table = _read_table(content, where, told)
    if table.blocks and (block := _block_of_markers(content, told)):
        used, n = table.blocks[block - 1], len(table.blocks)
        told_of = Problem("info", Reason("other_tables", n=n - 1, used=used), where)
        return _read_table(content, where, told, block), (told_of,)
    if table.blocks:
        spans = "; ".join(f"{n}: {rows}" for n, rows in enumerate(table.blocks, 1))
        raise LayoutError.of(
            "more_than_one_table_numbers", where=where, spans=spans, n=len(table.blocks)
        )
    return table, ()


def _time_base(
    header: MarkerHeader,
    table: Table,
    values: FloatArray,
    told: SheetMap,
    rate_hz: float | None,
    where: str,
) -> TimeBase:
    found: dict[str, int] = {}
    unit = ""
    for column, words in enumerate(header.lead):
        names = [read_column_name(word) for word in words if _is_time(table, column, words)]
        for name in names:
            if name.role in ("time", "frame"):
                found.setdefault(name.role, column)
        if column in table.clocks:
            found["time"], unit = column, "s"
        elif found.get("time") == column:
            unit = next((name.unit for name in names if name.unit in ("s", "ms")), "")
    has_time = "time" in found
    return find_time_base(
        len(values),
        where=where,
        time=values[:, found["time"]] if has_time else None,
        time_unit=unit,
        frame=values[:, found["frame"]] if "frame" in found else None,
        told_hz=rate_hz or told.rate_hz,
        declared_hz=None if has_time else _declared_hz(table),
    )


def _beside(header: MarkerHeader, table: Table) -> frozenset[int]:
    """Return the columns that are of no point, no time and no frame."""
    used = {column for point in header.points for column in point.columns}
    for column, words in enumerate(header.lead):
        if _is_time(table, column, words):
            used.add(column)
    return frozenset(range(table.width)) - used


def _is_time(table: Table, column: int, words: Sequence[str]) -> bool:
    """Whether a column is of times or frames, and in numbers."""
    first = table.rows[table.first]
    is_number_there = column < len(first) and is_number(first[column])
    return is_number_there and (column in table.clocks or any(map(is_of_time, words)))


def _declared_hz(table: Table) -> float | None:
    above = table.rows[: table.first]
    names = [cell for row in above[-HEADER_ROWS:] for cell in row]
    return declared_rate_hz(above) or rate_of_columns_hz(names)


def _sorted_out(
    header: MarkerHeader, table: Table, where: str
) -> tuple[dict[str, PointColumns], list[Problem]]:
    """Return the markers by label, and what was left out or renamed."""
    labels = {point.label for point in header.points}
    markers = [
        point
        for point in _markers(header.points)
        if not _ANGLE_WORDS.search(point.label)
        and not _UNLABELLED.fullmatch(point.label)
        and not ((match := _CHANGE.fullmatch(point.label)) and match.group(1) in labels)
    ]
    size = max((len(point.columns) for point in markers), default=0)
    if size == 0:
        raise DataError.of("no_column_holds_marker", where=where)
    kept = [point for point in markers if len(point.columns) == size]
    problems = []
    plates = plate_labels(header.points)
    used = [point for point in header.points if point in kept or point.label in plates]
    left_out = table.width - len(header.lead) - sum(len(point.columns) for point in used)
    if left_out:
        problems.append(Problem("warning", Reason("columns_left_out", n=left_out), where))
    named: dict[str, PointColumns] = {}
    counts: Counter[str] = Counter()
    for point in kept:
        label = point.label.rpartition(":")[2].strip() or point.label
        counts[label] += 1
        named[label if counts[label] == 1 else f"{label} ({counts[label]})"] = point
    twice = ", ".join(label for label, count in counts.items() if count > 1)
    if twice:
        problems.append(Problem("warning", Reason("labels_numbered"), twice))
    return named, problems


def _coordinates(values: FloatArray, point: PointColumns) -> FloatArray:
    chosen = values[:, list(point.columns)]
    if len(point.columns) == 3:
        return chosen
    return np.column_stack((chosen[:, 0], np.zeros(len(chosen)), chosen[:, 1]))


def _zeros_to_gaps(
    markers: Mapping[str, FloatArray],
) -> tuple[dict[str, FloatArray], list[Problem]]:
    """Take all coordinates exactly 0 as "not seen"; keep gaps whole."""
    kept: dict[str, FloatArray] = {}
    zeros = 0
    for label, xyz in markers.items():
        missing = (xyz == 0).all(axis=1)
        zeros += int(missing.sum())
        whole = xyz.copy()
        whole[missing | ~np.isfinite(xyz).all(axis=1)] = np.nan
        kept[label] = whole
    if not zeros:
        return kept, []
    problem = Problem("info", Reason("zeros_as_gaps", n=zeros), "markers")
    return kept, [problem]


def _far_to_gaps(
    raw: Mapping[str, FloatArray], scale_m: float
) -> tuple[dict[str, FloatArray], list[Problem]]:
    """Return the markers in metres; a sample beyond all laboratories is damaged, hence a gap."""
    markers: dict[str, FloatArray] = {}
    problems = []
    for label, xyz in raw.items():
        metres = xyz * scale_m
        far = (np.abs(metres) > FARTHEST_M).any(axis=1)
        if far.any():
            metres[far] = np.nan
            problems.append(
                Problem(
                    "warning",
                    Reason("samples_far_away", n=int(far.sum()), farthest_m=float(FARTHEST_M)),
                    label,
                )
            )
        markers[label] = metres
    return markers, problems


def _said_unit(header: MarkerHeader, table: Table, points: Mapping[str, PointColumns]) -> str:
    """Return the unit that the row of units, the names or a line above say, or ""."""
    units = unit_row(table) or _lowest_units(table)
    words = Counter[str]()
    for point in points.values():
        for column in point.columns:
            word = units[column].strip("[]()") if column < len(units) else ""
            words[word] += word in SAID_IN
    if words and words.most_common(1)[0][1]:
        return words.most_common(1)[0][0]
    rows = table.rows[max(0, table.first - 8) : table.first]
    match = re.search(
        r"[\[(](mm|cm|dm|m|in|ft)(?:ch)?[\])]", " ".join(cell for row in rows for cell in row)
    )
    if match:
        return match.group(1)
    return declared_unit(table.rows[: table.first], tuple(SAID_IN))


def _lowest_units(table: Table) -> tuple[str, ...]:
    row = table.rows[table.first - 1] if table.first else ()
    return tuple(cell.lower() for cell in row)


def _n_dimensions(points: Mapping[str, PointColumns]) -> int:
    return len(next(iter(points.values())).columns)


def _axes_step(points: Mapping[str, PointColumns]) -> tuple[str, ...]:
    if _n_dimensions(points) == 3:
        return ()
    axes = next(iter(points.values())).axes.upper()
    return (f"side view: the file's {axes[0]} is x, its {axes[1]} is z (up); y is 0",)

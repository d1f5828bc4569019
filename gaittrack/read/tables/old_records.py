"""The records of an old binary workbook, gone through before a reader that trusts their lengths.

In comes the stream that holds the sheets, out comes nothing, or a refusal: where a record has not
the length of its kind, a cell comes twice, or a sheet has no end, the file was cut or damaged, and
its reader would stop there without a word. Lengths are those of the published specification.
"""

from __future__ import annotations

from collections.abc import Iterator
from struct import iter_unpack, unpack_from
from typing import Final

from gaittrack.errors import DataError

_HEAD_BYTES: Final = 4
_BEGIN: Final = frozenset({0x0009, 0x0209, 0x0409, 0x0809})
_END: Final = 0x000A
_SHEET: Final = 0x0085
_FORMULA: Final = 0x0006
_LENGTHS: Final = {
    **{_END: 0, 0x0208: 16},
    **{0x0201: 6, 0x0203: 14, 0x0205: 8, 0x027E: 10, 0x00FD: 10},
}
"""Of the end, a row, and cells of one place: empty, number, truth, short number, shared text."""
_SEVERAL: Final = {0x00BD: 6, 0x00BE: 2}
"""Cells side by side, short numbers and empty ones: bytes of each."""
_SPAN: Final = 0x0200
_SPAN_FORMS: Final = {14: "<IIHH", 10: "<HHHH"}
"""First row, row after the last, and columns likewise; newer and older kind, by length."""
_MOST_ROWS, _MOST_COLUMNS = 65_536, 256
_CELLS: Final = frozenset({0x0201, 0x0203, 0x0204, 0x0205, 0x027E, 0x00FD, 0x00D6, _FORMULA})
_LONGEST: Final = 8224


def refuse_broken_records(stream: bytes, *, where: str) -> None:
    """Refuse a stream in which the first part or a sheet is not whole.

    Parameters
    ----------
    stream : bytes
        Empty where the workbook has none that is known: nothing to refuse.

    Raises
    ------
    DataError
        It is damaged, or cut short.
    """
    if not stream:
        return
    sheets = [
        unpack_from("<I", data)[0]
        for kind, data in _records(stream, 0, where)
        if kind == _SHEET and len(data) > _HEAD_BYTES
    ]
    for at in sheets:
        seen: set[tuple[int, int]] = set()
        for kind, data in _records(stream, at, where):
            if kind == _SPAN:
                _refuse_wrong_span(data, where)
            for place in _places(kind, data, where):
                if place in seen:
                    raise _damaged(where, f"the cell in row {place[0] + 1} comes twice")
                seen.add(place)


def _records(stream: bytes, at: int, where: str) -> Iterator[tuple[int, bytes]]:
    """Give the records of one part, (kind, data), from its beginning to its end."""
    depth = 0
    while at + _HEAD_BYTES <= len(stream):
        kind, length = unpack_from("<HH", stream, at)
        data = stream[at + _HEAD_BYTES : at + _HEAD_BYTES + length]
        is_odd = kind == 0 or length > _LONGEST or length != _LENGTHS.get(kind, length)
        if is_odd or (depth == 0 and kind not in _BEGIN):
            raise _damaged(where, f"there is no whole record at byte {at} of its sheets")
        if len(data) < length:
            break
        yield kind, data
        depth += (kind in _BEGIN) - (kind == _END)
        if depth == 0:
            return
        at += _HEAD_BYTES + length
    raise _damaged(where, "it ends inside of a sheet: it was cut short")


def _refuse_wrong_span(data: bytes, where: str) -> None:
    """Refuse a span that no sheet can have: the reader would make room for it."""
    form = _SPAN_FORMS.get(len(data), "")
    top, bottom, left, right = unpack_from(form, data) if form else (1, 0, 0, 0)
    if top > bottom or bottom > _MOST_ROWS or left > right or right > _MOST_COLUMNS:
        raise _damaged(where, "a sheet says that it spans what no sheet can")


def _places(kind: int, data: bytes, where: str) -> Iterator[tuple[int, int]]:
    """Give the (row, column) of each cell of a record."""
    if kind in _CELLS and len(data) >= _HEAD_BYTES:
        yield from iter_unpack("<HH", data[:_HEAD_BYTES])
    elif kind in _SEVERAL:
        n_cells, rest = divmod(len(data) - 6, _SEVERAL[kind])
        row, first = unpack_from("<HH", data) if n_cells > 0 else (0, 0)
        if n_cells < 1 or rest or unpack_from("<H", data, len(data) - 2)[0] != first + n_cells - 1:
            raise _damaged(where, f"the cells of row {row + 1} are not as many as it says")
        yield from ((row, first + n) for n in range(n_cells))


def _damaged(where: str, why: str) -> DataError:
    return DataError.of("workbook_damaged", where=where, error=why)

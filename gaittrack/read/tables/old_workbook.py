"""The container of an old binary workbook, followed before a reader that trusts it does.

In come the bytes, out comes the stream that holds the sheets, or a refusal: a chain of sectors that
runs in a circle would be followed for ever. The rules are those of the published specification of
the container.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gaittrack.errors import DataError

_HEADER_BYTES: Final = 512
_SHIFT_AT, _FIRST_FOLDER_AT, _FIRST_SMALL_AT, _FIRST_DIFAT_AT, _DIFAT_AT = 30, 48, 60, 68, 76
_OF_HEADER: Final = 109
"""Places of the table of sectors that stand in the header itself."""
_SHIFTS: Final = (9, 12)
_SMALL_BYTES, _LARGE_FROM_BYTES = 64, 4096
"""Size of a small sector, and of the smallest stream that does not lie in those."""
_ENTRY_BYTES: Final = 128
_NAME_BYTES_AT, _START_AT, _SIZE_AT = 64, 116, 120
_NAMES: Final = ("Workbook", "Book")
_Sectors = NDArray[np.uint32]


@dataclass(frozen=True, slots=True)
class _Container:
    content: bytes
    size: int
    after: _Sectors
    """By sector, the one that follows it."""

    def chain(self, first: int) -> bytes:
        """Return what lies in the sectors from one on, as far as they are there."""
        start, parts = max(_HEADER_BYTES, self.size), []
        for sector in _following(self.after, first):
            at = start + sector * self.size
            parts.append(self.content[at : at + self.size])
        return b"".join(parts)


def stream_of_sheets(content: bytes, *, where: str) -> bytes:
    """Return the stream that holds the sheets, as much of it as there is; empty if none is named.

    Raises
    ------
    DataError
        The container is damaged: its chains of sectors do not end.
    """
    if len(content) < _HEADER_BYTES:
        raise _damaged(where, "it ends inside of its header")
    shift = int.from_bytes(content[_SHIFT_AT : _SHIFT_AT + 2], "little")
    if shift not in _SHIFTS:
        raise _damaged(where, f"its sectors have 2^{shift} bytes")
    sectors = _sectors(content, 1 << shift)
    after = [sectors[place] for place in _places_of_table(content, sectors, where)]
    table = np.concatenate(after)[: len(sectors)] if after else np.empty(0, dtype=np.uint32)
    if _runs_in_a_circle(table):
        raise _damaged(where, "its sectors follow each other in a circle")
    return _stream(_Container(content, 1 << shift, table), where)


def _stream(container: _Container, where: str) -> bytes:
    folder = container.chain(_number(container.content, _FIRST_FOLDER_AT))
    ends = range(0, len(folder) - _ENTRY_BYTES + 1, _ENTRY_BYTES)
    entries = {_name(entry): entry for entry in (folder[at : at + _ENTRY_BYTES] for at in ends)}
    found = next((entries[name] for name in _NAMES if name in entries), None)
    if found is None:
        return b""
    first, size = _number(found, _START_AT), _number(found, _SIZE_AT)
    if size >= _LARGE_FROM_BYTES:
        return container.chain(first)[:size]
    small = container.chain(_number(folder, _START_AT))  # the first entry is that of the root
    after = container.chain(_number(container.content, _FIRST_SMALL_AT))
    table = np.frombuffer(after[: len(after) // 4 * 4], dtype="<u4")
    if _runs_in_a_circle(table):
        raise _damaged(where, "its sectors follow each other in a circle")
    parts = (small[n * _SMALL_BYTES :][:_SMALL_BYTES] for n in _following(table, first))
    return b"".join(parts)[:size]


def _following(after: _Sectors, first: int) -> list[int]:
    """Return the sectors of a chain that ends."""
    found = []
    while first < len(after):
        found.append(first)
        first = int(after[first])
    return found


def _name(entry: bytes) -> str:
    n_bytes = int.from_bytes(entry[_NAME_BYTES_AT : _NAME_BYTES_AT + 2], "little")
    return entry[: max(n_bytes - 2, 0)].decode("utf-16-le", errors="replace")


def _number(content: bytes, at: int) -> int:
    return int.from_bytes(content[at : at + 4], "little")


def _sectors(content: bytes, size: int) -> _Sectors:
    """Return the whole sectors as numbers, (n_sectors, numbers in a sector)."""
    body = content[max(_HEADER_BYTES, size) :]
    n_sectors = len(body) // size
    return np.frombuffer(body[: n_sectors * size], dtype="<u4").reshape(n_sectors, size // 4)


def _places_of_table(content: bytes, sectors: _Sectors, where: str) -> list[int]:
    """Return the sectors that the table of chains lies in, in order."""
    own = np.frombuffer(content, dtype="<u4", count=_OF_HEADER, offset=_DIFAT_AT).tolist()
    further = _number(content, _FIRST_DIFAT_AT)
    seen: set[int] = set()
    while further < len(sectors):
        if further in seen:
            raise _damaged(where, "its list of sectors runs in a circle")
        seen.add(further)
        *more, further = sectors[further].tolist()
        own += more
    return [place for place in own if place < len(sectors)]


def _runs_in_a_circle(table: _Sectors) -> bool:
    """Tell whether some sector leads on for ever: twice as far at each step, it still does."""
    end = len(table)
    after = np.append(np.minimum(table, end), end).astype(np.int64)
    for _ in range(max(end, 1).bit_length()):
        after = after[after]
    return bool((after != end).any())


def _damaged(where: str, why: str) -> DataError:
    return DataError.of("workbook_damaged", where=where, error=why)

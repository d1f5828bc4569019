"""The container of an old binary workbook, followed before a reader that trusts it does.

In come the bytes, out comes nothing, or a refusal: a chain of sectors that runs in a circle would
be followed for ever. The rules are those of the published specification of the container.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from gaittrack.errors import DataError

_HEADER_BYTES: Final = 512
_SHIFT_AT, _FIRST_DIFAT_AT, _DIFAT_AT = 30, 68, 76
_OF_HEADER: Final = 109
"""Places of the table of sectors that stand in the header itself."""
_SHIFTS: Final = (9, 12)
_Sectors = NDArray[np.uint32]


def refuse_circles(content: bytes, *, where: str) -> None:
    """Refuse a container whose chains of sectors do not end.

    Raises
    ------
    DataError
        It is damaged.
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


def _sectors(content: bytes, size: int) -> _Sectors:
    """Return the whole sectors as numbers, (n_sectors, numbers in a sector)."""
    body = content[max(_HEADER_BYTES, size) :] if size > _HEADER_BYTES else content[_HEADER_BYTES:]
    n_sectors = len(body) // size
    return np.frombuffer(body[: n_sectors * size], dtype="<u4").reshape(n_sectors, size // 4)


def _places_of_table(content: bytes, sectors: _Sectors, where: str) -> list[int]:
    """Return the sectors that the table of chains lies in, in order."""
    own = np.frombuffer(content, dtype="<u4", count=_OF_HEADER, offset=_DIFAT_AT).tolist()
    further = int.from_bytes(content[_FIRST_DIFAT_AT : _FIRST_DIFAT_AT + 4], "little")
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

"""Walk the parameter records of a C3D file without trusting one of them.

In come the bytes of the file; out go its byte order and every parameter as text or numbers.
Nothing that a record declares about itself is believed before it is held against the bytes that
are there. The layout is that of the public C3D user guide (c3d.org).
"""

from __future__ import annotations

import math
import struct
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from gaittrack.errors import HeaderError, TruncatedFileError
from gaittrack.trial import FloatArray

ByteOrder = Literal["intel", "dec"]
Value = list[str] | NDArray[Any]

BLOCK = 512
KEY = 0x50
PROCESSORS: dict[int, ByteOrder] = {84: "intel", 85: "dec"}
MIPS = 86
ITEM_BYTES = {-1: 1, 1: 1, 2: 2, 4: 4}
"""Bytes per item of each parameter type: text, byte, 16-bit integer, float."""
MAX_DIMENSIONS = 7
TEXT_WITHOUT_DIMENSIONS = b"\xff\0"
NEEDED_NAMES = frozenset(
    ("USED", "SCALE", "RATE", "DATA_START", "FRAMES", "LABELS", "UNITS", "OFFSET", "GEN_SCALE")
)
READ_GROUPS = frozenset(("POINT", "ANALOG", "FORCE_PLATFORM", "EVENT", "TRIAL"))
"""Groups that numbers and names come from."""


@dataclass(frozen=True, slots=True)
class ParameterSet:
    """All parameters of one file, by group and name in upper case.

    Attributes
    ----------
    is_regular : bool
        Every record's description ends inside the record, needed names are in upper case, and no
        text is a bare letter without dimensions: what ezc3d 1.7.2 relies on.
    repeated : tuple of str
        Parameters that stand there again, saying something else; the first counts.
    """

    order: ByteOrder
    values: Mapping[tuple[str, str], Value]
    is_regular: bool
    repeated: tuple[str, ...]

    def numbers(self, group: str, name: str) -> FloatArray | None:
        """Return a parameter as numbers with its stored dimensions; None when there are none."""
        value = self.values.get((group, name))
        if value is None or isinstance(value, list) or value.size == 0:
            return None
        return np.asarray(value, dtype=np.float64)

    def joined(self, group: str, name: str) -> FloatArray | None:
        """Return a parameter with its continuations NAME2, NAME3 and so on, along its last index.

        A list of more than 255 is written so.
        """
        parts, number = [self.numbers(group, name)], 2
        while (part := self.numbers(group, f"{name}{number}")) is not None:
            parts, number = [*parts, part], number + 1
        known = [part for part in parts if part is not None]
        fits = len({part.shape[:-1] for part in known}) == 1 and known[0].ndim
        return np.concatenate(known, axis=-1) if fits else parts[0]

    def number(self, group: str, name: str, *, unsigned: bool = False) -> float:
        """Return the first number of a parameter, or NaN."""
        values = self.numbers(group, name)
        if values is None:
            return math.nan
        number = float(values.flat[0])
        return number + 65536.0 if unsigned and -32768.0 <= number < 0.0 else number

    def texts(self, group: str, name: str) -> list[str]:
        """Return a parameter's texts, with those of its continuations NAME2, NAME3 and so on."""
        texts: list[str] = []
        part, number = self.values.get((group, name)), 2
        while isinstance(part, list):
            texts += part
            part, number = self.values.get((group, f"{name}{number}")), number + 1
        return texts


def read_parameters(content: bytes, where: str) -> ParameterSet:
    """Read all parameters of a C3D file.

    Parameters
    ----------
    content : bytes
        The whole file.
    where : str
        File name for messages.

    Raises
    ------
    TruncatedFileError
        The file ends inside its header or parameters.
    HeaderError
        The records contradict themselves, or the byte order is not one that is read here.
    """
    if len(content) < BLOCK:
        raise TruncatedFileError.of(
            "file_ends_after_bytes_header", where=where, n_content=len(content), block=BLOCK
        )
    start = (content[0] - 1) * BLOCK
    if start < BLOCK:
        raise HeaderError.of("header_names_no_block_parameters", where=where)
    if len(content) < start + 4:
        raise TruncatedFileError.of("file_ends_before_parameters_begin", where=where)
    order = _byte_order(content[start + 3], where)
    end = _section_end(content, start, where)
    return _collect(_records(content[:end], start + 4, where), order, where)


def floats(raw: bytes, order: ByteOrder) -> NDArray[np.float32]:
    """Return 32-bit floats; DEC keeps four times the value with its 16-bit halves swapped."""
    if order == "intel":
        return np.frombuffer(raw, dtype="<f4")
    halves = np.frombuffer(raw, dtype="<u2").reshape(-1, 2)[:, ::-1]
    with np.errstate(invalid="ignore", over="ignore"):
        return np.ascontiguousarray(halves).view("<f4").ravel() * np.float32(0.25)


def _byte_order(processor: int, where: str) -> ByteOrder:
    if processor == MIPS:
        raise HeaderError.of("file_written_mips_big_endian", where=where)
    if processor not in PROCESSORS:
        raise HeaderError.of("processor_byte_84_intel_85", where=where, processor=processor)
    return PROCESSORS[processor]


def _section_end(content: bytes, start: int, where: str) -> int:
    """Return where the parameters must have ended: where the data begin, else as declared."""
    (data_block,) = struct.unpack_from("<H", content, 16)
    data_start = (data_block - 1) * BLOCK
    end = data_start if data_start > start else start + content[start + 2] * BLOCK
    if end <= start:
        raise HeaderError.of("header_says_neither_where_data", where=where)
    if end > len(content):
        raise TruncatedFileError.of(
            "file_ends_byte_inside_parameters", where=where, n_content=len(content)
        )
    return end


@dataclass(frozen=True, slots=True)
class _Record:
    """One group or parameter: its number (groups below 0), name, and bytes after the offset."""

    number: int
    name: str
    body: bytes
    position: int


def _records(section: bytes, position: int, where: str) -> Iterator[_Record]:
    """Yield the records of the chain, each inside the section; the last has offset 0 or no name."""
    while position + 2 <= len(section) and section[position] != 0:
        length, number = struct.unpack_from("<bb", section, position)
        start = position + 2 + abs(length)
        if number == 0 or start + 2 > len(section):
            raise _broken(position, where)
        raw = section[position + 2 : start]
        (offset,) = struct.unpack_from("<H", section, start)
        end = start + offset if offset else len(section)
        if end > len(section) or 0 < offset < 3 or not all(32 <= byte < 127 for byte in raw):
            raise _broken(position, where)
        yield _Record(number, raw.decode("ascii").strip(), section[start + 2 : end], position)
        if not offset:
            return
        position = end


def _collect(records: Iterable[_Record], order: ByteOrder, where: str) -> ParameterSet:
    groups: dict[int, str] = {}
    found: list[tuple[int, str, Value]] = []
    is_regular = True
    for record in records:
        name = record.name.upper()
        if record.number < 0:
            groups[-record.number] = name
            description = 0
        else:
            value, description = _value(record.body, order, record.position, where)
            found.append((record.number, name, value))
            is_regular &= record.body[:2] != TEXT_WITHOUT_DIMENSIONS
        is_regular &= _ends_regularly(record.body, description)
        is_regular &= record.name == name or name not in NEEDED_NAMES
    values: dict[tuple[str, str], Value] = {}
    repeated: set[str] = set()
    for number, name, value in found:
        group = groups.get(number, "")
        first = values.setdefault((group, name), value)
        if group in READ_GROUPS and first is not value and not np.array_equal(first, value):
            repeated.add(f"{group}:{name}")
    return ParameterSet(order, values, is_regular, tuple(sorted(repeated)))


def _ends_regularly(body: bytes, description: int) -> bool:
    """Whether the description that ends a record ends inside it."""
    return description >= len(body) or description + 1 + body[description] <= len(body)


def _value(body: bytes, order: ByteOrder, position: int, where: str) -> tuple[Value, int]:
    """Return one parameter's value, its first index the fastest, and where its bytes end."""
    if len(body) < 2:
        raise _broken(position, where)
    kind, n_dimensions = struct.unpack_from("<bB", body)
    if kind not in ITEM_BYTES or n_dimensions > MAX_DIMENSIONS or len(body) < 2 + n_dimensions:
        raise _broken(position, where)
    shape = tuple(body[2 : 2 + n_dimensions])
    start = 2 + n_dimensions
    end = start + math.prod(shape) * ITEM_BYTES[kind]
    if end > len(body):
        raise _broken(position, where)
    raw = body[start:end]
    if kind == -1:
        return _texts(raw, shape), end
    if kind == 1:
        items: NDArray[Any] = np.frombuffer(raw, dtype=np.uint8)
    else:
        items = np.frombuffer(raw, dtype="<i2") if kind == 2 else floats(raw, order)
    return items.reshape(shape, order="F"), end


def _texts(raw: bytes, shape: tuple[int, ...]) -> list[str]:
    width = shape[0] if shape else len(raw)
    if len(shape) < 2:
        return [_text(raw)]
    return [_text(raw[i * width : (i + 1) * width]) for i in range(math.prod(shape[1:]))]


def _text(raw: bytes) -> str:
    """Return text without blanks and NULs: UTF-8, else the common western code page."""
    raw = raw.split(b"\0", 1)[0]
    try:
        return raw.decode("utf-8").strip()
    except UnicodeDecodeError:
        return raw.decode("cp1252", errors="replace").strip()


def _broken(position: int, where: str) -> HeaderError:
    return HeaderError.of("chain_parameters_broken_byte", where=where, position=position)

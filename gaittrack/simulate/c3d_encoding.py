"""Turn numbers and parameters into the bytes of a C3D file.

In come a recording's points, analog samples and parameters; out go header, parameter section and
data, in Intel or DEC byte order, with floats or 16-bit integers. The layout follows the public C3D
user guide (c3d.org).
"""

from __future__ import annotations

import math
import struct
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from gaittrack.trial import FloatArray

ByteOrder = Literal["intel", "dec"]
Missing = Literal["negative", "nan", "zero"]
Value = str | int | float | list[str] | NDArray[Any]
Groups = dict[str, dict[str, Value]]

BLOCK = 512
PROCESSOR_BYTE: dict[str, int] = {"intel": 84, "dec": 85}
EVENT_KEY_OFFSET, EVENT_KEY, EVENT_LABEL_OFFSET, N_HEADER_EVENTS = 298, 12345, 396, 18


@dataclass(frozen=True, slots=True)
class Content:
    """Everything that goes into a file; coordinates and angles in the units of the file."""

    points: FloatArray
    missing: NDArray[np.bool_]
    labels: list[str]
    analog: FloatArray
    groups: Groups = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Encoder:
    """One way of writing numbers as bytes."""

    byte_order: ByteOrder

    def floats(self, values: Any) -> bytes:
        """Return 32-bit floats; DEC: four times the value with its 16-bit halves swapped."""
        array = np.ascontiguousarray(values, dtype="<f4")
        if self.byte_order == "intel":
            return array.tobytes()
        halves = (array * np.float32(4)).astype("<f4").view("<u2").reshape(-1, 2)
        return halves[:, ::-1].tobytes()

    def parameter_section(self, groups: Groups, data_start: int) -> bytes:
        """Return the parameter blocks with POINT:DATA_START set."""
        groups = {**groups, "POINT": {"DATA_START": data_start, **groups["POINT"]}}
        records = bytearray()
        for number, (group, values) in enumerate(groups.items(), 1):
            records += _record(group, -number, b"\0")
            for name, value in values.items():
                records += _record(name, number, self.value(value) + b"\0")
        records += b"\0\0"
        blocks = math.ceil((len(records) + 4) / BLOCK)
        if blocks > 255:
            raise ValueError("the parameters need more than 255 blocks")
        return struct.pack("4B", 1, 0x50, blocks, PROCESSOR_BYTE[self.byte_order]) + bytes(records)

    def value(self, value: Value) -> bytes:
        """Return type, dimensions and data of one parameter; arrays are column-major."""
        if isinstance(value, str):
            text = value.encode()
            return struct.pack("<bBB", -1, 1, len(text)) + text
        if isinstance(value, list):
            texts = [text.encode() for text in value]
            width = max(map(len, texts), default=0)
            head = struct.pack("<bBBB", -1, 2, width, len(texts))
            return head + b"".join(text.ljust(width) for text in texts)
        array = np.asarray(value)
        dims = struct.pack(f"B{array.ndim}B", array.ndim, *array.shape)
        flat = array.ravel(order="F")
        if array.dtype.kind in "iu":
            return struct.pack("b", 2) + dims + flat.astype(np.uint16).astype("<u2").tobytes()
        return struct.pack("b", 4) + dims + self.floats(flat)

    def header(
        self,
        content: Content,
        groups: Groups,
        point_scale: float,
        data_start: int,
        first_frame: int,
        header_events: Sequence[tuple[float, str]],
    ) -> bytes:
        """Return the header block."""
        n_frames, n_points, _ = content.points.shape
        n_samples, n_channels = content.analog.shape
        per_frame = n_samples // max(n_frames, 1)
        last = min(first_frame + n_frames - 1, 65535)
        counts = (n_points, n_channels * per_frame, min(first_frame, 65535), last, 0)
        head = struct.pack("<BBHHHHH", 2, 0x50, *counts)
        head += self.floats([point_scale]) + struct.pack("<HH", data_start, per_frame)
        rate = groups["POINT"].get("RATE", 0.0)
        head += self.floats([rate])
        if header_events:
            head = head.ljust(EVENT_KEY_OFFSET, b"\0")
            head += struct.pack("<HHH", EVENT_KEY, len(header_events), 0)
            head += self.floats([time_s for time_s, _ in header_events])
            head = head.ljust(EVENT_LABEL_OFFSET, b"\0")
            head += b"".join(label.encode().ljust(4)[:4] for _, label in header_events)
        return head

    def frames(
        self,
        content: Content,
        groups: Groups,
        point_scale: float,
        missing: Missing,
    ) -> bytes:
        """Return the data: in each frame all points, then the analog samples."""
        n_frames, n_points, _ = content.points.shape
        code = -1.0 if missing == "negative" else 0.0
        words = np.zeros((n_frames, n_points, 4))
        words[..., :3] = np.where(content.missing[..., None], 0.0, content.points)
        words[..., 3] = np.where(content.missing, code, 0.0)
        if missing == "nan":
            words[content.missing, :3] = np.nan
        is_integer = point_scale > 0
        analog = content.analog
        if is_integer:
            words[..., :3] /= point_scale
            analog = analog / np.asarray(groups["ANALOG"]["SCALE"], dtype=np.float64)
        per_frame = analog.size // max(n_frames, 1)
        table = np.hstack([words.reshape(n_frames, -1), analog.reshape(n_frames, per_frame)])
        return np.rint(table).astype("<i2").tobytes() if is_integer else self.floats(table)


def _record(name: str, number: int, body: bytes) -> bytes:
    head = struct.pack("<bb", len(name), number) + name.encode()
    return head + struct.pack("<H", len(body) + 2) + body


def padded(content: bytes) -> bytes:
    """Return ``content`` filled up to whole blocks."""
    return content.ljust(math.ceil(len(content) / BLOCK) * BLOCK, b"\0")

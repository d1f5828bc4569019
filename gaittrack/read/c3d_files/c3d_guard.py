"""Find out how a C3D file is laid out before any parser sees it.

In come the bytes; out goes a :class:`Layout`: byte order, counts, rates, scale and where the data
begin, each held against the header, the parameters and the length of the file. A file that ends
early, or contradicts itself so that its numbers cannot be known, is refused here. The rules are
those of the public C3D user guide (c3d.org): parameters over header.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from gaittrack.errors import HeaderError, Problem, Spoiled
from gaittrack.ingredients import EVERYTHING, LENGTHS
from gaittrack.read.c3d_files.c3d_counts import (
    FULL_COUNT,
    Counts,
    Header,
    actual_field,
    actual_span,
    choose_counts,
    declared_analog,
    read_header,
)
from gaittrack.read.c3d_files.c3d_records import BLOCK, ByteOrder, ParameterSet, read_parameters
from gaittrack.reasons import Reason

SAME_SCALE = 1e-3
"""Relative difference of the two scales that rounding may make; our choice."""
SAME_RATE = 2e-3
"""Relative difference of the two rates that rounding may make, 59.94 to 60 Hz; our choice."""
INTEGER_BYTES = 2
SCALES_DIFFER = "scales_differ"
RATES_DIFFER = "rates_differ"
"""Codes of what spoils all lengths, and all times, of a file."""
RATE_RANGE_HZ = (1.0, 10000.0)
"""Frame rates outside are not believed; our choice, wider than any motion capture."""


@dataclass(frozen=True, slots=True)
class Layout:
    """How a file is laid out, as far as it could be made sure.

    Attributes
    ----------
    counts : Counts
        ``n_analog`` is the number of analog values in a frame, all samples of all channels.
    n_channels, samples_per_frame : int
        Analog channels, and samples of each in a frame.
    rate_hz : float
        NaN when neither parameters nor header give one that can be believed.
    point_scale : float
        Absolute POINT:SCALE; coordinates of integer files are counts times this.
    data_start : int
        Byte where the frames begin.
    parser_trap : str
        Why ezc3d would misread or refuse this file, or "".
    doubt : str
        Why a second reading of the frames is worth its time, or "".
    """

    parameters: ParameterSet
    counts: Counts
    n_channels: int
    samples_per_frame: int
    first_frame: int
    rate_hz: float
    point_scale: float
    data_start: int
    parser_trap: str
    doubt: str
    problems: tuple[Problem, ...]

    @property
    def order(self) -> ByteOrder:
        """Byte order of the file."""
        return self.parameters.order


def read_layout(content: bytes, where: str) -> Layout:
    """Check a C3D file's header, parameters and length against each other.

    Parameters
    ----------
    content : bytes
        The whole file.
    where : str
        File name for messages.

    Raises
    ------
    TruncatedFileError
        The file ends before its last declared frame.
    EmptyFileError
        It declares no frame.
    HeaderError
        It contradicts itself.
    """
    parameters = read_parameters(content, where)
    header = read_header(content, parameters.order)
    problems = _repeated(parameters)
    data_start = _data_start(header, parameters, where)
    available = len(content) - data_start
    counts = choose_counts(header, parameters, available, where, problems)
    rate_hz = _rate(header, parameters, problems)
    n_channels, samples = _channels(header, parameters, counts, where, problems)
    scale = _scale(header, parameters, counts, problems)
    return Layout(
        parameters=parameters,
        counts=counts,
        n_channels=n_channels,
        samples_per_frame=samples,
        first_frame=_first_frame(header, parameters, counts),
        rate_hz=rate_hz,
        point_scale=scale,
        data_start=data_start,
        parser_trap=_parser_trap(parameters, counts, rate_hz, n_channels),
        doubt=_doubt(parameters, counts, available, is_contradicted=bool(problems)),
        problems=(*problems, *_odd_length(len(content), available - counts.data_bytes)),
    )


def _data_start(header: Header, parameters: ParameterSet, where: str) -> int:
    """Return the byte where frames begin; parameters must have ended there."""
    declared = parameters.number("POINT", "DATA_START", unsigned=True)
    block = header.data_block or (0 if math.isnan(declared) else int(declared))
    if block < 2 or (declared > 0 and header.data_block and int(declared) != header.data_block):
        raise HeaderError.of(
            "header_point_data_start_disagree",
            where=where,
            data_block=header.data_block,
            declared=declared,
        )
    return (block - 1) * BLOCK


def _repeated(parameters: ParameterSet) -> list[Problem]:
    """Return a warning about parameters that say two things."""
    if not parameters.repeated:
        return []
    reason = Reason("parameters_repeated", names=parameters.repeated)
    return [Problem("warning", reason, "parameters")]


def _odd_length(n_bytes: int, beyond: int) -> list[Problem]:
    """Return a warning where a file ends neither with its frames nor with a block."""
    if beyond <= 0 or n_bytes % BLOCK == 0:
        return []
    reason = Reason("bytes_lost_or_added", n_bytes=n_bytes, block=BLOCK)
    return [Problem("warning", reason, "length of the file", spoils=(Spoiled(EVERYTHING),))]


def _rate(header: Header, parameters: ParameterSet, problems: list[Problem]) -> float:
    """Return POINT:RATE, else the header's rate with a warning, else NaN."""
    low, high = RATE_RANGE_HZ
    declared = parameters.number("POINT", "RATE")
    if low <= declared <= high:
        if low <= header.rate_hz <= high and not math.isclose(
            declared, header.rate_hz, rel_tol=SAME_RATE
        ):
            problems.append(
                Problem(
                    "warning",
                    Reason(RATES_DIFFER, declared_hz=declared, header_hz=header.rate_hz),
                    "POINT:RATE",
                    spoils=(Spoiled(EVERYTHING),),
                )
            )
        return declared
    if not low <= header.rate_hz <= high:
        return math.nan
    problems.append(
        Problem("warning", Reason("rate_of_header", rate_hz=header.rate_hz), "POINT:RATE")
    )
    return header.rate_hz


def _scale(
    header: Header, parameters: ParameterSet, counts: Counts, problems: list[Problem]
) -> float:
    """Return the absolute POINT:SCALE, else the header's; stored floats do not depend on it."""
    declared = abs(parameters.number("POINT", "SCALE"))
    own = abs(header.scale)
    if math.isnan(declared):
        return own
    is_used = counts.word_bytes == INTEGER_BYTES and own > 0
    if is_used and not math.isclose(declared, own, rel_tol=SAME_SCALE):
        problems.append(
            Problem(
                "error",
                Reason(SCALES_DIFFER, declared=float(declared), header=float(own)),
                "POINT:SCALE",
                spoils=(Spoiled(LENGTHS),),
            )
        )
    return declared


def _channels(
    header: Header, parameters: ParameterSet, counts: Counts, where: str, problems: list[Problem]
) -> tuple[int, int]:
    """Return analog channels and samples per frame; their product is known already."""
    used = parameters.number("ANALOG", "USED", unsigned=True)
    if not counts.n_analog:
        return 0, 1
    for n_channels in (used, counts.n_analog / max(header.samples_per_frame, 1)):
        if n_channels > 0 and counts.n_analog % n_channels == 0:
            samples = int(counts.n_analog / n_channels)
            break
    else:
        raise HeaderError.of(
            "analog_values_frame_no_multiple", where=where, n_analog=counts.n_analog
        )
    if declared_analog(parameters) != counts.n_analog:
        problems.append(
            Problem("warning", Reason("analog_does_not_fit", n=samples), "ANALOG:RATE, ANALOG:USED")
        )
    return int(n_channels), samples


def _first_frame(header: Header, parameters: ParameterSet, counts: Counts) -> int:
    """Return the number of the first stored frame; 1 when the numbers given do not fit."""
    if actual_span(parameters) == counts.n_frames:
        return int(actual_field(parameters, "ACTUAL_START_FIELD"))
    span = header.last_frame - header.first_frame + 1
    is_capped = header.last_frame == FULL_COUNT and span <= counts.n_frames
    return header.first_frame if span == counts.n_frames or is_capped else 1


def _parser_trap(parameters: ParameterSet, counts: Counts, rate_hz: float, n_channels: int) -> str:
    """Return why ezc3d 1.7.2 would scramble, crash on or refuse a file that is sound here."""
    scale = parameters.number("POINT", "SCALE")
    channels = (("SCALE", n_channels), ("OFFSET", n_channels), ("GEN_SCALE", min(n_channels, 1)))
    traps = {
        "parameter records": not parameters.is_regular,
        "parameters that stand twice": bool(parameters.repeated),
        "analog rate": counts.n_analog != (declared_analog(parameters) or 0),
        "number of points": parameters.number("POINT", "USED", unsigned=True) != counts.n_points,
        "frame rate": not math.isclose(parameters.number("POINT", "RATE"), rate_hz),
        "point scale": not abs(scale) > 0 or (4 if scale < 0 else 2) != counts.word_bytes,
        "frames": not _is_integer(parameters, "POINT", "FRAMES"),
        "type of analog offset": n_channels > 0 and not _is_integer(parameters, "ANALOG", "OFFSET"),
        **{f"analog {name.lower()}": _size(parameters, name) < size for name, size in channels},
    }
    return next((name for name, is_trap in traps.items() if is_trap), "")


def _doubt(
    parameters: ParameterSet, counts: Counts, available: int, *, is_contradicted: bool
) -> str:
    """Return what could still be wrong with the layout; nothing where three accounts agree."""
    doubts = {
        "header, parameters and length of the file disagree": is_contradicted,
        "more bytes than the frames need": available - counts.data_bytes >= BLOCK,
        "DEC numbers": parameters.order == "dec",
    }
    return next((doubt for doubt, is_doubted in doubts.items() if is_doubted), "")


def _is_integer(parameters: ParameterSet, group: str, name: str) -> bool:
    value = parameters.values.get((group, name))
    return isinstance(value, np.ndarray) and value.size > 0 and value.dtype == np.dtype("<i2")


def _size(parameters: ParameterSet, name: str) -> int:
    values = parameters.numbers("ANALOG", name)
    return 0 if values is None else values.size

"""Find out how many points, analog values and frames a C3D file holds.

In come the header's words, the parameters and the bytes that are there; out go the counts that all
three allow. Parameters come before the header; the number of frames follows the public guide's rule
(c3d.org): POINT:FRAMES, past 16 bits LONG_FRAMES and TRIAL:ACTUAL_*_FIELD.
"""

from __future__ import annotations

import math
import struct
from collections.abc import Iterator
from dataclasses import dataclass

from gaittrack.errors import EmptyFileError, HeaderError, Problem, TruncatedFileError
from gaittrack.read.c3d_files.c3d_records import BLOCK, ByteOrder, ParameterSet, floats
from gaittrack.reasons import Reason

FULL_COUNT = 65535
"""POINT:FRAMES of this size says "look at LONG_FRAMES"."""
WORDS_PER_POINT = 4


@dataclass(frozen=True, slots=True)
class Counts:
    """What decides the size of the data: points, analog values and frames, and bytes per word."""

    n_points: int
    n_analog: int
    n_frames: int
    word_bytes: int

    @property
    def frame_bytes(self) -> int:
        """Bytes of one frame: all points, then all analog samples."""
        return (self.n_points * WORDS_PER_POINT + self.n_analog) * self.word_bytes

    @property
    def data_bytes(self) -> int:
        """Bytes of all frames."""
        return self.frame_bytes * self.n_frames


@dataclass(frozen=True, slots=True)
class Header:
    """The first block's own words."""

    n_points: int
    n_analog: int
    first_frame: int
    last_frame: int
    scale: float
    data_block: int
    samples_per_frame: int
    rate_hz: float


def read_header(content: bytes, order: ByteOrder) -> Header:
    """Return the first block's words.

    Parameters
    ----------
    content : bytes
        The whole file.
    """
    n_points, n_analog, first, last = struct.unpack_from("<HHHH", content, 2)
    data_block, samples = struct.unpack_from("<HH", content, 16)
    scale, rate = (float(floats(content[at : at + 4], order)[0]) for at in (12, 20))
    return Header(
        n_points=n_points,
        n_analog=n_analog,
        first_frame=first,
        last_frame=last,
        scale=scale,
        data_block=data_block,
        samples_per_frame=samples,
        rate_hz=rate,
    )


def choose_counts(
    header: Header, parameters: ParameterSet, available: int, where: str, problems: list[Problem]
) -> Counts:
    """Choose the counts that parameters give, or the only ones that the file's length allows.

    Parameters
    ----------
    available : int
        Bytes from where the data begin to the end of the file.
    where : str
        File name for messages.
    problems : list of Problem
        Gets one when header and length overrule the parameters.

    Raises
    ------
    TruncatedFileError, EmptyFileError, HeaderError
        The frames are not all there; there are none; nothing tells which count is right.
    """
    choices = [
        choice
        for choice in dict.fromkeys(_possible_counts(header, parameters, where))
        if choice.n_frames > 0
    ]
    if not choices:
        raise EmptyFileError.of("file_declares_no_frame", where=where)
    declared = choices[0]
    exact = [choice for choice in choices if 0 <= available - choice.data_bytes < BLOCK]
    if exact and (declared not in exact or len(exact) > 1):
        problems.append(_disagreement(declared, exact[declared is exact[0]]))
    chosen = declared if declared in exact or not exact else exact[0]
    if chosen.data_bytes > available:
        raise _cut(chosen, available, where)
    if any(choice.frame_bytes != chosen.frame_bytes for choice in (exact or choices)):
        raise HeaderError.of("header_parameters_disagree_points_analog", where=where)
    _refuse_short_count(chosen, parameters, available, where)
    return chosen


def _refuse_short_count(
    chosen: Counts, parameters: ParameterSet, available: int, where: str
) -> None:
    """Refuse a file that may hold more frames than 16 bits count, and does not say how many."""
    spare = available - chosen.data_bytes
    beyond = spare // (chosen.frame_bytes or available)
    is_full = chosen.n_frames == FULL_COUNT and FULL_COUNT not in _long_counts(parameters)
    if beyond > FULL_COUNT or (is_full and beyond > 0 and spare >= BLOCK):
        raise HeaderError.of(
            "more_frames_than_counted",
            where=where,
            n_frames=chosen.n_frames,
            n_held=chosen.n_frames + beyond,
        )


def _possible_counts(header: Header, parameters: ParameterSet, where: str) -> Iterator[Counts]:
    """Yield combinations of counts; the parameters' own come first."""
    used = parameters.number("POINT", "USED", unsigned=True)
    points = [header.n_points] if math.isnan(used) else [int(used), header.n_points]
    scale = parameters.number("POINT", "SCALE")
    scales = [header.scale] if math.isnan(scale) else [scale, header.scale]
    span = header.last_frame - header.first_frame + 1
    frames = _declared_frames(parameters, span, where)
    declared = declared_analog(parameters)
    analog = [header.n_analog] if declared is None else [header.n_analog, declared]
    for word_bytes in dict.fromkeys(4 if value < 0 else 2 for value in scales):
        for n_points in dict.fromkeys(points):
            for n_analog in dict.fromkeys(analog):
                for n_frames in dict.fromkeys(frames):
                    yield Counts(
                        n_points=n_points,
                        n_analog=n_analog,
                        n_frames=n_frames,
                        word_bytes=word_bytes,
                    )


def _declared_frames(parameters: ParameterSet, span: int, where: str) -> list[int]:
    """Return the frame count by the guide's rule, then the header's when it can be another."""
    count = parameters.number("POINT", "FRAMES", unsigned=True)
    if count == FULL_COUNT:
        given = _long_counts(parameters)
        if len(given) > 1:
            raise HeaderError.of("point_long_frames_trial_actual", where=where)
        count = given.pop() if given else count
    if math.isnan(count):
        return [span]
    if count != int(count) or not 0 <= count < 2**31:
        raise HeaderError.of("number_frames_whole_number_expected", where=where, count=count)
    return [int(count), span] if 0 < span < FULL_COUNT and count < FULL_COUNT else [int(count)]


def _long_counts(parameters: ParameterSet) -> set[float]:
    """Return what is said of the frames in more than 16 bits."""
    long = (parameters.number("POINT", "LONG_FRAMES"), actual_span(parameters))
    return {number for number in long if number > 0}


def actual_span(parameters: ParameterSet) -> float:
    """Return the number of frames between TRIAL:ACTUAL_START_FIELD and ACTUAL_END_FIELD, or NaN."""
    return (
        actual_field(parameters, "ACTUAL_END_FIELD")
        - actual_field(parameters, "ACTUAL_START_FIELD")
        + 1.0
    )


def actual_field(parameters: ParameterSet, name: str) -> float:
    """Return a frame number kept as two 16-bit words, low word first."""
    words = parameters.numbers("TRIAL", name)
    if words is None or words.size < 2:
        return math.nan
    low, high = (float(word) % 65536 for word in words.flat[:2])
    return low + 65536 * high


def declared_analog(parameters: ParameterSet) -> int | None:
    """Return analog values per frame, channels times samples; None when a part is missing."""
    used = parameters.number("ANALOG", "USED", unsigned=True)
    if used == 0:
        return 0
    ratio = parameters.number("ANALOG", "RATE") / (parameters.number("POINT", "RATE") or math.nan)
    total = used * ratio
    return round(total) if 1 <= total <= 65535 else None


def _disagreement(declared: Counts, found: Counts) -> Problem:
    return Problem(
        "warning",
        Reason("counts_disagree", declared=_described(declared), found=_described(found)),
        "header",
    )


def _described(counts: Counts) -> Reason:
    return Reason(
        "counts_of_file",
        n_frames=counts.n_frames,
        n_points=counts.n_points,
        n_analog=counts.n_analog,
        kind="floats" if counts.word_bytes == 4 else "integers",
    )


def _cut(counts: Counts, available: int, where: str) -> TruncatedFileError:
    whole = max(available, 0) // max(counts.frame_bytes, 1)
    return TruncatedFileError.of(
        "file_cut_short_frames",
        where=where,
        min=min(whole, counts.n_frames),
        n_frames=counts.n_frames,
    )

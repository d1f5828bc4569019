"""Turn the stored words of a C3D file into coordinates and analog values.

In come the bytes and their :class:`~gaittrack.read.c3d_files.c3d_guard.Layout`; out go points as
stored and analog channels in their own units.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from gaittrack.read.c3d_files.c3d_counts import WORDS_PER_POINT
from gaittrack.read.c3d_files.c3d_guard import Layout
from gaittrack.read.c3d_files.c3d_records import floats
from gaittrack.trial import FloatArray

UNSIGNED_MIDDLE = 32768
"""Offset of 16-bit words that are unsigned; as signed ones they could reach one side only."""


def stored_points(content: bytes, layout: Layout, frames: slice = slice(None)) -> FloatArray:
    """Return points and their fourth words.

    Parameters
    ----------
    frames : slice
        Which frames.

    Returns
    -------
    ndarray, shape (n_frames, n_points, 4)
        Coordinates in the file's unit; a negative fourth word marks a missing point.
    """
    n_words = layout.counts.n_points * WORDS_PER_POINT
    words = _numbers(_words(content, layout)[frames, :n_words], layout)
    points = words.reshape(len(words), layout.counts.n_points, WORDS_PER_POINT)
    if layout.counts.word_bytes == 2:
        points[..., :3] *= layout.point_scale
    return points


def analog_channels(content: bytes, layout: Layout, channels: Sequence[int]) -> FloatArray:
    """Return some analog channels as (stored - OFFSET) × SCALE × GEN_SCALE.

    Parameters
    ----------
    channels : sequence of int
        0-based; missing SCALE counts as 1, missing OFFSET as 0.

    Returns
    -------
    ndarray, shape (n_frames * samples_per_frame, n_channels)
    """
    start, n_channels = layout.counts.n_points * WORDS_PER_POINT, layout.n_channels
    samples = np.arange(layout.samples_per_frame)[:, None] * n_channels
    columns = (start + samples + np.asarray(channels)).ravel()
    words = _numbers(_words(content, layout)[:, columns], layout)
    values = words.reshape(-1, len(channels))
    if layout.counts.word_bytes == 2 and _is_unsigned(layout):
        values = np.where(values < 0, values + 65536.0, values)
    offset = _per_channel(layout, "OFFSET", 0.0)[list(channels)]
    scale = _per_channel(layout, "SCALE", 1.0)[list(channels)]
    general = layout.parameters.number("ANALOG", "GEN_SCALE")
    return np.asarray((values - offset) * scale * (1.0 if np.isnan(general) else general))


def _words(content: bytes, layout: Layout) -> NDArray[np.generic]:
    """Return a view of the data, one row per frame, one 16-bit or 32-bit word per column."""
    counts = layout.counts
    kind = "<i2" if counts.word_bytes == 2 else "<u4"
    n_words = counts.data_bytes // counts.word_bytes
    flat = np.frombuffer(content, dtype=kind, count=n_words, offset=layout.data_start)
    return flat.reshape(counts.n_frames, -1)


def _numbers(words: NDArray[np.generic], layout: Layout) -> FloatArray:
    if layout.counts.word_bytes == 2:
        return words.astype(np.float64)
    numbers = floats(np.ascontiguousarray(words).tobytes(), layout.order)
    return numbers.astype(np.float64).reshape(words.shape)


def _is_unsigned(layout: Layout) -> bool:
    """Whether analog words are unsigned: by ANALOG:FORMAT, else by an offset in their middle."""
    words = "".join(layout.parameters.texts("ANALOG", "FORMAT")[:1]).upper()
    if words in ("SIGNED", "UNSIGNED"):
        return words == "UNSIGNED"
    offsets = layout.parameters.joined("ANALOG", "OFFSET")
    return offsets is not None and bool((np.abs(offsets) == UNSIGNED_MIDDLE).any())


def _per_channel(layout: Layout, name: str, missing: float) -> FloatArray:
    """Return a parameter for every channel; lists past 255 entries continue in NAME2."""
    given = layout.parameters.joined("ANALOG", name)
    values = np.full(layout.n_channels, missing)
    if given is not None:
        stored = given.ravel()[: layout.n_channels]
        if name == "OFFSET" and _is_unsigned(layout):
            stored = np.where(stored < 0, stored + 65536.0, stored)
        values[: len(stored)] = stored
    return values

"""Who of many people is meant, as one bit for each: a hundred thousand people are 12 kB.

In come masks, shape (n_people,), out come bits, and masks and counts of them again.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Bits = NDArray[np.uint64]
Mask = NDArray[np.bool_]


def packed(masks: Mask) -> Bits:
    """Return rows of yes and no as bits, 64 people a number; what fills the last one is no."""
    n = masks.shape[-1]
    wide = np.zeros((*masks.shape[:-1], -(-n // 64) * 64), dtype=bool)
    wide[..., :n] = masks
    return np.packbits(wide, axis=-1).view(np.uint64)


def unpacked(bits: Bits, n: int) -> Mask:
    """Return the bits of one row as a mask of ``n`` people."""
    return np.unpackbits(bits.view(np.uint8))[:n].astype(bool)


def counted_bits(bits: Bits) -> NDArray[np.int64]:
    """Return how many people each row means."""
    counts: NDArray[np.int64] = np.bitwise_count(bits).sum(axis=-1, dtype=np.int64)
    return counts


def mask_of(places: NDArray[np.integer], n: int) -> Mask:
    """Return the mask of ``n`` people of some places."""
    mask = np.zeros(n, dtype=bool)
    mask[places] = True
    return mask

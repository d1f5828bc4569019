"""How long the segments of a body are, and whether two recordings can be of one body.

In come points, out go lengths between landmarks on one bone, what no person's body has, and what
differs between two recordings by more than skin, placing and shoes do.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

import numpy as np

from gaittrack.errors import Problem, Spoiled
from gaittrack.ingredients import LENGTHS
from gaittrack.quick_numpy import lengths_of, median_of
from gaittrack.reasons import Reason
from gaittrack.trial import FloatArray
from gaittrack.vocabulary import SIDES, Side

_OF_LEG: Final = {
    "thigh": ("hip", "knee"),
    "shank": ("knee", "ankle"),
    "foot": ("heel", "toe"),
    "hindfoot": ("heel", "ankle"),
    "midfoot": ("heel", "metatarsal_5"),
}
_OF_PELVIS: Final = {
    "pelvis_front": ("left_asis", "right_asis"),
    "pelvis_back": ("left_psis", "right_psis"),
}
SEGMENTS: Final[dict[str, tuple[str, str]]] = {
    **{
        f"{side}_{name}": (f"{side}_{one}", f"{side}_{two}")
        for side in SIDES
        for name, (one, two) in _OF_LEG.items()
    },
    **_OF_PELVIS,
}
"""Segment to the two landmarks whose distance it is."""
_FRAMES_LOOKED_AT: Final = 64
"""Frames a length is the median of: enough, and quick."""
POSSIBLE_M: Final[Mapping[str, tuple[float, float]]] = {
    "thigh": (0.13, 0.65),
    "shank": (0.13, 0.58),
    "foot": (0.07, 0.38),
    "pelvis_front": (0.09, 0.42),
}
"""Lengths that a walking person has, from the smallest child to the tallest adult; own choice, by
shank and thigh of a quarter of the height of 0.7 to 2.2 m, with 50 mm for placing."""
SAME_SESSION_M: Final[Mapping[str, float]] = {
    "thigh": 0.06,
    "shank": 0.035,
    "foot": 0.025,
    "hindfoot": 0.025,
    "midfoot": 0.025,
    "pelvis_front": 0.035,
    "pelvis_back": 0.035,
}
"""Differences with the same markers left on, past which it is another body or other markers; own
choice: skin moves over the trochanter by 30 mm and over the knee by 15."""
SAME_PERSON_M: Final[Mapping[str, float]] = {
    "thigh": 0.08,
    "shank": 0.045,
    "pelvis_front": 0.05,
    "pelvis_back": 0.05,
}
"""Differences with markers put on again, over a brace or not; own choice: a marker is put back to
within 10 to 15 mm. Feet say nothing: shoes are longer than feet."""


def segment_lengths(points: Mapping[str, FloatArray]) -> dict[str, float]:
    """Return the length of each segment whose landmarks are seen together.

    Parameters
    ----------
    points : mapping of landmark to ndarray, shape (n_frames, 3)
        Metres.

    Returns
    -------
    dict of str to float
        Metres, median over frames.
    """
    lengths: dict[str, float] = {}
    for name, (one, two) in SEGMENTS.items():
        if one not in points or two not in points:
            continue
        every = max(len(points[one]) // _FRAMES_LOOKED_AT, 1)
        apart = points[one][::every] - points[two][::every]
        sizes = np.sqrt(np.einsum("ij,ij->i", apart, apart))
        sizes = sizes[~np.isnan(sizes)]
        if sizes.size:
            lengths[name] = median_of(sizes)
    return lengths


def leg_length(points: Mapping[str, FloatArray]) -> float:
    """Return hip to knee to ankle of the longer leg, in metres; NaN where not all are seen."""
    return max((leg for side in SIDES for leg in _legs(points, side)), default=float("nan"))


def _legs(points: Mapping[str, FloatArray], side: Side) -> Iterator[float]:
    joints = [f"{side}_{name}_centre" for name in ("hip", "knee", "ankle")]
    if not all(key in points for key in joints):
        return
    hip, knee, ankle = (points[key] for key in joints)
    lengths = lengths_of(hip - knee) + lengths_of(knee - ankle)
    lengths = lengths[~np.isnan(lengths)]
    if lengths.size:
        yield median_of(lengths)


def impossible_lengths(lengths: Mapping[str, float], where: str) -> list[Problem]:
    """Return a problem where segments are as long as no person's: scale or unit are wrong."""
    odd = [
        name
        for name, metres in lengths.items()
        for low, high in [POSSIBLE_M.get(_kind(name), (0.0, np.inf))]
        if not low <= metres <= high
    ]
    if not odd:
        return []
    told = tuple(_told(name, lengths[name]) for name in odd)
    return [
        Problem("error", Reason("segments_of_nobody", lengths=told), where, (Spoiled(LENGTHS),))
    ]


def _told(name: str, metres: float) -> Reason:
    return Reason("segment_length", segment=name, length_mm=round(1000 * metres))


def other_body(
    lengths: Mapping[str, float], others: Mapping[str, float], limits_m: Mapping[str, float]
) -> tuple[Reason, ...]:
    """Return the segments by which two recordings are not of one body with the same markers.

    Parameters
    ----------
    lengths, others : mapping of segment to float
        Metres, from :func:`segment_lengths`.
    limits_m : mapping of kind of segment to float
        ``SAME_SESSION_M`` or ``SAME_PERSON_M``.

    Returns
    -------
    tuple of Reason
        Empty where nothing speaks against it.
    """
    return tuple(_differences(lengths, others, limits_m))


def _differences(
    lengths: Mapping[str, float], others: Mapping[str, float], limits_m: Mapping[str, float]
) -> Iterator[Reason]:
    for name, metres in lengths.items():
        longer = metres - others.get(name, metres)
        if abs(longer) > limits_m.get(_kind(name), np.inf):
            yield Reason("segment_differs", segment=name, by_mm=round(1000 * longer))


def _kind(name: str) -> str:
    return name.removeprefix("left_").removeprefix("right_")

"""Which verdict a difference gets, as a code.

In comes an :class:`Evidence`, out comes one code of a closed list. No advice, no "no effect": what
was not shown is "not shown".
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal, get_args

Verdict = Literal[
    "larger",
    "change_in_these_walks",
    "no_change_larger_than_error",
    "not_shown",
    "no_error_figure",
    "not_comparable",
    "not_trusted",
    "not_defined",
]
VERDICTS: Final[tuple[Verdict, ...]] = get_args(Verdict)
"""Every verdict there is."""
Obstacle = Literal["not_comparable", "not_trusted", "not_defined"]


@dataclass(frozen=True, slots=True)
class Evidence:
    """What a verdict is made of.

    Attributes
    ----------
    walks_half : float
        Half-width of the walks' own interval; NaN when there is none, also where it speaks of one
        walk only.
    error : float
        Smallest difference that exceeds measurement error; NaN when none is known.
    is_error_inside : bool
        The whole interval holds the error already, so it is not asked for again.
    adjusted_p : float
        Of the whole interval, adjusted for its family of questions; NaN when not judged.
    obstacle : {"not_comparable", "not_trusted", "not_defined"} or None
        What forbids a judgement.
    """

    difference: float
    walks_half: float
    error: float
    is_error_inside: bool
    adjusted_p: float
    obstacle: Obstacle | None = None


def decide(evidence: Evidence, *, alpha: float = 0.05) -> Verdict:
    """Return the verdict of a difference."""
    if evidence.obstacle:
        return evidence.obstacle
    if math.isnan(evidence.error):
        return "no_error_figure"
    if math.isnan(evidence.walks_half):
        return "not_shown"
    size = abs(evidence.difference)
    is_past = evidence.is_error_inside or size >= evidence.error
    if evidence.adjusted_p <= alpha and is_past:
        return "larger"
    if size > evidence.walks_half:
        return "change_in_these_walks"
    if size + evidence.walks_half <= evidence.error:
        return "no_change_larger_than_error"
    return "not_shown"

"""What a value is made of, by name: points, angles, zeros, events, and what all lengths rest on.

A measure's value carries the names of all that it was read from; a :class:`~.errors.Spoiled` names
what cannot be trusted. Where the two meet, the value is not trusted. A point (landmark or made of
landmarks) is named by its own key, as in ``Motion.points``.
"""

from __future__ import annotations

from typing import Final

from gaittrack.vocabulary import SIDES, Joint, Side

_SIDES: Final[dict[str, Side]] = {side: side for side in SIDES}
EVERYTHING: Final = "everything"
SIDEWAYS: Final = "sideways"
"""Lengths and angles across the way of walking."""
UPRIGHT: Final = "upright"
"""Which way is up along the way of walking: angles against the vertical, and the ankle, whose shank
is taken against it; not angles between segments, and not the foot's slope against the floor."""
UPRIGHT_SIDEWAYS: Final = "upright sideways"
"""Which way is up across the way of walking."""
HEIGHTS: Final = "heights"
LENGTHS: Final = "lengths"
"""The unit: whatever is told in metres or millimetres, or divided by them."""
TIMES: Final = "times"
"""The frame rate: whatever is told in seconds, or divided by them."""


def angle_of(side: Side, joint: Joint) -> str:
    """Return the name of an angle, wherever it is from."""
    return f"{side} {joint} angle"


def marker_angle_of(side: Side, joint: Joint) -> str:
    """Return the name of an angle from markers."""
    return f"{side} {joint} angle from markers"


def file_angle_of(side: Side, joint: Joint) -> str:
    """Return the name of an angle of the file itself."""
    return f"{side} {joint} angle of the file"


def rate_of(side: Side, joint: Joint) -> str:
    """Return the name of how fast an angle from markers changes."""
    return f"rate of {side} {joint} angle from markers"


def zero_of(side: Side) -> str:
    """Return the name of a foot's zero: the slope and the heights of the foot that lies flat."""
    return f"{side} foot's zero"


def events_of(side: Side) -> str:
    """Return the name of a foot's contacts and toe-offs."""
    return f"{side} events"


def leg_of(side: Side) -> str:
    """Return the name of all that is called of a side."""
    return f"{side} side"


def side_of_point(key: str) -> Side | None:
    """Return the side of a point, None for the body's middle."""
    side, line, _ = key.partition("_")
    return _SIDES.get(side) if line else None

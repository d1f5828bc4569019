"""What a browser sends to a callback is of the kind that the screen sends, or is refused.

In comes a callback and the kinds of what it takes, out comes the same, which refuses all else
before it does anything: values of other kinds, texts that are none, numbers that no database holds,
values within values without end.

A kind is a class; ``NONE``; ``Any_``; a pattern, of a text; a tuple of kinds, one of them; a list
of one kind, any number of it; a ``ListOf`` kinds, one each; a dict, of names with their kinds
(``name?`` may be missing, others may be there too) or of ``str``, any names.
"""

from __future__ import annotations

import functools
import math
import re
from collections.abc import Callable, Sequence
from typing import Any, Final

from gaittrack.errors import StudyError

Kind = Any
NONE: Final = type(None)
Any_: Final = object
_LARGEST: Final = 2**63
"""Whole numbers from there on are none of a database."""
_DEEPEST: Final = 40
"""Own choice; screens send some five."""


class NotSentError(StudyError):
    """What came is nothing that a screen sends."""


class ListOf:
    """A list of so many values, each of its own kind."""

    def __init__(self, *kinds: Kind) -> None:
        self.kinds = kinds


def checked(
    function: Callable[..., Any], kinds: Sequence[Kind], alike: Sequence[Sequence[int]] = ()
) -> Callable[..., Any]:
    """Return a callback that refuses what no screen sends.

    Parameters
    ----------
    kinds : sequence of Kind
        Of what it is given, in order.
    alike : sequence of sequence of int
        Places whose lists are of the same parts, and so of one length.

    Raises
    ------
    NotSentError
        From the callback.
    """

    @functools.wraps(function)
    def check_first(*given: Any) -> Any:
        refuse_unless(all(map(fits, given, kinds)) and all(map(_is_plain, given)))
        refuse_unless(all(len({len(given[place]) for place in own}) == 1 for own in alike))
        return function(*given)

    return check_first


def refuse_unless(is_sent: bool) -> None:
    """Refuse what no screen sends, where it takes more than its kind to tell.

    Raises
    ------
    NotSentError
        From a callback.
    """
    if not is_sent:
        raise NotSentError.of("not_sent_by_screen", where="request")


def fits(value: Any, kind: Kind) -> bool:
    """Tell whether a value is of a kind; a truth is no number, a whole number is one."""
    match kind:
        case tuple():
            return any(fits(value, each) for each in kind)
        case [each]:
            return isinstance(value, list) and all(fits(one, each) for one in value)
        case ListOf():
            is_long = isinstance(value, list) and len(value) == len(kind.kinds)
            return is_long and all(map(fits, value, kind.kinds))
        case dict():
            return isinstance(value, dict) and all(
                _has(value, name, own) for name, own in kind.items()
            )
        case re.Pattern():
            return isinstance(value, str) and kind.fullmatch(value) is not None
    if isinstance(value, bool):
        return kind in (bool, Any_)
    return isinstance(value, (int, float) if kind is float else kind)


def _has(value: dict[str, Any], name: Any, kind: Kind) -> bool:
    if name is str:
        return all(fits(each, kind) for each in value.values())
    plain = name.removesuffix("?")
    return fits(value[plain], kind) if plain in value else plain != name


def _is_plain(value: Any, depth: int = 0) -> bool:
    if isinstance(value, str):
        return not any("\ud800" <= letter <= "\udfff" for letter in value)
    if isinstance(value, int):
        return abs(value) < _LARGEST
    if isinstance(value, float):
        return math.isfinite(value)
    if isinstance(value, list | dict):
        parts = [*value, *value.values()] if isinstance(value, dict) else value
        return depth < _DEEPEST and all(_is_plain(each, depth + 1) for each in parts)
    return True

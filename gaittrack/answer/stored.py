"""An answer as it is stored, and back, whole: every number to the last digit, every code.

In comes an answer, out come lists and dicts that JSON holds (NaN among their numbers), and from
these the same answer. What a field holds is told by its type, so a new field needs nothing
here.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, is_dataclass
from functools import cache
from types import UnionType
from typing import Any, TypeVar, Union, get_args, get_origin, get_type_hints

from gaittrack.reasons import Reason, as_plain, from_plain

Record = TypeVar("Record")
_is_record: Callable[[Any], bool] = is_dataclass
"""Without the narrowing that a type checker makes of it."""


def to_stored(record: Any) -> dict[str, Any]:
    """Return an answer, or another record of numbers, codes and reasons, as plain values."""
    stored: dict[str, Any] = _stored(record)
    return stored


def from_stored(kind: type[Record], plain: dict[str, Any]) -> Record:
    """Return the record of a kind that :func:`to_stored` gave."""
    wanted: Any = kind
    make: Any = _maker(wanted)
    record: Record = make(plain)
    return record


def _stored(value: Any) -> Any:
    if isinstance(value, Reason):
        return as_plain(value)
    if _is_record(value):
        kind: Any = type(value)
        return {name: _stored(getattr(value, name)) for name in _types(kind)}
    return list(map(_stored, value)) if isinstance(value, tuple) else value


@cache
def _maker(kind: Any) -> Callable[[Any], Any] | None:
    """Return what makes a value of a kind from its plain one; None where that is the value."""
    if get_origin(kind) in (Union, UnionType):
        (kind,) = (each for each in get_args(kind) if each is not type(None))
    if kind is Reason:
        return _given(from_plain)
    if _is_record(kind):
        makers = {name: _maker(own) for name, own in _types(kind).items()}
        plain = [name for name, make in makers.items() if make is None]
        made = [(name, make) for name, make in makers.items() if make is not None]
        return _given(
            lambda own: kind(
                **{name: own[name] for name in plain},
                **{name: make(own[name]) for name, make in made},
            )
        )
    if get_origin(kind) is tuple:
        of_each = _maker(get_args(kind)[0])
        return _given(tuple if of_each is None else lambda own: tuple(map(of_each, own)))
    return None


def _given(make: Callable[[Any], Any]) -> Callable[[Any], Any]:
    return lambda plain: None if plain is None else make(plain)


@cache
def _types(kind: Any) -> dict[str, Any]:
    hints = get_type_hints(kind)
    return {each.name: hints[each.name] for each in fields(kind)}

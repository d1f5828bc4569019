"""Why something is as it is: a code with parameters, never a sentence.

Whatever is not defined, rejected, doubted, labelled or judged carries a :class:`Reason`. Logic,
storage and privacy compare codes; the sentence is made where a person reads it, from ``words/``. So
changing a sentence changes no result.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Union

from gaittrack import words

Parameter = Union[str, int, float, bool, "Reason", tuple["Parameter", ...]]


@dataclass(frozen=True, slots=True, init=False, repr=False)
class Reason:
    """A code and what its sentence needs.

    Attributes
    ----------
    code : str
        Key of its sentence in ``words/``: ``no_toe_off``.
    parameters : tuple of (str, Parameter)
        By name, in order of the names.
    """

    code: str
    parameters: tuple[tuple[str, Parameter], ...]

    def __init__(self, code: str, /, **parameters: Parameter) -> None:
        object.__setattr__(self, "code", code)
        object.__setattr__(self, "parameters", tuple(sorted(parameters.items())))

    def __getitem__(self, name: str) -> Any:
        """Return one parameter."""
        return dict(self.parameters)[name]

    def __repr__(self) -> str:
        """Return how it was made."""
        given = "".join(f", {name}={value!r}" for name, value in self.parameters)
        return f"Reason({self.code!r}{given})"

    def __str__(self) -> str:
        """Return its English sentence."""
        return self.say()

    def say(self, language: str = words.ENGLISH, part: str = "what") -> str:
        """Return its sentence.

        Parameters
        ----------
        part : str
            ``what`` or, where it has one, ``action``.
        """
        return words.say(self.code, dict(self.parameters), language=language, part=part)


def as_plain(reason: Reason) -> dict[str, Any]:
    """Return a reason as JSON holds it: ``{"code": …, parameter: …}``."""
    return {"code": reason.code, **{name: _plain(value) for name, value in reason.parameters}}


def as_json(reason: Reason) -> dict[str, Any]:
    """Return a reason for other programs: as :func:`as_plain`, with ``words`` that say it.

    A number that JSON does not have is None.
    """
    return {**_finite(as_plain(reason)), "words": str(reason)}


def from_plain(plain: Mapping[str, Any]) -> Reason:
    """Return the reason that :func:`as_plain` gave."""
    given = {name: _unplain(value) for name, value in plain.items() if name != "code"}
    return Reason(plain["code"], **given)


def _plain(value: Parameter) -> Any:
    if isinstance(value, Reason):
        return as_plain(value)
    if isinstance(value, tuple):
        return [_plain(each) for each in value]
    return value


def _finite(value: Any) -> Any:
    if isinstance(value, dict):
        return {name: _finite(each) for name, each in value.items()}
    if isinstance(value, list):
        return [_finite(each) for each in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value


def _unplain(value: Any) -> Parameter:
    if isinstance(value, Mapping):
        return from_plain(value)
    return tuple(map(_unplain, value)) if isinstance(value, list) else value

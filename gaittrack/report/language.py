"""The words of the page for the person, in the languages that are shipped.

In comes the code of a language, out come its texts and the way it writes numbers. The texts stand
in ``person.toml`` of ``gaittrack.words``; a further language is one more such file.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, Final

from gaittrack.words import languages, sentences

_MINUS: Final = "\N{MINUS SIGN}"
_UNITS: Final = {"mm": ("mm", 0), "deg": ("deg", 0), "deg/s": ("deg_s", 0), "m/s": ("m_s", 2)}
"""Unit of a measure → key of its words, and the decimals a person is shown."""


@dataclass(frozen=True, slots=True)
class Language:
    """One language.

    Attributes
    ----------
    code : str
        As in ISO 639-1: ``en``.
    texts : mapping of str to str
        By ``table.key`` of its file.
    """

    code: str
    texts: Mapping[str, str]
    decimal_sign: str

    @property
    def name(self) -> str:
        """What the language calls itself."""
        return self.texts["language"]

    def say(self, key: str, **values: object) -> str:
        """Return a text with its gaps filled."""
        return self.texts[key].format_map(values)

    def number(self, value: float, decimals: int) -> str:
        """Return a number as the language writes it; never minus zero."""
        text = f"{value:.{decimals}f}"
        if float(text) == 0:
            text = text.removeprefix("-")
        return text.replace("-", _MINUS).replace(".", self.decimal_sign)

    def quantity(self, value: float, unit: str, *, towards: int = 0, finer: int = 0) -> str:
        """Return a number with its unit.

        Parameters
        ----------
        unit : str
            ``mm``, ``deg``, ``deg/s`` or ``m/s``.
        towards : {-1, 0, 1}
            Round down, to the nearest, or up.
        finer : int
            Decimals beyond those a person is usually shown.
        """
        key, usual = _UNITS[unit]
        decimals = usual + finer
        if towards:
            step = 10.0**-decimals
            rounded = math.floor if towards < 0 else math.ceil
            value = rounded(round(value / step, 6)) * step
        text = self.number(value, decimals)
        return self.say(f"unit.{key}_one" if text == "1" else f"unit.{key}", value=text)


def language_codes() -> list[str]:
    """Return the languages that the page is written in, English first."""
    return [code for code in languages() if "person" in sentences(code)]


@cache
def language(code: str) -> Language:
    """Return a language.

    Raises
    ------
    ValueError
        It is not shipped.
    """
    if code not in language_codes():
        raise ValueError(f"language must be one of {language_codes()}, got {code!r}")
    words = sentences(code)
    return Language(code, _flat(words["person"]), words["terms"]["decimal_sign"])


def _flat(table: Mapping[str, Any], start: str = "") -> dict[str, str]:
    found: dict[str, str] = {}
    for key, value in table.items():
        if isinstance(value, Mapping):
            found |= _flat(value, f"{start}{key}.")
        else:
            found[start + key] = value
    return found

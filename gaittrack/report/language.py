"""The words of the page for the person, in the languages that are shipped.

In comes the code of a language, out come its texts and the way it writes numbers. The texts stand
in ``person.toml`` of ``gaittrack.words``; a further language is one more such file.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, Final, Literal

from gaittrack.words import languages, sentences

Audience = Literal["person", "relatives", "child", "parent"]
"""Who is spoken to; a child is spoken to as any person."""
_MINUS: Final = "\N{MINUS SIGN}"
_HALF: Final = "\N{VULGAR FRACTION ONE HALF}"


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

    def text(self, key: str, audience: Audience) -> str:
        """Return a text with its gaps, as it is said to somebody."""
        return self.texts.get(f"{key}_{audience}", self.texts[key])

    def number(self, value: float, decimals: int) -> str:
        """Return a number as the language writes it; never minus zero."""
        text = f"{value:.{decimals}f}"
        if float(text) == 0:
            text = text.removeprefix("-")
        return text.replace("-", _MINUS).replace(".", self.decimal_sign)

    def quantity(self, value: float, unit: str, decimals: int) -> str:
        """Return a number with its unit.

        Parameters
        ----------
        unit : str
            ``deg``, ``cm`` or ``m_s``.
        """
        return self._with_unit(self.number(value, decimals), unit)

    def in_halves(self, value: float, unit: str) -> str:
        """Return a number in whole and half units, with its unit."""
        n_halves = round(abs(value) * 2)
        text = f"{n_halves // 2 or ''}{_HALF}" if n_halves % 2 else str(n_halves // 2)
        return self._with_unit(_MINUS * (value < 0 and n_halves > 0) + text, unit)

    def _with_unit(self, text: str, unit: str) -> str:
        is_one = text.lstrip(_MINUS) in ("1", _HALF) and f"unit.{unit}_one" in self.texts
        return self.texts[f"unit.{unit}_one" if is_one else f"unit.{unit}"].format(value=text)


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

"""Every sentence that a person reads, in the languages that are shipped.

In come a code and its parameters, out comes the sentence of a language. ``LANGUAGE/ROOM.toml``
holds one sentence a code, with named gaps: ``no_toe_off = "no toe-off in the cycle"``. Where a
sentence has parts (``what``, ``action``), or differs for one and many (``one``, ``many``, told
apart by the parameter ``n``), the code is a table of them. A ``short`` form is said of the code
without parameters: a label, whose figures stand elsewhere. A code that another language lacks is
said in English.
"""

from __future__ import annotations

import string
import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Any, Final

ENGLISH: Final = "en"
_HERE: Final = files("gaittrack.words")
_TERM: Final = "term"
_UNIT: Final = "unit"


def say(
    code: str, parameters: Mapping[str, Any], *, language: str = ENGLISH, part: str = "what"
) -> str:
    """Return a sentence with its gaps filled.

    Parameters
    ----------
    parameters : mapping of str to object
        Numbers, texts, further reasons (said in the same language) or tuples of them. A gap
        ``{side:term}`` looks its value, or each of a tuple, up among the words of the trade
        (``terms.toml``), ``{unit:unit}`` is a unit as it stands behind its number;
        ``{names:or}`` joins a tuple by "or", ``{names:;}`` by a semicolon,
        ``{by:g}`` its numbers by commas.
    part : str
        ``what`` or ``action``; a sentence without parts is all ``what``, and its action is empty.

    Raises
    ------
    KeyError
        No language has a sentence for the code.
    """
    own = sentences(language)
    sentence = own[code] if code in own else sentences(ENGLISH)[code]
    if isinstance(sentence, Mapping) and "what" in sentence:
        sentence = sentence.get("short" if "short" in sentence and not parameters else part, "")
    elif part != "what":
        sentence = ""
    if isinstance(sentence, Mapping):
        sentence = sentence["one" if parameters["n"] == 1 else "many"]
    return _Filler(language).vformat(sentence, (), parameters)


def entry(table: str, name: str, language: str) -> Any:
    """Return what a table of a language has under a name, or English has; empty for nothing."""
    own = sentences(language).get(table, {})
    return own[name] if name in own else sentences(ENGLISH).get(table, {}).get(name, "")


def unit_behind(unit: str) -> str:
    """Return a unit as it stands behind a number: ``°`` close to it, `` mm`` apart."""
    sign = entry("terms", unit, ENGLISH) or unit
    return sign if sign.startswith("°") else f" {sign}"


@cache
def sentences(language: str) -> Mapping[str, Any]:
    """Return every sentence of a language by its code.

    Raises
    ------
    ValueError
        The language is not shipped, or two of its files have the same code.
    """
    if language not in languages():
        raise ValueError(f"language must be one of {languages()}, got {language!r}")
    found: dict[str, Any] = {}
    for path in sorted((_HERE / language).iterdir(), key=lambda path: path.name):
        table = tomllib.loads(path.read_text(encoding="utf-8"))
        if twice := found.keys() & table.keys():
            raise ValueError(f"{path.name} ({language}) has {sorted(twice)}, as another file has")
        found |= table
    return found


@cache
def languages() -> tuple[str, ...]:
    """Return the languages that are shipped, English first."""
    found = [path.name for path in _HERE.iterdir() if path.is_dir() and len(path.name) == 2]
    return tuple(sorted(found, key=lambda code: (code != ENGLISH, code)))


class _Filler(string.Formatter):
    """Fills the gaps of a sentence in one language."""

    def __init__(self, language: str) -> None:
        self.language = language

    def format_field(self, value: Any, format_spec: str) -> str:
        if hasattr(value, "code"):
            return say(value.code, dict(value.parameters), language=self.language)
        if isinstance(value, tuple):
            spec = format_spec if format_spec in (_TERM, "g") else ""
            return self._joiner(format_spec).join(self.format_field(each, spec) for each in value)
        if format_spec == _TERM:
            return self._term(value)
        if format_spec == _UNIT:
            return unit_behind(value)
        said = format(value, format_spec)
        return said.replace(".", self._term("decimal_sign")) if isinstance(value, float) else said

    def _joiner(self, format_spec: str) -> str:
        if format_spec in ("", _TERM, ";", "g"):
            return "; " if format_spec == ";" else ", "
        return f" {self._term(format_spec)} "

    def _term(self, name: str) -> str:
        for language in (self.language, ENGLISH):
            terms = sentences(language).get("terms", {})
            if name in terms:
                return str(terms[name])
        return name.replace("_", " ")

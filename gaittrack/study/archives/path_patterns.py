"""A laboratory's own folders and file names as a pattern, and what each part of a path says by it.

In comes ``{person}/{date}/{condition}[_{trial}].c3d``, out comes what a path says as person, day,
condition and trial; nothing where it does not fit, and both ways where it can be read in two.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import count
from typing import Final

from gaittrack.errors import StudyError
from gaittrack.read import READABLE_SUFFIXES
from gaittrack.said_days import whole_day
from gaittrack.study.archives.guessing import day_in_order, said_side

PARTS: Final = ("person", "visit", "date", "condition", "trial", "side")
_ORDERS: Final = ("ymd", "dmy", "mdy")
_TOKEN: Final = re.compile(
    r"\{(?P<part>\w*)(?::(?P<form>[^{}]*))?\}|(?P<folders>\*\*/)|(?P<star>\*)|(?P<text>[^{}*]+)"
)
_MOST_OPTIONAL: Final = 4
_MOST_STEPS: Final = 20_000
"""Tries for one path; a pattern that needs more says too little. Own choice."""
_BETWEEN: Final = " _-."

Said = dict[str, str]
"""What a path says, by the names of :data:`PARTS`."""


@dataclass(frozen=True, slots=True)
class _Token:
    """One piece of a pattern: fixed text, a named part with its form, or whatever stands there."""

    kind: str
    text: str = ""
    form: str = ""
    touches: bool = False


class PathPattern:
    """A pattern of paths below a folder that was given.

    Parameters
    ----------
    text : str
        ``{person}`` and the other parts, ``{person:P##}`` for one that looks like P and two
        digits, ``*`` for anything within a name, ``**/`` for any folders, ``[...]`` for what may
        be missing; all else stands for itself, capitals aside. Without ``/`` it is of file names,
        whatever folder they lie in; an ending chooses the files that are meant.

    Raises
    ------
    StudyError
        It cannot be read; the message says where.
    """

    def __init__(self, text: str) -> None:
        self.text = text
        body, self.ending = without_ending(text.strip())
        if not body:
            raise StudyError.of("pattern_empty", where=f"pattern {text!r}")
        self.is_of_names = "/" not in body
        self._ways = [_tokens(each, text) for each in _expanded(body, text)]

    @property
    def parts(self) -> set[str]:
        """The named parts that it has."""
        return {token.text for way in self._ways for token in way if token.kind == "part"}

    def is_for(self, path: str) -> bool:
        """Tell whether a path has the ending that the pattern chooses."""
        return path.casefold().endswith(self.ending)

    def readings(self, path: str) -> list[Said]:
        """Return what a path says: nothing, one reading, or two that differ.

        Parameters
        ----------
        path : str
            Below the folder that was given, its parts separated by ``/``.
        """
        if not self.is_for(path):
            return []
        named = path.rpartition("/")[2] if self.is_of_names else path
        text = without_ending(named)[0]
        found: list[Said] = []
        for tokens in self._ways:
            for said in _readings(tokens, text, 0, {}, count()):
                if not any(_holds(other, said) for other in found):
                    found.append(said)
                if len(found) > 1:
                    return found
        return found


def _holds(full: Said, said: Said) -> bool:
    """Tell whether a reading is another one without a piece that may be missing.

    What it gained by the piece must be plain: a day, a side or a number, as in ``AFO[{trial}]``. In
    ``with[_{trial}]`` the second word of ``with_brace`` may be a trial or not.
    """
    gained = full.keys() - said.keys()
    plain = all(part in ("date", "side") or full[part].isdigit() for part in gained)
    return full == said or (bool(gained) and plain)


def without_ending(text: str) -> tuple[str, str]:
    """Return a path without its ending, and the ending in small letters; only one that is read."""
    stem, dot, ending = text.rpartition(".")
    is_ending = bool(dot) and f".{ending.casefold()}" in READABLE_SUFFIXES
    return (stem, f".{ending.casefold()}") if is_ending else (text, "")


def _expanded(text: str, pattern: str) -> list[str]:
    """Return the pattern with and without each piece in brackets, the fullest first."""
    if text.count("[") != text.count("]") or text.count("[") > _MOST_OPTIONAL:
        raise StudyError.of("pattern_brackets", where=f"pattern {pattern!r}", most=_MOST_OPTIONAL)
    match = re.search(r"\[([^\[\]]*)\]", text)
    if match is None:
        if "]" in text:
            raise StudyError.of("pattern_brackets", where=f"pattern {pattern!r}", most=4)
        return [text]
    before, after = text[: match.start()], text[match.end() :]
    return [
        *_expanded(before + match[1] + after, pattern),
        *_expanded(before + after, pattern),
    ]


def _tokens(text: str, pattern: str) -> list[_Token]:
    where = f"pattern {pattern!r}"
    found: list[_Token] = []
    place = 0
    for match in _TOKEN.finditer(text):
        if match.start() != place:
            raise StudyError.of("pattern_braces", where=where, at=text[place : match.start()])
        place = match.end()
        found.append(_token(match, where))
    if place != len(text):
        raise StudyError.of("pattern_braces", where=where, at=text[place:])
    return [
        _Token(one.kind, one.text, one.form, one.kind == after.kind == "part")
        for one, after in zip(found, [*found[1:], _Token("end")], strict=True)
    ]


def _token(match: re.Match[str], where: str) -> _Token:
    if match["text"]:
        return _Token("text", match["text"].casefold())
    if match["star"] or match["folders"]:
        return _Token("folders" if match["folders"] else "star")
    name, form = match["part"], match["form"] or ""
    if name not in PARTS:
        raise StudyError.of("pattern_part", where=where, part=name, parts=", ".join(PARTS))
    if name == "date" and form and form.casefold() not in _ORDERS:
        raise StudyError.of("pattern_date_form", where=where, form=form, forms=", ".join(_ORDERS))
    return _Token("part", name, form.casefold())


def _readings(
    tokens: Sequence[_Token], text: str, start: int, said: Said, steps: count[int]
) -> Iterator[Said]:
    """Give each way in which the tokens cover the text from a place on."""
    if next(steps) > _MOST_STEPS:
        raise StudyError.of("pattern_too_loose", where=text)
    if not tokens:
        if start == len(text):
            yield said
        return
    token, rest = tokens[0], tokens[1:]
    if token.kind == "text":
        stop = start + len(token.text)
        if text[start:stop].casefold() == token.text:
            yield from _readings(rest, text, stop, said, steps)
        return
    for stop in _stops(token, text, start):
        known = said
        if token.kind == "part":
            value = _value(token, text, start, stop)
            if not value or said.get(token.text, value).casefold() != value.casefold():
                continue
            known = {token.text: value} | said
        yield from _readings(rest, text, stop, known, steps)


def _stops(token: _Token, text: str, start: int) -> Iterator[int]:
    """Give each place where a token that begins at one may end."""
    if token.kind == "folders":
        yield start
        yield from (match.end() for match in re.compile("/").finditer(text, start))
        return
    slash = text.find("/", start)
    longest = len(text) if slash < 0 else slash
    for stop in range(start if token.kind == "star" else start + 1, longest + 1):
        if not token.touches or _turns(text, stop):
            yield stop


def _turns(text: str, place: int) -> bool:
    """Tell whether letters end and digits begin here, or the other way round."""
    return place < len(text) and text[place - 1].isdigit() != text[place].isdigit()


def _value(token: _Token, text: str, start: int, stop: int) -> str:
    """Return what a piece of a text says as a part; empty when it cannot be that part."""
    piece = text[start:stop]
    if token.text == "date":
        if text[:start][-1:].isdigit() or text[stop : stop + 1].isdigit():
            return ""
        return day_in_order(piece, token.form) if token.form else whole_day(piece)
    if token.text == "side":
        return said_side(piece)
    if token.form and not re.fullmatch(_form(token.form), piece.casefold()):
        return ""
    return piece.strip(_BETWEEN)


def _form(form: str) -> str:
    pieces = {"#": r"\d", "*": ".*"}
    return "".join(pieces.get(each, re.escape(each)) for each in form)

"""Labels in other languages than English: which side and landmark their words spell.

In comes a label, or all labels of a file, out come the side and the landmark of each. A label is
read in one language at a time, whole: a side, a part of the body, nothing left over. What two
languages read differently is not read. One letter is a side only where the file bears it out: the
same landmarks with both letters of a pair, and no side said otherwise.
"""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from functools import lru_cache
from importlib.resources import files
from typing import Final, NamedTuple

from gaittrack.vocabulary import SIDES, Side

PIECES: Final = re.compile(r"[A-Z]+(?![a-z])|[A-Z]?[a-z]+|\d+")
"""Words of a label: by signs between them, by capitals, by numbers."""
_NATIVE: Final = {"ä": "ae", "ö": "oe", "ü": "ue", "ß": "ss", "æ": "ae", "ø": "oe", "å": "aa"}
_BARE: Final = {"æ": "ae", "ø": "o", "ß": "ss"}
_SHORTEST_BARE: Final = 4
"""Letters of a word that is known without its marks, too: ``hal`` is not the Swedish heel."""
_LINKS: Final = frozenset("du de la le del della dello delle do da dos di van het den".split())
_FEWEST_PAIRS: Final = 2
"""Landmarks on both sides by which a file bears out letters other than l and r; our choice."""
_RAYS: Final = {"1": "metatarsal_1", "2": "metatarsal_2", "3": "metatarsal_2", "5": "metatarsal_5"}
_WHOLE: Final = ("heel", "toe", "hip", "fibula_head", "tibial_tuberosity", "asis", "psis")
_ORDINALS: Final = {"1": "first", "2": "second", "5": "fifth"}


_ENGLISH: Final[Mapping[str, Side]] = {"l": "left", "r": "right"}


class Spelt(NamedTuple):
    """Side, None where a label names none, and landmark."""

    side: Side | None
    landmark: str


class _Language(NamedTuple):
    sides: Mapping[str, Side]
    letters: Mapping[str, Side]
    parts: Mapping[str, str]


def plain_letters(text: str, *, is_bare: bool = False) -> str:
    """Return a text in the letters a to z: ä as ae, é as e; bare: ä as a."""
    known = _BARE if is_bare else _NATIVE
    whole = unicodedata.normalize("NFC", text)
    written = []
    for letter, after in zip(whole, f"{whole[1:]} ", strict=False):
        found = known.get(letter.lower(), letter)
        if letter.isupper() and found != letter:
            found = found.capitalize() if after.islower() else found.upper()
        written.append(found)
    marked = unicodedata.normalize("NFKD", "".join(written))
    return "".join(letter for letter in marked if not unicodedata.combining(letter))


def _words(table: Mapping[str, str], key: str) -> list[str]:
    """Return the words of a list, with and without the marks of their letters."""
    found: dict[str, None] = {}
    for word in table.get(key, "").split():
        found[plain_letters(word)] = None
        bare = plain_letters(word, is_bare=True)
        if len(bare) >= _SHORTEST_BARE:
            found[bare] = None
    return list(found)


def _parts(table: Mapping[str, str]) -> dict[str, str]:
    """Return what words of the body mean, joined as a label joins them, to landmark."""
    found = {word: key for key in _WHOLE for word in _words(table, key)}
    found |= dict.fromkeys(_words(table, "sacrum"), "sacrum")
    for joint in ("knee", "ankle"):
        for word in _words(table, joint):
            found[word] = joint
            for place, landmark in (("outer", joint), ("inner", f"{joint}_medial")):
                found |= _either_way(word, _words(table, place), landmark)
    for word in _words(table, "pelvis"):
        found |= _either_way(word, _words(table, "front"), "asis")
        found |= _either_way(word, _words(table, "back"), "psis")
    for word in _words(table, "ray"):
        for number, landmark in _RAYS.items():
            ordinals = _words(table, _ORDINALS.get(number, ""))
            found |= _either_way(word, [number, *ordinals], landmark)
    for key in ("metatarsal_1", "metatarsal_5"):
        found |= dict.fromkeys(_words(table, key), key)
    return found


def _either_way(word: str, beside: Iterable[str], landmark: str) -> dict[str, str]:
    return {joined: landmark for other in beside for joined in (word + other, other + word)}


def _languages() -> dict[str, _Language]:
    text = (files("gaittrack.kinematics") / "label_words.toml").read_text(encoding="utf-8")
    return {
        name: _Language(
            {word: side for side in SIDES for word in _words(table, side)},
            dict(zip(table["letters"], SIDES, strict=True)),
            _parts({key: words for key, words in table.items() if key != "letters"}),
        )
        for name, table in tomllib.loads(text).items()
    }


LANGUAGES: Final = _languages()
"""By name: sides, letters for sides, and parts of the body as labels join them."""


@lru_cache(maxsize=4096)
def spelt_abroad(label: str) -> Spelt | None:
    """Return what a label spells by its words alone."""
    pieces = _pieces(label)
    found = {each for one in LANGUAGES.values() for each in _in_language(pieces, one, one.sides)}
    return next(iter(found)) if len(found) == 1 else None


def _pieces(label: str) -> tuple[str, ...]:
    return tuple(piece.lower() for piece in PIECES.findall(plain_letters(label)))


def _in_language(
    pieces: tuple[str, ...], one: _Language, sides: Mapping[str, Side]
) -> Iterator[Spelt]:
    """Give each way to read a label as one side and one part, with words of one language."""
    is_named = False
    for place, piece in enumerate(pieces):
        landmark = _part(pieces[:place] + pieces[place + 1 :], one)
        if piece in sides and landmark:
            is_named = True
            yield _spelt(sides[piece], landmark)
    joined = "".join(pieces)
    for word, side in sides.items() if not is_named else ():
        for rest in (joined.removeprefix(word), joined.removesuffix(word)):
            if rest != joined and rest in one.parts:
                is_named = True
                yield _spelt(side, one.parts[rest])
    landmark = _part(pieces, one)
    if landmark and not is_named:
        yield _spelt(None, landmark)


def _part(pieces: Iterable[str], one: _Language) -> str:
    words = tuple(pieces)
    bare = (word for word in words if word not in _LINKS)
    return one.parts.get("".join(words)) or one.parts.get("".join(bare)) or ""


def _spelt(side: Side | None, landmark: str) -> Spelt:
    return Spelt(None if landmark == "sacrum" else side, landmark)


def sides_abroad(label: str) -> list[tuple[Side, str]]:
    """Return the ways to take a word of another language out of a label as its side."""
    pieces = _pieces(label)
    return [
        (one.sides[piece], "".join(pieces[:place] + pieces[place + 1 :]))
        for one in LANGUAGES.values()
        for place, piece in enumerate(pieces)
        if piece in one.sides
    ]


@lru_cache(maxsize=256)
def sides_by_letter(labels: tuple[str, ...], *, is_english: bool) -> Mapping[str, Spelt]:
    """Return what labels spell whose side is one letter, where the file bears the letters out.

    Parameters
    ----------
    is_english : bool
        Take no letters but l and r: other labels of the file name their sides.

    Returns
    -------
    dict of label to Spelt
        Empty unless a pair of letters gives the same landmarks on both sides, at least two of them
        where the letters are other than l and r.
    """
    found = [
        told
        for one in LANGUAGES.values()
        for letters in (_ENGLISH, *([] if is_english else [one.letters]))
        if (told := _borne_out(labels, one, letters))
    ]
    most = max(found, key=len, default={})
    agree = all(most.get(label, way) == way for told in found for label, way in told.items())
    return most if agree else {}


def _borne_out(
    labels: tuple[str, ...], one: _Language, letters: Mapping[str, Side]
) -> dict[str, Spelt]:
    told: dict[str, Spelt] = {}
    for label in labels:
        ways = set(_in_language(_pieces(label), one, letters))
        if len(ways) == 1 and (way := ways.pop()).side is not None:
            told[label] = way
    sides = [{each.landmark for each in told.values() if each.side == side} for side in SIDES]
    fewest = 1 if letters is _ENGLISH else _FEWEST_PAIRS
    is_paired = sides[0] == sides[1] and len(sides[0]) >= fewest
    return told if is_paired else {}

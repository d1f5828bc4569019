"""What names of folders and files say of a recording: what was worn, standing or walk, the day.

In comes the path of a file below what was given, out come facts with where each was found. Only
whole words of ``said_words.toml`` count; what is not said, or is said two ways, is not guessed.
"""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from pathlib import PurePosixPath
from typing import Final

from gaittrack.reasons import Reason
from gaittrack.said_days import day_of, said_day

BRACE: Final = "ankle-foot orthosis"
_SIDES: Final = {
    "left": "left",
    "left_weak": "left",
    "right": "right",
    "right_weak": "right",
    "both": "both",
}
_NAMES: Final = {"none": "without-brace", BRACE: "with-brace"}
_MOST_IN_COMPOUND: Final = 3
_SHORTEST_IN_COMPOUND: Final = 3


@dataclass(frozen=True, slots=True)
class Guess:
    """What the names of one file say.

    Attributes
    ----------
    worn : mapping of str to str
        ``orthosis``, ``orthosis_side`` and ``footwear``, by the words of their lists.
    day : str
        ISO; empty when none is said.
    sources : mapping of str to Reason
        Where each of these, and ``standing``, was found.
    """

    worn: Mapping[str, str] = field(default_factory=dict)
    is_standing: bool = False
    day: str = ""
    sources: Mapping[str, Reason] = field(default_factory=dict)

    @property
    def condition(self) -> str:
        """A name for what was worn; empty when nothing is said."""
        return condition_name(self.worn)


def condition_name(worn: Mapping[str, str]) -> str:
    """Return a name for what was worn: ``with-brace``, ``barefoot``, ``without-brace-shoe``."""
    named = (_NAMES.get(worn.get("orthosis", "")), worn.get("footwear"))
    return "-".join(filter(None, named))


def guess_of(path: str) -> Guess:
    """Guess from the path of a file, its parts separated by ``/``.

    The file's own name counts before its folders, and those near it before others. A name that says
    the opposite of the folder it lies in says nothing.
    """
    places = _places(path)
    worn: dict[str, str] = {}
    sources: dict[str, Reason] = {}
    for key in ("orthosis", "orthosis_side", "footwear"):
        told = [(said[key], source) for text, source in places if key in (said := said_worn(text))]
        if told and all(other == told[0][0] for other, _ in told[:2]):
            worn[key], sources[key] = told[0]
    if worn.get("orthosis") != BRACE:
        worn.pop("orthosis_side", None)
    standing = next((source for text, source in places if says_standing(text)), None)
    if standing is not None:
        sources["standing"] = standing
    day, sources["day"] = next(
        ((day, source) for text, source in places if (day := said_day(text))), ("", places[0][1])
    )
    if not day:
        del sources["day"]
    return Guess(worn, standing is not None, day, sources)


def _places(path: str) -> list[tuple[str, Reason]]:
    """Return the names in a path, the nearest first, each with what to call it."""
    file = PurePosixPath(path)
    folders = [part for part in reversed(file.parts[:-1]) if part not in ("/", "..")]
    return [
        (file.stem, Reason("guessed_from_file", name=file.stem)),
        *((name, Reason("guessed_from_folder", name=name)) for name in folders),
    ]


def said_worn(text: str, *, is_of_work: bool = True) -> dict[str, str]:
    """Return what one name says of brace, its side, and shoe.

    Parameters
    ----------
    is_of_work : bool
        Whether a word for the work, as in "AFO study", makes the name one of no recording.

    Examples
    --------
    >>> said_worn("ohne Schiene, Schuhe")
    {'orthosis': 'none', 'footwear': 'shoe'}
    >>> said_worn("AFO_links_3")
    {'orthosis': 'ankle-foot orthosis', 'orthosis_side': 'left'}
    >>> said_worn("ohne Stock")
    {}
    """
    words = [_class_of(word) for word in _words(text)]
    if "doubtful" in words or (is_of_work and "about_the_work" in words):
        return {}
    told: dict[str, set[str]] = {}
    for key, value in _told(words):
        told.setdefault(key, set()).add(value)
    return {key: values.pop() for key, values in told.items() if len(values) == 1}


def is_known(text: str) -> bool:
    """Tell whether every word of a text is known."""
    return all(_class_of(word) != "unknown" for word in _words(text))


def says_standing(text: str) -> bool:
    """Tell whether a name holds a word for quiet standing."""
    return any(_class_of(word) == "standing" for word in _words(text))


def day_in_order(text: str, order: str) -> str:
    """Return the day that a whole text is, in ISO form; empty when it is none.

    Parameters
    ----------
    order : str
        ``ymd``, ``dmy`` or ``mdy``. A year of two digits is one of this century.
    """
    sizes = {"y": r"(\d{4}|\d{2})", "m": r"(\d{1,2})", "d": r"(\d{1,2})"}
    apart = re.fullmatch(r"[-._ ]".join(sizes[each] for each in order), text)
    together = re.fullmatch("".join(sizes[each].replace("1,", "") for each in order), text)
    match = apart or together
    if match is None:
        return ""
    found = dict(zip(order, map(int, match.groups()), strict=True))
    year = found["y"] + (2000 if found["y"] < 100 else 0)
    return day_of(year, found["m"], found["d"])


def said_side(text: str) -> str:
    """Return the side that a whole text names, a single letter too; empty when it is none."""
    sides = {_SIDES.get(_class_of(word), "") for word in _words(text)}
    return sides.pop() if len(sides) == 1 else ""


def _told(words: Sequence[str]) -> Iterator[tuple[str, str]]:
    """Read the classes of the words of one name from left to right."""
    is_without, is_left_open = False, False
    for place, word in enumerate(words):
        after = words[place + 1] if place + 1 < len(words) else ""
        before = words[place - 1] if place else ""
        if word in ("without", "without_weak", "with", "with_weak"):
            is_without, is_left_open = word.startswith("without"), False
            if word in ("without", "with") and after in ("", "number"):
                yield "orthosis", "none" if is_without else BRACE
            elif after in ("and", "with", "without"):
                yield from (("orthosis", "none"), ("orthosis", BRACE))
        elif word == "unbraced":
            yield "orthosis", "none"
        elif word in ("brace", "shoe", "barefoot") and is_left_open and before == "and":
            continue  # "without brace and shoe": with or without the shoe, nobody knows
        elif word == "brace":
            yield "orthosis", "none" if is_without or after == "off" else BRACE
            yield from _side_beside(before, after)
            is_left_open, is_without = is_without, False
        elif word in ("shoe", "barefoot"):
            yield "footwear", "barefoot" if is_without or word == "barefoot" else "shoe"
            is_left_open, is_without = is_without, False
        elif word in ("unknown", "number"):
            is_without = False


def _side_beside(before: str, after: str) -> Iterator[tuple[str, str]]:
    """Give the side that stands right beside the word for a brace."""
    for word in (before, after):
        if word in _SIDES:
            yield "orthosis_side", _SIDES[word]


def _class_of(word: str) -> str:
    """Return the class of a word; also a number has one, and what nobody knows."""
    return "number" if word.isdigit() else _classes().get(word, "unknown")


def _words(text: str) -> list[str]:
    """Return the words of a name, in lower case and without accents, compounds taken apart."""
    plain = unicodedata.normalize("NFKD", text.replace("ø", "o").replace("Ø", "O"))
    plain = "".join(each for each in plain if not unicodedata.combining(each))
    plain = re.sub(r"(?<![^\W_])[wW][-_. ]?[oO](?![^\W_])", "without", plain)
    return [
        word
        for run in re.findall(r"[^\W\d_]+|\d+", plain)
        for word in _known_words(run.casefold()) or _with_letter(run) or _humps(run)
    ]


def _known_words(run: str) -> list[str]:
    """Return the known words that a run of letters is made of; none where it is not."""
    if run.isdigit():
        return [run]
    return next((list(words) for words in _cuts(run, _MOST_IN_COMPOUND)), [])


def _with_letter(run: str) -> list[str]:
    """Return a word for a brace and the letter of a side behind it, apart by their capitals."""
    word, letter = run[:-1], run[-1:].casefold()
    is_apart = word.isupper() if run[-1:].islower() else word.islower() and run[-1:].isupper()
    is_side = _class_of(letter) in ("left_weak", "right_weak")
    is_so = is_apart and is_side and _class_of(word.casefold()) == "brace"
    return [word.casefold(), letter] if is_so else []


def _cuts(run: str, most: int) -> Iterator[tuple[str, ...]]:
    if run in _classes():
        yield (run,)
    for place in range(len(run) - _SHORTEST_IN_COMPOUND, _SHORTEST_IN_COMPOUND - 1, -1):
        if most > 1 and run[:place] in _classes():
            yield from ((run[:place], *rest) for rest in _cuts(run[place:], most - 1))


def _humps(run: str) -> list[str]:
    return [hump.casefold() for hump in re.findall(r"[^a-z]+(?![a-z])|[^a-z]?[a-z]+|.", run)]


@cache
def _classes() -> Mapping[str, str]:
    """Return each known word with its class."""
    place = files("gaittrack.study.archives") / "said_words.toml"
    table = tomllib.loads(place.read_text(encoding="utf-8"))
    return {word: name for name, words in table.items() for word in words.split()}

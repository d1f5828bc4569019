"""Check what somebody wrote, chose or typed, and bring it to what is stored.

In come values from a file, a sheet or a form, out come numbers, days, yes or no and words; whatever
cannot be is refused, with the fact's name and what to write.
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from typing import Any, Final

from gaittrack.errors import FactError, LayoutError
from gaittrack.readable_names import readable_text
from gaittrack.record.closed_lists import LISTS, NOT_DONE, NOT_TESTED, OTHER, word_of
from gaittrack.record.registry import Fact

_YES, _NO = ("yes", "true", "1"), ("no", "false", "0")


def check_fact(fact: Fact, value: Any, where: str) -> Any:
    """Return a value as it is stored.

    Parameters
    ----------
    where : str
        What to call the source in an error.

    Raises
    ------
    LayoutError
        A word that is not of a closed list, a value of the wrong kind, or one beyond what can be.
    """
    if fact.of == "leg" and isinstance(value, str) and value.strip().casefold() == NOT_TESTED:
        return NOT_TESTED
    return _CHECKS[fact.kind](fact, value, where)


def check_all(facts: Mapping[str, Fact], given: Mapping[str, Any], where: str) -> dict[str, Any]:
    """Return values as they are stored, each checked by :func:`check_fact`."""
    return {name: check_fact(facts[name], value, where) for name, value in given.items()}


def from_cell(fact: Fact, cell: str, where: str) -> Any:
    """Return what a cell of a sheet says, in the kind that a file of tables would have.

    Raises
    ------
    LayoutError
        Neither yes nor no, or no number.
    """
    if fact.of == "leg" and cell.casefold() == NOT_TESTED:
        return NOT_TESTED
    if fact.kind == "yes/no":
        if cell.lower() in (*_YES, *_NO):
            return cell.lower() in _YES
        raise LayoutError.of("neither_yes_nor_no", where=where, cell=cell)
    if fact.kind not in ("number", "whole"):
        return cell
    try:
        number = float(cell.replace(",", "."))
    except ValueError as error:
        raise LayoutError.of("no_number_2", where=where, cell=cell) from error
    return int(number) if number.is_integer() else number


def is_asked_about(fact: Fact, value: Any) -> bool:
    """Tell whether a stored word is none of its list, so that somebody has to say what it means."""
    if not fact.list or not isinstance(value, str) or fact.kind == "several":
        return False
    return value not in fact.words and value != OTHER


def _number(fact: Fact, value: Any, where: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise FactError.about(fact.name, "no_number_there", where=where, value=value)
    if fact.low is not None and fact.high is not None and not fact.low <= value <= fact.high:
        raise FactError.about(
            fact.name,
            "beyond_what_can_be",
            where=where,
            value=value,
            low=fact.low,
            high=fact.high,
            unit=f" {fact.unit}" * (fact.unit != "1"),
        )
    return float(value)


def _whole(fact: Fact, value: Any, where: str) -> int:
    if isinstance(value, bool) or not isinstance(value, int | float) or value != value // 1:
        raise FactError.about(fact.name, "no_whole_number", where=where, value=value)
    return int(_number(fact, value, where))


def _yes_or_no(fact: Fact, value: Any, where: str) -> bool:
    if not isinstance(value, bool):
        raise FactError.about(fact.name, "no_truth_value", where=where, value=value)
    return value


def _day(fact: Fact, value: Any, where: str) -> str:
    try:
        day = datetime.date.fromisoformat(str(value)[:10])
    except ValueError as error:
        raise FactError.about(fact.name, "no_date", where=where, value=value) from error
    if day > datetime.date.today():
        raise FactError.about(fact.name, "day_to_come", where=where, value=day.isoformat())
    return day.isoformat()


def refuse_contradictions(facts: Mapping[str, Any], where: str) -> None:
    """Refuse the total of a questionnaire that is none of its own range.

    Raises
    ------
    LayoutError
    """
    total, low, high = (facts.get(f"questionnaire_{name}") for name in ("total", "low", "high"))
    given = {"low": low, "high": high, "total": total}
    known = [value for value in (low, total, high) if value is not None]
    if known != sorted(known):
        said = ", ".join(f"{name} {value:g}" for name, value in given.items() if value is not None)
        raise LayoutError.of("total_beyond_range", where=where, said=said)


def _repeats(fact: Fact, value: Any, where: str) -> str:
    """Return every repeat of a test, or the answer that there is none."""
    if isinstance(value, str) and value.strip().casefold() in NOT_DONE:
        return value.strip().casefold()
    try:
        parts = [float(each.replace(",", ".")) for each in value.split(";")]
    except AttributeError:
        parts = value if isinstance(value, list) else [value]
    except ValueError as error:
        raise _no_repeats(fact, value, where) from error
    if not parts:
        raise _no_repeats(fact, value, where)
    return "; ".join(f"{_number(fact, each, where):g}" for each in parts)


def _no_repeats(fact: Fact, value: Any, where: str) -> FactError:
    answers = ", ".join(NOT_DONE)
    return FactError.about(fact.name, "no_repeats", where=where, value=value, answers=answers)


def repeats_of(value: object) -> tuple[float, ...]:
    """Return the repeats of a test as they are stored; none where there is an answer instead."""
    if not isinstance(value, str) or value in NOT_DONE:
        return ()
    return tuple(map(float, value.split(";")))


def _ratings(fact: Fact, value: Any, where: str) -> str:
    """Return the level of each aim: ``A1: 1; A2: -1``."""
    levels: dict[str, int] = {}
    for each in _note(fact, value, where).split(";"):
        code, _, level = each.rpartition(":")
        code = code.strip()
        if not code or code in levels or not level.strip().removeprefix("-").isdecimal():
            raise FactError.about(fact.name, "no_ratings", where=where, value=value)
        levels[code] = _whole(fact, int(level), where)
    return "; ".join(f"{code}: {level}" for code, level in levels.items())


def ratings_of(value: object) -> dict[str, int]:
    """Return the level of each aim by its code, of ratings as they are stored."""
    parts = [each.rpartition(": ") for each in value.split("; ")] if isinstance(value, str) else []
    return {code: int(level) for code, _, level in parts}


def _note(fact: Fact, value: Any, where: str) -> str:
    if not isinstance(value, str):
        raise FactError.about(fact.name, "no_text", where=where, value=value)
    return readable_text(value)


def _word(fact: Fact, value: Any, where: str) -> str:
    """Return a word of the list, or the words as they are, which somebody is asked about."""
    text = _note(fact, str(value) if type(value) is int else value, where)
    return OTHER if text.strip().casefold() == OTHER else word_of(text, fact.list) or text


def _choice(fact: Fact, value: Any, where: str) -> str:
    found = word_of(value, fact.list)
    if found is None:
        raise _not_in_list(fact, value, where)
    return found


def _several(fact: Fact, value: Any, where: str) -> str:
    text = _note(fact, value, where)
    found = [word_of(part, fact.list) for part in text.split(",")]
    if None in found:
        raise _not_in_list(fact, value, where)
    return ", ".join(word for word in LISTS[fact.list] if word in found)


def _not_in_list(fact: Fact, value: Any, where: str) -> FactError:
    words = ", ".join(fact.words)
    return FactError.about(fact.name, "not_in_closed_list", where=where, word=value, words=words)


_CHECKS: Final = {
    "choice": _choice,
    "word": _word,
    "several": _several,
    "repeats": _repeats,
    "ratings": _ratings,
    "number": _number,
    "whole": _whole,
    "date": _day,
    "yes/no": _yes_or_no,
    "note": _note,
}

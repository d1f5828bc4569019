"""Sentences that earlier versions stored, understood as codes.

In comes a sentence of a study whose tables are of version 4 or older, out comes the reason it says.
What no sentence of ``sentences_until_version_4.toml`` fits is kept as it was told.
"""

from __future__ import annotations

import ast
import json
import re
import string
import tomllib
from collections.abc import Callable, Mapping
from functools import cache
from importlib.resources import files
from typing import Any, Final, NamedTuple

from gaittrack.reasons import Parameter, Reason, as_plain

TOLD_BEFORE: Final = "told_before"
"""Code of a sentence of an earlier version that none is known to; it may hold any words."""
_NUMBER: Final = r"[-+]?\d+(?:\.\d+)?(?:e[-+]?\d+)?|nan|[-+]?inf"


class _Sentence(NamedTuple):
    """One kind of sentence: its code, patterns of its parts, and kinds of its gaps."""

    code: str
    what: re.Pattern[str]
    action: re.Pattern[str] | None
    kinds: Mapping[str, str]
    n_letters: int


@cache
def reason_told(text: str) -> Reason:
    """Return the reason that a sentence says."""
    for sentence in _sentences():
        if sentence.action is None and (found := sentence.what.fullmatch(text)):
            return _reason(sentence, found.groupdict())
    return Reason(TOLD_BEFORE, text=text)


@cache
def problem_told(what: str, action: str) -> Reason:
    """Return the reason of a problem that was stored as two sentences."""
    for sentence in _sentences():
        if sentence.action is None or not (found := sentence.what.fullmatch(what)):
            continue
        if done := sentence.action.fullmatch(action):
            return _reason(sentence, found.groupdict() | done.groupdict())
    return Reason(TOLD_BEFORE, text=f"{what} {action}".rstrip())


def result_in_codes(row: Mapping[str, str]) -> dict[str, str]:
    """Return refusal, problems, facts, cycles and layout of a result, with codes for sentences."""
    problems, facts, cycles, layout = (
        json.loads(row[name]) for name in ("problems", "facts", "cycles", "layout")
    )
    for walk in facts.get("walks", ()):
        walk["is_part_of_sheet"] = walk["part"].startswith("condition ")
    for cycle in cycles:
        for name in ("reject_reasons", "review_reasons"):
            cycle[name] = [as_plain(reason_told(each)) for each in cycle[name]]
    if layout:
        layout["version"] = 2
        layout["reasons"] = [as_plain(reason_told(e)) if e else None for e in layout["reasons"]]
        layout["labels"] = [
            [as_plain(reason_told(each)) for each in labels.split("\n") if each]
            for labels in layout["labels"]
        ]
    refusal = {"code": TOLD_BEFORE, "text": row["refusal"], "where": ""}
    return {
        "refusal": json.dumps(refusal) if row["refusal"] else "",
        "problems": json.dumps([_problem(**problem) for problem in problems]),
        "facts": json.dumps(facts),
        "cycles": json.dumps(cycles),
        "layout": json.dumps(layout),
    }


def _problem(level: str, what: str, where: str, action: str) -> dict[str, Any]:
    return {"level": level, "reason": as_plain(problem_told(what, action)), "where": where}


def counts_in_codes(reasons: str) -> str:
    """Return the reasons of a walk value, with codes for sentences."""
    told = json.loads(reasons)
    return json.dumps([{"reason": as_plain(reason_told(why)), "n": n} for why, n in told.items()])


def _reason(sentence: _Sentence, gaps: Mapping[str, str]) -> Reason:
    filled = {name: _KINDS[sentence.kinds[name]].read(text) for name, text in gaps.items()}
    return Reason(sentence.code, **filled)


@cache
def _table() -> dict[str, Any]:
    path = files("gaittrack.study") / "sentences_until_version_4.toml"
    return tomllib.loads(path.read_text(encoding="utf-8"))


@cache
def _sentences() -> tuple[_Sentence, ...]:
    """Return every known sentence, those with most words of their own first."""
    found = [_sentence(**row) for row in _table()["sentence"]]
    return tuple(sorted(found, key=lambda each: -each.n_letters))


def _sentence(code: str, what: str, action: str | None = None) -> _Sentence:
    kinds: dict[str, str] = {}
    n_letters = 0
    patterns = []
    for part in (what, action):
        pattern = ""
        seen: set[str] = set()
        for letters, name, kind, _ in string.Formatter().parse(part or ""):
            pattern += re.escape(letters)
            n_letters += len(letters)
            if name is not None:
                kinds[name] = kind or "text"
                gap = f"(?P<{name}>{_KINDS[kinds[name]].pattern})"
                pattern += f"(?P={name})" if name in seen else gap
                seen.add(name)
        patterns.append(re.compile(pattern, re.DOTALL))
    return _Sentence(code, patterns[0], None if action is None else patterns[1], kinds, n_letters)


class _Kind(NamedTuple):
    """What stands in a gap: how it looks, and how it is read."""

    pattern: str
    read: Callable[[str], Parameter]


def _key(text: str) -> str:
    return text.replace(" ", "_")


def _signal(text: str) -> Parameter:
    """Return the key of an angle or point; a nested reason for an angle of the file."""
    angles: dict[str, str] = _table()["angles"]
    if text in angles:
        return angles[text]
    return reason_told(text) if text.startswith("the file's ") else _key(text)


def _each(read: Callable[[str], Parameter], separator: str) -> Callable[[str], Parameter]:
    return lambda text: tuple(map(read, text.split(separator)))


_KINDS: Final[Mapping[str, _Kind]] = {
    "text": _Kind(".*", str),
    "name": _Kind(r"\w+", str),
    "term": _Kind(r"[a-z0-9 -]+", _key),
    "joint": _Kind("knee|ankle", "{}_joint".format),
    "number": _Kind(_NUMBER, float),
    "integer": _Kind(r"[-+]?\d+", int),
    "quoted": _Kind(r"'.*'|\".*\"", ast.literal_eval),
    "angle": _Kind(r"[a-z]+ angle(?: \([a-z-]+\))?|foot pitch|shank lean|pelvic [a-z]+", _signal),
    "signal": _Kind(r"[a-z ()-]+", _signal),
    "signals": _Kind(".+", _each(_signal, ", ")),
    "list": _Kind(".+", _each(str, ", ")),
    "reason": _Kind(".+", reason_told),
    "reasons": _Kind(".+", _each(reason_told, "; ")),
}

"""Reasons in the cells of a table: whole inside of the laboratory, their codes in an export.

In come reasons, out come cells. A whole one is JSON, so that a screen can say it with its figures.
What leaves holds codes only: no parameter, since a parameter may be text that somebody typed.
"""

from __future__ import annotations

import json
import math
import re
import string
from collections import Counter
from collections.abc import Iterable, Mapping
from functools import cache, lru_cache
from typing import Any, Final

import pandas as pd

from gaittrack.measures import MEASURES
from gaittrack.reasons import Parameter, Reason, as_plain, from_plain
from gaittrack.vocabulary import (
    CONTACT_TYPES,
    EVENT_KINDS,
    EVENT_SOURCES,
    JOINTS,
    LANDMARKS,
    SIDES,
)
from gaittrack.words import ENGLISH, sentences

BETWEEN: Final = "; "
MOST_KEPT: Final = 65_536
"""Reasons whose cell is kept; own choice: parameters make ever new ones of a large cohort."""
_WORDS: Final = frozenset(
    {*SIDES, *JOINTS, *EVENT_KINDS, *EVENT_SOURCES, *CONTACT_TYPES, *LANDMARKS}
    | {measure.name for measure in MEASURES}
)
"""Texts in parameters that are words of this program, whoever typed what."""
_NO_REASONS: Final = ("terms", "person")
"""Tables of words that no reason has."""
_CODED: Final = re.compile(r"[a-z0-9_(), ;]*")
_CODE: Final = re.compile(r"[a-z][a-z0-9_]*")


def packed(*reasons: Reason | None) -> str:
    """Return a cell that holds reasons whole; empty without any."""
    found = [as_plain(reason) for reason in reasons if reason is not None]
    return json.dumps(found, separators=(",", ":")) if found else ""


def unpacked(cell: str) -> tuple[Reason, ...]:
    """Return the reasons of a cell that :func:`packed` gave."""
    return tuple(map(from_plain, json.loads(cell))) if cell else ()


@lru_cache(MOST_KEPT)
def code_of(reason: Reason) -> str:
    """Return the code of a reason, those of the reasons within it in brackets."""
    within = [code_of(each) for _, value in reason.parameters for each in _reasons_in(value)]
    return f"{reason.code}({', '.join(within)})" if within else reason.code


def _reasons_in(value: Parameter) -> list[Reason]:
    if isinstance(value, Reason):
        return [value]
    return [each for one in value for each in _reasons_in(one)] if isinstance(value, tuple) else []


def parameters_of(reason: Reason) -> str:
    """Return a cell that holds the parameters of a reason as JSON; empty without any.

    Numbers, words of this program and codes of reasons within; no other text leaves.
    """
    found = {name: _leaving(value) for name, value in reason.parameters}
    known = {name: value for name, value in found.items() if value not in (None, [])}
    return json.dumps(known, allow_nan=False) if known else ""


def _leaving(value: Parameter) -> Any:
    if isinstance(value, Reason):
        return code_of(value)
    if isinstance(value, tuple):
        return [each for each in map(_leaving, value) if each is not None]
    if isinstance(value, str):
        return value if value in _WORDS else None
    return value if math.isfinite(value) else None


def coded(reasons: Iterable[Reason]) -> str:
    """Return a cell that holds the codes of reasons, each once."""
    return BETWEEN.join(dict.fromkeys(map(code_of, reasons)))


def counted(codes: Counter[str]) -> str:
    """Return a cell that holds codes with their numbers."""
    return BETWEEN.join(f"{code} ({count})" for code, count in sorted(codes.items()))


def left_of(cell: str) -> str:
    """Return what leaves of a cell: its codes.

    Raises
    ------
    ValueError
        It holds something else.
    """
    codes = coded(unpacked(cell)) if cell.startswith('[{"code":') else cell
    strange = codes_in(codes) - _known_codes()
    if strange or not _CODED.fullmatch(codes):
        raise ValueError(f"a cell of reasons may not hold {sorted(strange) or codes!r}")
    return codes


def codes_in(cell: str) -> set[str]:
    """Return every code in a cell of codes."""
    return set(_CODE.findall(cell))


@cache
def _known_codes() -> frozenset[str]:
    return frozenset(sentences(ENGLISH)) - set(_NO_REASONS)


def explained(codes: Iterable[str]) -> pd.DataFrame:
    """Return what each code means: its English sentence, with its gaps named in braces."""
    rows = [{"code": code, "meaning": _sentence(code)} for code in sorted(codes)]
    return pd.DataFrame(rows, columns=["code", "meaning"])


def _sentence(code: str) -> str:
    found: Any = sentences(ENGLISH)[code]
    for part in ("what", "many"):
        if isinstance(found, Mapping):
            found = found.get(part, found)
    parts = string.Formatter().parse(found)
    return "".join(text + (f"{{{name}}}" if name else "") for text, name, _, _ in parts)

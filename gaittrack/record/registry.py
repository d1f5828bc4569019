"""Every fact that can be recorded: one line of ``facts.csv`` each.

Nothing comes in, out go :class:`Fact` objects by the name under which they are stored. A fact of a
leg is stored twice, as ``left_tone`` and ``right_tone``.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from typing import Any, Final, Literal, cast

from gaittrack.record.closed_lists import LISTS, NOT_TESTED, OTHER
from gaittrack.record.published_errors import told_errors
from gaittrack.vocabulary import SIDES, Side

Of = Literal["person", "visit", "leg", "brace", "setting", "condition", "aim"]
Kind = Literal[
    "choice",
    "word",
    "several",
    "repeats",
    "ratings",
    "number",
    "whole",
    "date",
    "yes/no",
    "note",
]
"""``choice``: a word of its list and no other; ``word``: another one is kept as it was written and
asked about; ``several``: words of its list with commas between; ``repeats``: numbers with
semicolons between, or why there are none; ``ratings``: a level for each aim by its code; ``note``:
text that stays in the laboratory and never becomes a category."""
Leaves = Literal["as is", "banded", "banded in exports", "never"]
"""``banded`` leaves the record in bands; ``banded in exports`` stays a number inside of the
laboratory, where comparisons need it."""
Asked = Literal["at once", "folded", "computed", "of the recording"]


@dataclass(frozen=True, slots=True)
class Fact:
    """One fact.

    Attributes
    ----------
    name : str
        As it is stored, in files and in forms.
    list : str
        Of its words; empty where it has none.
    unit : str
        UCUM; empty for words.
    low, high : float or None
        Beyond these a number is a slip of unit or of a key.
    leaves : str
        How it may leave the laboratory.
    bands : tuple of float
        Lower ends of the bands in which it leaves.
    step : float
        To what it is rounded when it leaves; 0 where it is not.
    counts : bool
        Others can know it: it counts among what people are told apart by.
    asked : str
        In forms at once, folded away, or not at all.
    is_carried : bool
        Whether it is proposed as it was at the next visit.
    error : str
        Smallest change that exceeds measurement error, of whom, with its source.
    side : Side or None
        Of a leg.
    plain : str
        Name without the leg.
    """

    name: str
    of: Of
    kind: Kind
    list: str
    unit: str
    low: float | None
    high: float | None
    leaves: Leaves
    bands: tuple[float, ...]
    step: float
    counts: bool
    asked: Asked
    is_carried: bool
    source: str
    error: str
    side: Side | None = None
    plain: str = ""

    @property
    def words(self) -> tuple[str, ...]:
        """What may be chosen: the words of its list, and that a leg was not tested."""
        own = LISTS[self.list] if self.list else ()
        if self.of == "leg":
            return (*own, NOT_TESTED)
        return (*own, OTHER) if self.kind == "word" else own

    @property
    def leaving_words(self) -> tuple[str, ...]:
        """Every word that can stand for it in an export; empty for what is no word."""
        if self.bands:
            return ladder_words(self.bands)
        return tuple(dict.fromkeys((*self.words, OTHER))) if self.list else ()


@cache
def band_words(starts: tuple[float, ...]) -> tuple[str, ...]:
    """Return what bands are called: ``100-119`` and so on, the last one open.

    Where they are narrow, or begin below zero or between whole numbers: ``-10 to below -5``.
    """
    pairs = list(zip(starts[:-1], starts[1:], strict=True))
    are_narrow = any(high - low <= 1 or low % 1 or high % 1 for low, high in pairs)
    closed = [
        f"{low:g} to below {high:g}" if are_narrow or low < 0 else f"{low:g}-{high - 1:g}"
        for low, high in pairs
    ]
    if starts[0] < 0:
        closed[0] = f"below {pairs[0][1]:g}"
    return (*closed, f"{starts[-1]:g}+")


@cache
def ladder_of(starts: tuple[float, ...]) -> tuple[tuple[float, ...], ...]:
    """Return ever coarser bands: each time every second start, down to two bands."""
    return (starts, *ladder_of(starts[::2])) if len(starts) > 2 else (starts,)


@cache
def ladder_words(starts: tuple[float, ...]) -> tuple[str, ...]:
    """Return what the bands of a whole ladder are called, each once."""
    return tuple(dict.fromkeys(word for each in ladder_of(starts) for word in band_words(each)))


def _number(cell: str) -> float | None:
    return float(cell) if cell else None


def _fact(row: Mapping[str, str]) -> Fact:
    is_step = row["bands"].startswith("step ")
    given: Any = {key: row[key] for key in ("name", "of", "kind", "list", "unit", "leaves")}
    return Fact(
        **given,
        low=_number(row["low"]),
        high=_number(row["high"]),
        bands=() if is_step else tuple(map(float, row["bands"].split())),
        step=float(row["bands"].removeprefix("step ")) if is_step else 0.0,
        counts=row["counts"] == "yes",
        asked=cast(Asked, row["asked"]),
        is_carried=row["carried"] == "yes",
        source=row["source"],
        error=told_errors(row["name"], row["unit"]),
        plain=row["name"],
    )


def _facts() -> Iterator[Fact]:
    text = (files("gaittrack.record") / "facts.csv").read_text(encoding="utf-8")
    yield from map(_fact, csv.DictReader(text.splitlines()))


def leg_name(side: str, plain: str) -> str:
    """Return the name under which a fact of a leg is stored."""
    return f"{side}_{plain}"


OF_BRACE: Final = ("brace", "setting")
"""Parts of a brace: the thing, and what a change makes another one of."""
LINES: Final = tuple(_facts())
"""As they stand in the file: a fact of a leg once."""
_PERSON: Final = {fact.name: fact for fact in LINES if fact.of == "person"}
LEG: Final = {fact.name: fact for fact in LINES if fact.of == "leg"}
"""Facts of a leg by their plain names."""
_OF_LEGS: Final = [
    replace(fact, name=leg_name(side, fact.name), side=side)
    for side in SIDES
    for fact in LEG.values()
]
_VISIT: Final = {fact.name: fact for fact in LINES if fact.of == "visit"} | {
    fact.name: fact for fact in _OF_LEGS
}
CONDITION: Final = {fact.name: fact for fact in LINES if fact.of in ("condition", *OF_BRACE)}
"""What is recorded of a condition; of its brace and the setting too, which a condition names or,
where it names none, describes itself."""
FACTS: Final[Mapping[str, Mapping[str, Fact]]] = {
    "person": _PERSON,
    "visit": _VISIT,
    "condition": CONDITION,
    **{part: {f.name: f for f in LINES if f.of == part} for part in (*OF_BRACE, "aim")},
}
"""What is stored of each, by name; of a visit also what is of a leg."""


def fact_of(part: str, name: str) -> Fact:
    """Return a fact by its stored name, or the line of a leg by its plain one."""
    return FACTS[part].get(name) or LEG[name]

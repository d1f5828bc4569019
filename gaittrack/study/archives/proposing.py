"""Patterns that would fit a tree, found from its names alone.

In come paths below the folder that was given, out come patterns by which each of them says a
person, and what was worn or a trial; each was tried on all paths before it is proposed.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from gaittrack.errors import GaitTrackError
from gaittrack.said_days import said_day, whole_day
from gaittrack.study.archives.guessing import (
    day_in_order,
    said_worn,
    says_standing,
)
from gaittrack.study.archives.path_patterns import PathPattern, without_ending

_VISIT: Final = re.compile(
    r"((visit|vis|v|session|sess|s|termin|t|besuch|day|tag|visite|visita|pre|post|baseline|base|fu"
    r"|m|month|monat|mois|mes|w|week|follow[ _-]?up)[ _.-]*)?\d{1,3}"
    r"|pre|post|baseline|follow[ _-]?up",
    re.IGNORECASE,
)
_SPECIAL: Final = re.compile(r"[\[\]{}*]")
_FIELD: Final = re.compile(r"([_ ]+|(?<!\d)-|-(?!\d))")
_ENDING_NUMBER: Final = re.compile(r"(.*?)([_\- ]*)(\d+)")
_NUMBER_FIRST: Final = re.compile(r"(\d{1,4})([^\W\d_].*)")
_MOST_TRIED: Final = 2000
"""Paths on which a proposal is tried; own choice."""
_MOST_CONDITIONS: Final = 12
"""What has more names in a tree is no condition; own choice."""
_NUMBER: Final = "#*"


@dataclass(slots=True)
class _Column:
    """The names that stand in one place of all paths, what comes after, and what that place is."""

    values: Sequence[str]
    after: str = "/"
    kind: str = ""
    form: str = ""

    def __post_init__(self) -> None:
        """Tell what the names are by themselves."""
        self.kind, self.form = _kind(set(self.values))

    @property
    def varies(self) -> bool:
        return len(set(self.values)) > 1

    def text(self, part: str, *, has_forms: bool) -> str:
        """Return how the column is written: as a part, as what it always is, or as anything."""
        if part:
            shapes = {re.sub(r"\d", "#", value) for value in self.values}
            form = self.form or (shapes.pop() if has_forms and len(shapes) == 1 else "")
            if part == "date" and not self.form:
                is_all = all(map(whole_day, self.values))
                return "{date}" if is_all else "*{date}*"
            return f"{{{part}:{form}}}" if form else f"{{{part}}}"
        return "*" if self.varies or _SPECIAL.search(self.values[0]) else self.values[0]


def proposed_patterns(paths: Sequence[str]) -> list[str]:
    """Return patterns that together fit all paths, each in one way; none where that fails.

    Parameters
    ----------
    paths : sequence of str
        Below the folder that was given, parts separated by ``/``.
    """
    by_depth: dict[int, list[str]] = {}
    for path in paths:
        by_depth.setdefault(path.count("/"), []).append(path)
    found = [_of_depth(own) for _, own in sorted(by_depth.items())]
    return found if all(found) else []


def _of_depth(paths: Sequence[str]) -> str:
    """Return the first draft that fits, the plainest first."""
    tried = paths[:: max(1, len(paths) // _MOST_TRIED)]
    drafts = (_drafted(tried, has_forms=has_forms) for has_forms in (False, True))
    return next((text for text in drafts if text and _fits(text, tried)), "")


def _fits(text: str, paths: Sequence[str]) -> bool:
    try:
        pattern = PathPattern(text)
        return all(len(pattern.readings(path)) == 1 for path in paths)
    except GaitTrackError:
        return False


def _drafted(paths: Sequence[str], *, has_forms: bool) -> str:
    rows = [without_ending(path)[0].split("/") for path in paths]
    folders = [
        column
        for level in zip(*(row[:-1] for row in rows), strict=True)
        for column in _folder(level)
    ]
    fields, rests = _split([row[-1] for row in rows], folders)
    columns = [*folders, *fields]
    parts = _parts(columns, n_folders=len(folders), has_end=_holds_conditions(rests))
    if "person" not in parts:
        return ""
    stands_at = {tuple(columns[n].values): part for n, part in enumerate(parts) if part}
    parts = [stands_at.get(tuple(each.values), "") for each in columns]
    texts = [
        column.text(part, has_forms=has_forms) + column.after
        for column, part in zip(columns, parts, strict=True)
    ]
    return "".join(texts) + _end(rests, is_known="condition" in parts, has_forms=has_forms)


def _folder(values: Sequence[str]) -> list[_Column]:
    """Return one level of folders, taken apart where days or what was worn stand among others."""
    whole = _Column(values)
    pieces = [_FIELD.split(value) for value in values]
    alike = {tuple(own[1::2]) for own in pieces}
    is_day = whole.kind == "date" and (whole.form or all(map(whole_day, values)))
    if whole.kind in ("condition", "visit") or is_day or len(alike) > 1:
        return [whole]
    separators = [*alike.pop(), "/"]
    columns = [_Column([own[2 * n] for own in pieces], after) for n, after in enumerate(separators)]
    return columns if {each.kind for each in columns} & {"date", "condition"} else [whole]


def _kind(distinct: Collection[str]) -> tuple[str, str]:
    """Return what the names of one place are, a date with the order of its numbers."""
    if all(map(said_day, distinct)):
        return "date", ""
    orders = [o for o in ("ymd", "dmy", "mdy") if all(day_in_order(v, o) for v in distinct)]
    if "dmy" in orders and all("." in value for value in distinct):
        orders = ["dmy"]
    if len(orders) == 1:
        return "date", orders[0]
    if _worn_in(distinct) and all(said_worn(v) or says_standing(v) for v in distinct):
        return "condition", ""
    if all(_VISIT.fullmatch(v) for v in distinct) and not all(map(str.isdigit, distinct)):
        return "visit", ""
    return "", ""


def _worn_in(names: Iterable[str]) -> bool:
    return any(map(said_worn, names))


def _split(stems: Sequence[str], folders: Sequence[_Column]) -> tuple[list[_Column], list[str]]:
    """Take the names of files apart up to where what was worn begins; the rest stays whole."""
    known = {column.kind for column in folders}
    has_people = any(column.varies and not column.kind for column in folders)
    pieces = [_FIELD.split(stem) for stem in stems] if has_people else _apart(stems)
    shortest = min(map(len, pieces))
    columns: list[_Column] = []
    if not ("condition" in known and known & {"visit", "date"}):
        while 2 * len(columns) + 2 < shortest:
            place = 2 * len(columns)
            apart = {own[place + 1] for own in pieces}
            column = _Column([own[place] for own in pieces], min(apart))
            if len(apart) > 1 or column.kind == "condition" or _worn_in(column.values):
                break
            columns.append(column)
    return columns, ["".join(own[2 * len(columns) :]) for own in pieces]


def _apart(stems: Sequence[str]) -> list[list[str]]:
    """Take names apart, also at the letters behind a number that all of them begin with."""
    numbered = [_NUMBER_FIRST.fullmatch(stem) for stem in stems]
    if not all(numbered):
        return [_FIELD.split(stem) for stem in stems]
    return [[own[1], "", *_FIELD.split(own[2])] for own in numbered if own is not None]


def _parts(columns: Sequence[_Column], *, n_folders: int, has_end: bool) -> list[str]:
    """Return which part each column is; empty for one that is none."""
    parts = [""] * len(columns)
    for kind in ("date", "condition", "visit"):
        own = [place for place, column in enumerate(columns) if column.kind == kind]
        if own:
            parts[own[-1] if kind == "condition" else own[0]] = kind
    person = _person(columns, parts)
    if person is None:
        return parts
    parts[person] = "person"
    free = [n for n, each in enumerate(columns) if not parts[n] and each.varies]
    if "condition" not in parts and not has_end:
        few = [n for n in free if len(set(columns[n].values)) <= _MOST_CONDITIONS]
        if few:
            parts[few[-1]] = "condition"
            free.remove(few[-1])
    if free and free[0] < n_folders and "visit" not in parts and "date" not in parts:
        parts[free[0]] = "visit"
    return parts


def _person(columns: Sequence[_Column], parts: Sequence[str]) -> int | None:
    """Return the column of people: codes that vary, a lone code, what varies, or the visits'."""
    free = [(n, column) for n, column in enumerate(columns) if not parts[n]]
    varying = [(n, column) for n, column in free if column.varies]
    codes = [n for n, column in varying if all(map(_is_code, column.values))]
    lone = [n for n, column in free if not column.varies and _is_code(column.values[0])]
    visits = [n for n, part in enumerate(parts) if part == "visit"]
    return next(iter([*codes, *lone, *(n for n, _ in varying), *visits]), None)


def _is_code(name: str) -> bool:
    return bool(re.fullmatch(r"[^\W\d_]{1,8}[-_ ]?\d{1,6}", name))


def _holds_conditions(rests: Sequence[str]) -> bool:
    """Tell whether ends of names say what was worn, or have a few words before their numbers."""
    ends = [_ENDING_NUMBER.fullmatch(rest) for rest in rests if not says_standing(rest)]
    words = {match[1].casefold() for match in ends if match is not None} - {""}
    return _worn_in(rests) or (all(ends) and 1 < len(words) <= _MOST_CONDITIONS)


def _end(rests: Sequence[str], *, is_known: bool, has_forms: bool) -> str:
    """Return the end of the names: what was worn, if that is not known, and the trial's number."""
    if is_known or not _holds_conditions(rests):
        return "{trial}"
    ends = [_ENDING_NUMBER.fullmatch(rest) for rest in rests]
    separators = {match[2] for match in ends if match is not None}
    if len(separators) != 1:
        return "{condition}"
    separator = separators.pop()
    trial = separator + (f"{{trial:{_NUMBER}}}" if has_forms and separator else "{trial}")
    return "{condition}" + (trial if all(ends) else f"[{trial}]")

"""How large the sheets of the page for the file are printed, so that each keeps to one sheet.

In comes what stands on a sheet, out comes a share of the full size. A sheet is reckoned in lines:
how many characters go into one was counted on printed sheets.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any, Final

_FIRST_LINES, _SECOND_LINES = 59.0, 59.0
"""Lines of body text that a sheet holds at full size."""
_SMALLEST: Final = 0.58
_NARROW: Final = 1.3
"""How much longer an examination is whose cells are as narrow as those of three visits."""
_SAID, _MORE, _ROW, _HALF, _FINE = 82, 110, 66, 50, 82
"""Characters in a line: of the first sentence, of the others, of a question, of half a sheet, of
the small print of half a sheet."""


def first_fit(sheet: Mapping[str, Any]) -> float:
    """Return how large the first sheet is printed; 1 is full size."""
    first, *more = sheet["sentences"]
    n_columns = max(len(told) for *_, told in sheet["questions"])
    questions = sum(
        max(_lines(each.words, _ROW / n_columns - 3) for each in told) * 1.2
        for *_, told in sheet["questions"]
    )
    aims = sum(
        max(_lines(what, 40), _lines(reached, 34)) * 1.35 for what, reached, _ in sheet["aims"]
    )
    worn: float = sum(max(_lines(label, 19), _lines(text, 28)) for label, text in sheet["worn"])
    heads, lines = sheet["examined"]
    label = 26 if len(heads) <= 3 else 16
    cell = (_HALF - label) / max(len(heads) - 1, 1)
    examined = sum(
        max(_lines(name, label), *(_lines(text, cell) for text in cells)) * 1.2
        for name, *cells in lines
    )
    examined *= _NARROW if len(heads) > 5 else 1.0
    told = 1.35 * _lines(first, _SAID) + _all_lines(more, _MORE) + questions + aims
    return _share(told + max(worn, examined) + 13, _FIRST_LINES)


def second_fit(sheet: Mapping[str, Any]) -> float:
    """Return how large the second sheet is printed; 1 is full size."""
    results = sum(
        1.25 * max(_lines(f"{each.question} {each.measure}", 52), len(each.cells) > 1)
        for each in sheet["results"]
    )
    if any(len(each.cells) > 1 for each in sheet["results"]):
        results *= 2.7 if any(len(each.cells) > 2 for each in sheet["results"]) else 1.8
    unrecorded = ", ".join(sheet["unrecorded"])
    untold = _all_lines([*sheet["untold"], unrecorded], _HALF)
    known = max(untold, _all_lines(sheet["looked_at"], _HALF))
    fine = [*sheet["measured"], *(f"{names}: {source}" for source, names in sheet["errors"])]
    small = 0.7 * _all_lines(fine, _FINE) / 2
    notes = _all_lines(
        [
            sheet["walks"],
            "; ".join(sheet["doubts"]),
            " ".join([*sheet["other_leg"], sheet["typical"]]),
        ],
        _MORE,
    )
    everyday = 1.1 * _all_lines(sheet["everyday"], _MORE) + 2.5 * bool(sheet["everyday"])
    return _share(results + known + small + notes + everyday + 17, _SECOND_LINES)


def _lines(text: str, width: float) -> int:
    return max(1, math.ceil(len(text) / max(width, 8)))


def _all_lines(texts: Iterable[str], width: float) -> int:
    return sum(_lines(text, width) for text in texts)


def _share(n_lines: float, holds: float) -> float:
    share = float(min(1.0, max(_SMALLEST, (holds / n_lines) ** 0.75)))
    return round(share, 3)

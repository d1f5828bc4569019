"""Frames a second of sheets that do not say them, told once and remembered by their columns.

In come the columns of sheets and a rate, out come maps of the laboratory that such sheets take.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable
from itertools import count
from typing import Final

from gaittrack.errors import StudyError
from gaittrack.study.named_maps import keep_map, map_texts
from gaittrack.study.store import Study

SLOWEST_HZ: Final = 10.0
FASTEST_HZ: Final = 2000.0
"""Own choice: no recording of gait is slower or faster."""


def remember_rate(
    study: Study, sheets: Iterable[tuple[str, ...]], rate_hz: float | None, *, who: str
) -> None:
    """Remember how many frames a second sheets hold.

    Parameters
    ----------
    sheets : iterable of tuple of str
        Columns of each sheet; those with the same columns share a map.

    Raises
    ------
    StudyError
        That is no rate.
    """
    if rate_hz is None or not SLOWEST_HZ <= rate_hz <= FASTEST_HZ:
        raise StudyError.of(
            "no_rate_of_sheets",
            where="form",
            given="nothing" if rate_hz is None else f"{rate_hz:g}",
            slowest=SLOWEST_HZ,
            fastest=FASTEST_HZ,
        )
    for columns in dict.fromkeys(sheets):
        text = f"[fits]\nlabels = {_words(columns)}\n\n[sheet]\nrate_hz = {float(rate_hz)!r}\n"
        with study.read() as connection:
            name = _free_name(f"{rate_hz:g} frames a second", map_texts(connection))
        keep_map(study, name, text, who=who, why="said of sheets that do not hold it")


def _words(columns: Iterable[str]) -> str:
    return json.dumps(list(columns), ensure_ascii=False)


def _free_name(wanted: str, taken: Collection[str]) -> str:
    names = (wanted if n == 1 else f"{wanted} {n}" for n in count(1))
    return next(name for name in names if name not in taken)

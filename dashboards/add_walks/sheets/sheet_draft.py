"""What the columns of a sheet are, while somebody says it on a screen.

In comes what was seen of sheets, out come plain values that a browser keeps, what an act makes of
them, and the map that they are. What comes back from a browser is only words: it is checked as any
map when it is kept.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

import numpy as np

from dashboards.add_walks.labels.map_draft import free_name
from dashboards.add_walks.look_and_store import Looked
from gaittrack.errors import GaitTrackError, SheetDoubtError, StudyError
from gaittrack.lab_map import NOT_WANTED, LabMap
from gaittrack.part_names import on_disk
from gaittrack.read.sheet_look import SheetLook, look_at_sheet
from gaittrack.read.sheets.sheet_question import ASKED, SeenColumn, map_text
from gaittrack.vocabulary import JOINTS

SheetDraft = dict[str, Any]
"""``file``, ``n`` (files with these columns), ``names``, ``doubts``, ``rows`` and ``header`` (the
first rows as they stand there, and which of them names the columns), ``keys``, ``words``,
``columns`` (each ``name``, ``first``, ``guess``, ``joint``, ``side``, ``sign``, ``zero_deg``,
``cycle``, ``condition``, ``is_mean``) and ``name``, of the map."""
_MOST_LOOKED_AT: Final = 24
"""Sheets that are looked at for one question; own choice."""
_NEW: Final = "angle sheets"
TOE_OFF: Final = "toe_off_percent"
KEYS: Final = ("layout", "unit", "rate_hz", TOE_OFF)
"""What can always be said of a sheet; other keys of a map where they are asked for."""
_OWN: Final = ("joint", "side", "sign", "zero_deg", "cycle", "condition")


def draft_of_sheets(looks: Sequence[Looked], maps: Sequence[LabMap]) -> SheetDraft | None:
    """Return the sheet to ask about: of those that cannot be read, the kind most of them are."""
    paths = dict.fromkeys(
        one.row.path for one in looks if is_asked_about(one) and on_disk(one.row.path).is_file()
    )
    seen: dict[tuple[str, ...], list[tuple[Path, SheetLook]]] = {}
    for path in list(paths)[:_MOST_LOOKED_AT]:
        try:
            look = look_at_sheet(path, maps)
        except (GaitTrackError, OSError):
            continue
        seen.setdefault(look.names, []).append((path, look))
    if not seen:
        return None
    alike = max(seen.values(), key=len)
    path, look = alike[0]
    return {
        "file": next(one.name for one in looks if one.row.path == path),
        "n": len(alike),
        "names": list(look.names),
        "doubts": list(look.doubts),
        "rows": [[number, list(row)] for number, row in look.rows],
        "header": look.header,
        "keys": {key: value for key, value in look.keys.items() if value is not None},
        "words": {key: list(words) for key, words in look.words.items()},
        "columns": [_column(one) for one in look.columns],
        "name": free_name(maps, _NEW),
    }


def is_asked_about(one: Looked) -> bool:
    """Whether a file is a sheet of which a person must say what its columns are."""
    return isinstance(one.error, SheetDoubtError) and not one.lacks_rate


def _column(one: SeenColumn) -> dict[str, Any]:
    joint = one.joint if one.is_wanted else NOT_WANTED
    return {
        "name": one.name,
        "first": [None if math.isnan(value) else float(value) for value in one.values],
        "guess": one.guess,
        "joint": joint or ASKED,
        "side": one.side or ASKED,
        "sign": ASKED if one.sign is None else one.sign,
        "zero_deg": ASKED if one.zero_deg is None else one.zero_deg,
        "cycle": one.cycle,
        "condition": one.condition,
        "is_mean": one.is_mean,
    }


def after(draft: SheetDraft, press: Mapping[str, Any]) -> SheetDraft:
    """Return the draft after what was chosen."""
    chosen = str(press.get("chosen", ""))
    match press.get("act"):
        case "name":
            return draft | {"name": chosen.strip()}
        case "key" if press.get("key") in draft["keys"] or press.get("key") in KEYS:
            return draft | {"keys": draft["keys"] | {press["key"]: _number(chosen)}}
        case "column" if press.get("key") in _OWN:
            columns = [dict(one) for one in draft["columns"]]
            n = press.get("n")
            if isinstance(n, int) and 0 <= n < len(columns):
                columns[n][press["key"]] = _number(chosen)
            return draft | {"columns": columns}
    return draft


def _number(given: str) -> object:
    try:
        number = float(given)
    except ValueError:
        return given
    return number if math.isfinite(number) else given


def what_is_open(draft: SheetDraft) -> list[str]:
    """Return what is still to be said, in words."""
    keys = [key for key, value in draft["keys"].items() if value == ASKED]
    if str(draft["keys"].get("layout")).startswith("cycles"):
        keys = [key for key in keys if key != "rate_hz"]
    columns = [
        f"{_SAID.get(key, key)} of {one['name']!r}"
        for one in draft["columns"]
        if one["joint"] != NOT_WANTED
        for key in ("joint", "side", "sign", "zero_deg", "cycle")
        if one[key] == ASKED and not (key == "side" and str(one["joint"]).startswith("pelvic"))
    ]
    return [_SAID.get(key, key.replace("_", " ")) for key in keys] + columns


_SAID: Final = {
    "layout": "over time or over the cycle",
    "rate_hz": "frames per second",
    "joint": "angle",
    "sign": "direction",
    "zero_deg": "neutral",
}


def map_of(draft: SheetDraft) -> str:
    """Return the map that the draft is.

    Raises
    ------
    StudyError
        Something is still to be said, or no column is wanted.
    """
    still = what_is_open(draft)
    if still:
        raise StudyError.of("sheet_not_said", where=draft["file"], still="; ".join(still))
    wanted = [one for one in draft["columns"] if one["joint"] in JOINTS]
    if not wanted:
        raise StudyError.of("no_column_wanted", where=draft["file"])
    keys = {key: value for key, value in draft["keys"].items() if value != ""}
    toe_off = keys.pop(TOE_OFF, None)
    seen = [replace(_seen(one), toe_off_percent=toe_off) for one in wanted]
    text = map_text(seen, keys, file_name=draft["file"])
    labels = json.dumps([one["name"] for one in wanted], ensure_ascii=False)
    return text if "[fits]" in text else f"[fits]\nlabels = {labels}\n\n{text}"


def _seen(one: Mapping[str, Any]) -> SeenColumn:
    return SeenColumn(
        str(one["name"]),
        np.empty(0),
        joint=str(one["joint"]),
        side="" if one["side"] == ASKED else str(one["side"]),
        sign=float(one["sign"]),
        zero_deg=float(one["zero_deg"]),
        cycle=_plain(one["cycle"]),
        condition="" if one["condition"] == ASKED else _plain(one["condition"]),
        is_mean=bool(one["is_mean"]),
    )


def _plain(value: object) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)

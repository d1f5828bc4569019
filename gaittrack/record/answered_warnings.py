"""Warnings that hold for every walk of a laboratory, as it has answered them once.

In comes a file with a table for each, out comes what was answered. Only what makes no value
untrusted and differs from no walk to the next may be answered: a marker that is only worn standing,
a heel nobody has, what the export always does.

    [[answered]]
    warning = "marker_never_seen left_inner_ankle"
    answer = "worn only in standing trials"
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from gaittrack.errors import LayoutError
from gaittrack.lab_files import read_toml, refuse_unknown, refuse_wrong_keys
from gaittrack.reasons import Reason

ANSWERABLE: Final[Mapping[str, tuple[str, ...]]] = {
    "marker_never_seen": ("landmark",),
    "no_heel": (),
    "no_body": (),
    "force_turned": (),
    "moments_scaled": ("factor",),
    "plate_left_out": ("why",),
    "analog_does_not_fit": (),
    "all_marked_missing": (),
    "columns_left_out": (),
    "labels_numbered": (),
    "rate_of_header": ("rate_hz",),
    "ankle_right_angle": ("zero_deg",),
    "right_angle_taken_off": ("zero_deg",),
    "event_times_from_first_frame": (),
}
"""Code of a problem to the parameters that tell one such warning from another."""
Answers = Mapping[str, str]
"""What :func:`warning_key` gives to what was answered."""
_TABLE: Final = "answered"
_KEYS: Final = ("warning", "answer")


def warning_key(reason: Reason) -> str | None:
    """Return what a warning is called in the answers; None for one that may not be answered."""
    if reason.code not in ANSWERABLE:
        return None
    return " ".join([reason.code, *(_word(reason[name]) for name in ANSWERABLE[reason.code])])


def _word(value: Any) -> str:
    return f"{value:g}" if isinstance(value, float) else getattr(value, "code", str(value))


def read_answers(path: Path) -> dict[str, str]:
    """Read what a laboratory has answered.

    Raises
    ------
    LayoutError
        Not readable, an unknown or missing key, or a warning that may not be answered.
    """
    action = "Give a TOML file with [[answered]] tables: warning and answer."
    table = read_toml(path, "file of answered warnings", action)
    refuse_unknown(table, (_TABLE,), path.name)
    found = {}
    for n, row in enumerate(table.get(_TABLE, []), 1):
        where = f"{path.name} [[{_TABLE}]] {n}"
        refuse_wrong_keys(row, _KEYS, _KEYS, where)
        refuse_unanswerable(row["warning"], where)
        found[row["warning"]] = str(row["answer"])
    return found


def refuse_unanswerable(key: str, where: str) -> None:
    """Refuse a warning that each walk must be looked at for.

    Raises
    ------
    LayoutError
    """
    code = str(key).partition(" ")[0]
    if code not in ANSWERABLE:
        raise LayoutError.of(
            "not_answerable", where=where, code=code, codes=", ".join(sorted(ANSWERABLE))
        )


def write_answers(answers: Answers) -> str:
    """Return answers as a file says them."""
    tables = [
        f"[[{_TABLE}]]\nwarning = {json.dumps(key)}\nanswer = {json.dumps(answer)}"
        for key, answer in sorted(answers.items())
    ]
    return "\n\n".join(tables) + "\n"

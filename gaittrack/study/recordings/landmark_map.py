"""Landmarks that somebody chose on a screen, kept in one of the laboratory's maps.

In come landmarks and labels, out comes the map with them, checked and kept as a setting of the
study; what else the map holds, comments included, stays.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Collection, Mapping
from typing import Any, Final

from gaittrack.errors import LayoutError
from gaittrack.lab_map import is_device, name_of_device
from gaittrack.study.named_maps import keep_map, map_texts
from gaittrack.study.store import Study

_HEAD: Final = "[landmarks]"


def keep_landmarks(
    study: Study,
    name: str,
    landmarks: Mapping[str, str],
    *,
    who: str,
    why: str,
    only: str = "",
    standing_only: Collection[str] | None = None,
) -> None:
    """Let a map name these landmarks and no others; a map that is not there yet is made.

    Parameters
    ----------
    landmarks : mapping of str to str
        Landmark to label.
    only : str
        A label, or a device as :func:`gaittrack.lab_map.device_name` says it; the map is for files
        that hold it. Empty: what the map says of that stays.
    standing_only : collection of str, optional
        Landmarks whose markers are worn only while standing; None: what the map says stays.

    Raises
    ------
    LayoutError
        A landmark is not known, a label is named twice, or the map is written in a way that cannot
        be changed.
    StudyError
        Nothing can be called so.
    """
    with study.read() as connection:
        before = map_texts(connection).get(name.strip(), "")
    text = with_landmarks(before, landmarks)
    if standing_only is not None:
        text = _standing_only_with(text, standing_only)
    keep_map(study, name, _only_with(text, only) if only else text, who=who, why=why)


def _standing_only_with(text: str, landmarks: Collection[str]) -> str:
    """Return a map's text that names landmarks worn only standing, in a line before any table."""
    wanted = sorted(landmarks)
    if tomllib.loads(text).get("standing_only", []) == wanted:
        return text
    rest = re.sub(r"(?m)^standing_only\s*=\s*\[[^\]]*\][ \t]*\n", "", text)
    found = f"standing_only = {json.dumps(wanted)}\n{rest}" if wanted else rest
    if tomllib.loads(found).get("standing_only", []) != wanted:
        raise LayoutError.of("map_cannot_be_added_to", where="map")
    return found


def _only_with(text: str, label: str) -> str:
    fits = tomllib.loads(text).get("fits")
    key, words = ("device", name_of_device(label)) if is_device(label) else ("labels", label)
    if fits == {key: [words]}:
        return text
    if fits is not None:
        raise LayoutError.of("map_cannot_be_added_to", where="map")
    return f"{text}\n[fits]\n{key} = [{json.dumps(words, ensure_ascii=False)}]\n"


def with_landmarks(text: str, landmarks: Mapping[str, str]) -> str:
    """Return a map's text with these landmarks in the place of its own.

    Parameters
    ----------
    text : str
        TOML; may be empty.

    Raises
    ------
    LayoutError
        The table of landmarks is written in a way that cannot be changed.
    """
    wanted = _without_prefix(tomllib.loads(text), landmarks)
    lines = text.splitlines()
    head = next((n for n, line in enumerate(lines) if line.split("#")[0].strip() == _HEAD), None)
    if head is None:
        head = len(lines)
        lines += [_HEAD]
    new = [f"{key} = {json.dumps(label, ensure_ascii=False)}" for key, label in wanted.items()]
    rest = lines[head + 1 :]
    end = next((n for n, line in enumerate(rest) if line.lstrip().startswith("[")), len(rest))
    kept = [line for line in rest[:end] if not _key(line)]
    found = "\n".join([*lines[: head + 1], *new, *kept, *rest[end:]]) + "\n"
    if _landmarks_in(found) != wanted:
        raise LayoutError.of("map_cannot_be_added_to", where="map")
    return found


def _without_prefix(table: Mapping[str, Any], landmarks: Mapping[str, str]) -> dict[str, str]:
    """Return labels as a map writes them that says what stands before each."""
    prefix = str(table.get("fits", {}).get("prefix", ""))
    if not all(label.startswith(prefix) for label in landmarks.values()):
        raise LayoutError.of("map_cannot_be_added_to", where="map")
    return {key: label.removeprefix(prefix) for key, label in landmarks.items()}


def _key(line: str) -> str:
    found = re.match(r"""\s*["']?([\w-]+)["']?\s*=""", line)
    return found.group(1) if found else ""


def _landmarks_in(text: str) -> object:
    try:
        return tomllib.loads(text).get("landmarks", {})
    except tomllib.TOMLDecodeError:
        return None

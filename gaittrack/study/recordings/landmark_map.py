"""Landmarks that somebody chose on a screen, remembered in the laboratory's map.

In come landmarks and labels, out comes the map with them, checked and kept as a setting of the
study; what else the map holds, comments included, stays.
"""

from __future__ import annotations

import json
import re
import tempfile
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Final

from sqlalchemy import select

from gaittrack.errors import LayoutError
from gaittrack.study.laboratory import MAP, set_setting
from gaittrack.study.store import Study
from gaittrack.study.tables import SETTING

_HEAD: Final = "[landmarks]"


def remember_landmarks(study: Study, landmarks: Mapping[str, str], *, who: str, why: str) -> None:
    """Put landmarks into the laboratory's map; results measured with the old one become stale.

    Parameters
    ----------
    landmarks : mapping of str to str
        Landmark to label.

    Raises
    ------
    LayoutError
        A landmark is not known, or the map is written in a way that cannot be added to.
    """
    with study.read() as connection:
        query = select(SETTING.c.file_name, SETTING.c.content).where(SETTING.c.name == MAP)
        before = connection.execute(query).first()
    text = with_landmarks(before.content if before else "", landmarks)
    with tempfile.TemporaryDirectory(prefix="gaittrack-") as folder:
        path = Path(folder) / (Path(before.file_name).name if before else "map.toml")
        path.write_text(text, encoding="utf-8")
        set_setting(study, MAP, path, who=who, why=why)


def with_landmarks(text: str, landmarks: Mapping[str, str]) -> str:
    """Return a map's text with landmarks added, or put in the place of those of the same name.

    Parameters
    ----------
    text : str
        TOML; may be empty.

    Raises
    ------
    LayoutError
        The table of landmarks is written in a way that cannot be added to.
    """
    wanted = tomllib.loads(text).get("landmarks", {}) | dict(landmarks)
    lines = text.splitlines()
    head = next((n for n, line in enumerate(lines) if line.split("#")[0].strip() == _HEAD), None)
    if head is None:
        head = len(lines)
        lines += [_HEAD]
    new = [f"{key} = {json.dumps(label, ensure_ascii=False)}" for key, label in landmarks.items()]
    rest = lines[head + 1 :]
    end = next((n for n, line in enumerate(rest) if line.lstrip().startswith("[")), len(rest))
    kept = [line for line in rest[:end] if _key(line) not in landmarks]
    found = "\n".join([*lines[: head + 1], *new, *kept, *rest[end:]]) + "\n"
    if _landmarks_in(found) != wanted:
        raise LayoutError.of("map_cannot_be_added_to", where="map")
    return found


def _key(line: str) -> str:
    found = re.match(r"""\s*["']?([\w-]+)["']?\s*=""", line)
    return found.group(1) if found else ""


def _landmarks_in(text: str) -> object:
    try:
        return tomllib.loads(text).get("landmarks", {})
    except tomllib.TOMLDecodeError:
        return None

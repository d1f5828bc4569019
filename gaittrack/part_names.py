"""How one of several recordings in a sheet is called: ``session#trial-2.csv``.

In comes a name or a path, out comes which recording it is of, and the file that lies on the disk.
People and recordings are counted from 1 in the order of the sheet; what they are called there is
not repeated.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Final

KINDS: Final = ("sheet", "table", "person", "trial")
"""What a recording may be one of, the widest first: sheets of a workbook, tables of numbers one
below the other, people, and recordings of one."""
_PART: Final = re.compile(rf"#({'|'.join(KINDS)})-([1-9]\d{{0,4}})")
_NAME: Final = re.compile(rf"(.+?)((?:{_PART.pattern})+)(\.[^.#]*)?", re.DOTALL)


def part_of(name: str) -> dict[str, int]:
    """Return which recording a name is of, by kind; empty for a whole file.

    Examples
    --------
    >>> part_of("session#person-2#trial-1.csv")
    {'person': 2, 'trial': 1}
    """
    found = _NAME.fullmatch(name)
    return {kind: int(number) for kind, number in _PART.findall(found[2])} if found else {}


def plain_name(name: str) -> str:
    """Return the name of the file that holds a recording.

    Examples
    --------
    >>> plain_name("session#trial-2.csv")
    'session.csv'
    """
    found = _NAME.fullmatch(name)
    return f"{found[1]}{found[5] or ''}" if found else name


def with_part(path: Path, part: Mapping[str, int]) -> Path:
    """Return the path by which one recording of a file is meant; the widest part stands first."""
    plain = path.with_name(plain_name(path.name))
    said = "".join(f"#{kind}-{part[kind]}" for kind in KINDS if kind in part)
    return plain.with_name(f"{plain.stem}{said}{plain.suffix}")


def on_disk(path: Path) -> Path:
    """Return the file in which a recording lies: the path itself where something is there."""
    return path if path.exists() else path.with_name(plain_name(path.name) or path.name)


def as_given(path: Path) -> Path:
    """Return the file of which a recording was taken apart, or the person's share of it.

    People are never taken apart unasked, so a path that names one was given so.
    """
    person = {kind: n for kind, n in part_of(path.name).items() if kind == "person"}
    return path if path.exists() else with_part(path, person)


def person_key(words: str) -> str:
    """Return what tells people apart by a code or name, and tells neither; empty for none.

    Capitals and what stands between letters and digits do not count.
    """
    plain = re.sub(r"[\W_]", "", words.casefold())
    return hashlib.sha256(plain.encode()).hexdigest() if len(plain) > 1 else ""


def recording_key(sha256: str, name: str) -> str:
    """Return what tells recordings apart by their bytes: of a file, and which one in it."""
    return "".join((sha256, *(f"#{kind}-{number}" for kind, number in part_of(name).items())))

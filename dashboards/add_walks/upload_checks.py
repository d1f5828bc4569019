"""What is looked at before a file that came from a browser is kept: its name and first bytes.

In come a name as the sender wrote it or a file, out come a name that can do no harm or what is
wrong with the file. The readers check again, and more.
"""

from __future__ import annotations

import re
import unicodedata
from pathlib import Path
from typing import Final

from gaittrack.read import READABLE_SUFFIXES

LONGEST_NAME: Final = 120
_RESERVED: Final = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)(\..*)?", re.IGNORECASE)
"""Names that one system takes for devices."""
_UNICODE_MARKS: Final = (b"\xff\xfe", b"\xfe\xff")
_FIRST_BYTES: Final = 4096
_C3D_KEY: Final = 0x50
_ZIP: Final = b"PK\x03\x04"


def plain_name(given: str) -> tuple[str, str]:
    """Return the folders and the name in what a sender calls a file.

    Parameters
    ----------
    given : str
        For example ``visit-1/with-brace/walk 1.c3d``; anything at all.

    Returns
    -------
    (str, str)
        Folders as words for the eye, and a name of letters, digits and ``._-()+`` and spaces, that
        is no hidden file and no device anywhere.
    """
    parts = re.split(r"[/\\]", unicodedata.normalize("NFC", given))
    clean = [re.sub(r"[^\w .()+-]", "_", part).strip(" .") for part in parts]
    name = clean[-1] or "file"
    stem, dot, suffix = name.rpartition(".")
    if dot and len(name) > LONGEST_NAME:
        name = f"{stem[: LONGEST_NAME - 10]}.{suffix[:9]}"
    name = name[:LONGEST_NAME]
    if _RESERVED.fullmatch(name):
        name = f"_{name}"
    return "/".join(part for part in clean[:-1] if part)[:LONGEST_NAME], name


def content_fault(path: Path) -> str:
    """Return why a file cannot be what its name says; empty when it may be."""
    suffix = path.suffix.lower()
    if suffix not in READABLE_SUFFIXES:
        known = ", ".join(sorted(READABLE_SUFFIXES))
        return f"Not a kind of file that is read here ({known})."
    with path.open("rb") as file:
        first = file.read(_FIRST_BYTES)
    if not first:
        return "The file is empty."
    if suffix == ".c3d" and first[1:2] != bytes([_C3D_KEY]):
        return "It is called .c3d, but is no C3D file: its first bytes are those of something else."
    if suffix == ".xlsx" and not first.startswith(_ZIP):
        return "It is called .xlsx, but is no such workbook."
    is_text = suffix not in (".c3d", ".xlsx", ".xls")
    if is_text and b"\0" in first and not first.startswith(_UNICODE_MARKS):
        return f"It is called {suffix}, but holds no text."
    return ""

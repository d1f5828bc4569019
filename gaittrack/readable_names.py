"""Names of files as people can read them, whatever bytes they are made of."""

from __future__ import annotations

import os
import re
from pathlib import PurePath
from typing import Final

_UNSEEN: Final = re.compile(
    "[\x00-\x1f\x7f-\x9f\u200b\u200e\u200f\u2028-\u202e\u2066-\u2069\ufeff\ud800-\udfff]"
)
"""Control characters, marks that turn the direction of a line, and what is no text at all."""
_MISLEADING: Final = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069\ud800-\udfff]|\r(?!\n)"
)
"""What in a text of several lines moves or hides others; line ends and marks of a script stay."""
_WRITTEN: Final = re.compile(rb"\\x([0189a-f][0-9a-f]|7f)")


def readable(name: str | PurePath) -> str:
    r"""Return a name on one line; what is no text, or moves the text, is written as ``\xe9``.

    Examples
    --------
    >>> readable("Gehen ü")
    'Gehen ü'
    """
    text = name.as_posix() if isinstance(name, PurePath) else name
    return _UNSEEN.sub(_written, text) if _UNSEEN.search(text) else text


def readable_text(text: str) -> str:
    r"""Return a text of any number of lines; what moves or hides some of it is written out.

    Examples
    --------
    >>> readable_text("one\nline\u202e")
    'one\nline\\u202e'
    """
    return _MISLEADING.sub(_written, text)


def _written(match: re.Match[str]) -> str:
    place = ord(match[0])
    if 0xDC80 <= place <= 0xDCFF:  # a byte of a name that is no text
        place -= 0xDC00
    return f"\\x{place:02x}" if place < 0x100 else f"\\u{place:04x}"


def as_on_disk(name: str) -> str:
    """Return the name that :func:`readable` wrote of bytes that are no text."""
    plain = os.fsencode(name)
    found = _WRITTEN.sub(lambda match: bytes.fromhex(match[1].decode()), plain)
    return os.fsdecode(found)

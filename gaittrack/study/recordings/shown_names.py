"""Names of files as people can read them, whatever bytes they are made of."""

from __future__ import annotations

import os
import re


def shown(name: str) -> str:
    r"""Return a name with what is no text in it written as ``\xe9``.

    Examples
    --------
    >>> shown("Gehen ü")
    'Gehen ü'
    """
    return os.fsencode(name).decode("utf-8", "backslashreplace")


def as_on_disk(name: str) -> str:
    """Return the name that :func:`shown` wrote."""
    plain = os.fsencode(name)
    found = re.sub(rb"\\x([89a-f][0-9a-f])", lambda match: bytes.fromhex(match[1].decode()), plain)
    return os.fsdecode(found)

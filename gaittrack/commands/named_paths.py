"""How ``NAME=PATH`` is written on the command line.

In come words, out come names and paths.
"""

from __future__ import annotations

from collections.abc import Sequence

import click


def split_name(text: str, option: str) -> tuple[str, str]:
    """Return name and path of ``NAME=PATH``.

    Raises
    ------
    click.UsageError
        One of them is missing.
    """
    name, sign, path = text.partition("=")
    if not (sign and name.strip() and path.strip()):
        raise click.UsageError(f"{option} {text}: write it as NAME=PATH.")
    return name.strip(), path.strip()


def by_name(texts: Sequence[str], option: str) -> dict[str, list[str]]:
    """Return the paths of each name, in the order in which names first occur.

    Raises
    ------
    click.UsageError
        A name or a path is missing.
    """
    found: dict[str, list[str]] = {}
    for text in texts:
        name, path = split_name(text, option)
        found.setdefault(name, []).append(path)
    return found

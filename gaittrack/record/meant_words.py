"""What words mean that are in no closed list, as a laboratory has said it once.

In comes a file with a table for each list, out comes list to words to the word of the list; facts
that hold such words get it. ``other`` says that a word is none of the list, and is kept as it is.

    [cause]
    "stroke, left" = "stroke"
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from gaittrack.errors import LayoutError
from gaittrack.lab_files import read_toml, refuse_unknown
from gaittrack.record.checking import is_asked_about
from gaittrack.record.closed_lists import LISTS, OTHER
from gaittrack.record.registry import Fact

MeantWords = Mapping[str, Mapping[str, str]]
"""List to words as :func:`folded_word` gives them to what they mean."""


def folded_word(word: str) -> str:
    """Return a word as it is looked up: case and the spaces around it do not matter."""
    return " ".join(word.split()).casefold()


def read_words(path: Path) -> dict[str, dict[str, str]]:
    """Read what words mean.

    Raises
    ------
    LayoutError
        Not readable, no such list, or a meaning that is not of the list.
    """
    action = 'Give a TOML file with a table for each list and lines "words" = "word of the list".'
    table = read_toml(path, "file of words", action)
    refuse_unknown(table, LISTS, path.name)
    return {name: _meanings(name, own, path.name) for name, own in table.items()}


def _meanings(name: str, own: Any, where: str) -> dict[str, str]:
    if not isinstance(own, Mapping):
        raise LayoutError.of("no_table", where=f"{where} [{name}]")
    for key, word in own.items():
        check_meaning(name, key, word, f"{where} [{name}]")
    return {folded_word(key): word for key, word in own.items()}


def check_meaning(name: str, typed: str, word: object, where: str) -> None:
    """Refuse a meaning that is not of the list.

    Raises
    ------
    LayoutError
    """
    if word not in (*LISTS.get(name, ()), OTHER):
        words = ", ".join((*LISTS.get(name, ()), OTHER))
        raise LayoutError.of("not_in_closed_list", where=where, key=typed, word=word, words=words)


def write_words(meant: MeantWords) -> str:
    """Return what words mean as a file says it."""
    parts = [
        "\n".join([f"[{name}]", *(f"{json.dumps(k)} = {json.dumps(own[k])}" for k in sorted(own))])
        for name, own in sorted(meant.items())
    ]
    return "\n\n".join(parts) + "\n"


def with_meaning(
    lines: Mapping[str, Fact], facts: Mapping[str, Any], meant: MeantWords
) -> dict[str, Any]:
    """Return facts with the word of the list in the place of words that are known to mean it."""
    return {name: _meant(lines[name], value, meant) for name, value in facts.items()}


def _meant(fact: Fact, value: Any, meant: MeantWords) -> Any:
    if not is_asked_about(fact, value):
        return value
    word = meant.get(fact.list, {}).get(folded_word(value), OTHER)
    return value if word == OTHER else word

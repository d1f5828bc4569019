"""What a laboratory says once of every export: under which licence, by whom, out of what.

In comes a TOML file, out comes :class:`ReleaseFacts`.

    title = "Walking with and without a brace: a cohort"
    licence = "CC-BY-4.0"
    licence_address = "https://creativecommons.org/licenses/by/4.0/"
    [[creators]]
    name = "Gait laboratory of the hospital"
    [[sources]]
    title = "Study protocol"
    address = "https://example.org/protocol"
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from gaittrack.errors import LayoutError
from gaittrack.lab_files import read_toml, refuse_unknown

_LICENCE: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9.+-]*")
_WORDS: Final = ("title", "licence", "licence_address")
_PARTS: Final = {"creators": ("name", "affiliation", "orcid"), "sources": ("title", "address")}
_FORM: Final = (
    'Write licence = "CC-BY-4.0" (a short name of the SPDX list) and, for each who made the data, '
    '[[creators]] with name = "…".'
)


@dataclass(frozen=True, slots=True)
class ReleaseFacts:
    """What stands in every export.

    Attributes
    ----------
    licence : str
        Short name of the SPDX list; empty where none is said.
    creators : tuple of mappings
        ``name``, and if said ``affiliation`` and ``orcid``.
    sources : tuple of mappings
        ``title``, and if said ``address``: what the data come from.
    """

    title: str = ""
    licence: str = ""
    licence_address: str = ""
    creators: tuple[Mapping[str, str], ...] = ()
    sources: tuple[Mapping[str, str], ...] = ()


def read_release_facts(path: Path) -> ReleaseFacts:
    """Read what is said of every export.

    Raises
    ------
    LayoutError
        Not readable, unknown lines, no licence, or nobody who made the data.
    """
    table = read_toml(path, "file about releases", _FORM)
    refuse_unknown(table, (*_WORDS, *_PARTS), path.name)
    words: dict[str, Any] = {
        name: _text(table.get(name, ""), f"{path.name}: {name}") for name in _WORDS
    }
    if not _LICENCE.fullmatch(words["licence"]):
        raise LayoutError.of("no_licence_name", where=path.name, form=_FORM)
    parts: dict[str, Any] = {name: _parts(table.get(name, []), name, path.name) for name in _PARTS}
    if not parts["creators"]:
        raise LayoutError.of("no_creators", where=path.name, form=_FORM)
    return ReleaseFacts(*words.values(), *parts.values())


def _parts(found: Any, name: str, where: str) -> tuple[Mapping[str, str], ...]:
    allowed = _PARTS[name]
    if not isinstance(found, list) or not all(isinstance(each, Mapping) for each in found):
        raise LayoutError.of("no_tables_of_name", where=where, name=name)
    told = []
    for each in found:
        refuse_unknown(each, allowed, f"{where} [[{name}]]")
        if not each.get(allowed[0]):
            raise LayoutError.of("no_first_word", where=f"{where} [[{name}]]", word=allowed[0])
        told.append({key: _text(value, f"{where} [[{name}]]") for key, value in each.items()})
    return tuple(told)


def _text(value: Any, where: str) -> str:
    if not isinstance(value, str) or not all(c.isprintable() for c in value):
        raise LayoutError.of("no_plain_text", where=where)
    return value.strip()

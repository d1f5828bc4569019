"""What a laboratory says once of every export: under which licence, by whom, out of what.

In comes a TOML file, or what was typed, out comes :class:`ReleaseFacts`.

    title = "Walking with and without a brace: a cohort"
    description = "What was studied, in a sentence or two."
    licence = "CC-BY-4.0"
    licence_address = "https://creativecommons.org/licenses/by/4.0/"
    [[creators]]
    name = "Gait laboratory of the hospital"
    [[sources]]
    title = "Study protocol"
    address = "https://example.org/protocol"
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from gaittrack.errors import LayoutError
from gaittrack.lab_files import read_toml, refuse_unknown

_LICENCE: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9.+-]*")
_ADDRESS: Final = re.compile(r"https?://\S+")
_ORCID: Final = re.compile(r"\d{4}-\d{4}-\d{4}-\d{3}[\dX]")
_WORDS: Final = ("title", "description", "licence", "licence_address")
PARTS: Final = {"creators": ("name", "affiliation", "orcid"), "sources": ("title", "address")}
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
    description: str = ""
    licence: str = ""
    licence_address: str = ""
    creators: tuple[Mapping[str, str], ...] = ()
    sources: tuple[Mapping[str, str], ...] = ()

    @property
    def in_words(self) -> str:
        """What is said, in a few words."""
        return f"{self.licence}, by {'; '.join(each['name'] for each in self.creators)}"


def read_release_facts(path: Path) -> ReleaseFacts:
    """Read what is said of every export.

    Raises
    ------
    LayoutError
        Not readable, or as :func:`release_facts_of`.
    """
    return release_facts_of(read_toml(path, "file about releases", _FORM), path.name, form=_FORM)


def release_facts_of(table: Mapping[str, Any], where: str, *, form: str) -> ReleaseFacts:
    """Return what is said of every export, from a table of it.

    Parameters
    ----------
    form : str
        How a licence and makers are said there.

    Raises
    ------
    LayoutError
        Unknown lines, no licence, nobody who made the data, or an address that is none.
    """
    refuse_unknown(table, (*_WORDS, *PARTS), where)
    words: dict[str, Any] = {
        name: _text(table.get(name, ""), f"{where}: {name}") for name in _WORDS
    }
    if not _LICENCE.fullmatch(words["licence"]):
        raise LayoutError.of("no_licence_name", where=where, form=form)
    _refuse_no_address(words["licence_address"], f"{where}: licence_address")
    parts: dict[str, Any] = {name: _parts(table.get(name, []), name, where) for name in PARTS}
    if not parts["creators"]:
        raise LayoutError.of("no_creators", where=where, form=form)
    return ReleaseFacts(*words.values(), *parts.values())


def write_release_facts(facts: ReleaseFacts) -> str:
    """Return the file that :func:`read_release_facts` reads."""
    lines = [f"{name} = {_quoted(getattr(facts, name))}" for name in _WORDS if getattr(facts, name)]
    for name in PARTS:
        for each in getattr(facts, name):
            lines += [f"[[{name}]]", *(f"{key} = {_quoted(own)}" for key, own in each.items())]
    return "\n".join(lines) + "\n"


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def _refuse_no_address(text: str, where: str) -> None:
    if text and not _ADDRESS.fullmatch(text):
        raise LayoutError.of("no_web_address", where=where, text=text)


def _parts(found: Any, name: str, where: str) -> tuple[Mapping[str, str], ...]:
    allowed = PARTS[name]
    if not isinstance(found, list) or not all(isinstance(each, Mapping) for each in found):
        raise LayoutError.of("no_tables_of_name", where=where, name=name)
    told = []
    for each in found:
        refuse_unknown(each, allowed, f"{where} [[{name}]]")
        if not each.get(allowed[0]):
            raise LayoutError.of("no_first_word", where=f"{where} [[{name}]]", word=allowed[0])
        own = {key: _text(value, f"{where} [[{name}]]") for key, value in each.items()}
        _refuse_no_address(own.get("address", ""), f"{where} [[{name}]]")
        if own.get("orcid") and not _ORCID.fullmatch(own["orcid"]):
            raise LayoutError.of("no_orcid", where=f"{where} [[{name}]]", text=own["orcid"])
        told.append(own)
    return tuple(told)


def _text(value: Any, where: str) -> str:
    if not isinstance(value, str) or not all(c.isprintable() for c in value):
        raise LayoutError.of("no_plain_text", where=where)
    return value.strip()

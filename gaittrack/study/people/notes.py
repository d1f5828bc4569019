"""Find what somebody wrote: notes on people, visits, what was worn, braces and aims.

In come words, out come the notes that hold them, with where they stand. Notes are for the
laboratory and never leave it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from gaittrack.record.braces import named_setting, of_part
from gaittrack.record.registry import FACTS
from gaittrack.record.wording import full_label
from gaittrack.study.people.documents import StoredDocument, stored_documents
from gaittrack.study.store import Study


@dataclass(frozen=True, slots=True)
class FoundNote:
    """A note.

    Attributes
    ----------
    place : str
        ``P01``, ``P01/visit-1``, ``P01/B1/a``.
    label : str
        What the fact is called.
    """

    person: str
    place: str
    label: str
    text: str


def find_notes(study: Study, words: str = "") -> list[FoundNote]:
    """Return the notes in which words occur, case aside; every note without words."""
    with study.read() as connection:
        documents = list(stored_documents(connection))
    wanted = words.strip().casefold()
    return [
        FoundNote(document.person, document.place, label, text)
        for document in documents
        for label, text in _notes(document)
        if wanted in text.casefold()
    ]


def _notes(document: StoredDocument) -> Iterator[tuple[str, str]]:
    """Yield the notes of a row; those of a brace stand with the brace, not where it was worn."""
    facts = dict(document.facts)
    if document.part == "condition" and named_setting(facts) is not None:
        facts = of_part(facts, "condition")
    for name, value in facts.items():
        if FACTS[document.part][name].kind == "note" and str(value).strip():
            yield full_label(FACTS[document.part][name]), str(value)

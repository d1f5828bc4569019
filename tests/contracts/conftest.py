"""Other sentences for every code, for tests that show that none decides anything."""

import string

import pytest

from gaittrack import words
from gaittrack.reasons import Reason

NOT_OF_REASONS = ("terms", "person")


def scrambled(code, sentence):
    """Return a sentence that says its code and its gaps only, part by part."""
    if not isinstance(sentence, str):
        return {part: scrambled(code, text) for part, text in sentence.items()}
    gaps = (name for _, name, _, _ in string.Formatter().parse(sentence) if name)
    return f"§{code}§" + "".join(f" {{{gap}}}" for gap in gaps)


@pytest.fixture
def scramble(monkeypatch):
    """Give what turns every sentence of every language into another one."""
    true = words.sentences

    def sentences(language):
        found = true(language)
        return {c: s if c in NOT_OF_REASONS else scrambled(c, s) for c, s in found.items()}

    def turn():
        monkeypatch.setattr(words, "sentences", sentences)
        assert str(Reason("gap", of="heel")) == "§gap§ heel"

    return turn

"""Every reason has its sentence, every sentence its reason, and the gaps of both fit."""

import ast
import string
import tomllib

import pytest

from gaittrack import words
from gaittrack.reasons import Reason, as_plain, from_plain
from tests.contracts.test_house_rules import MODULES, ROOT, nodes_of, tree_of


def texts_of(sentence):
    """Yield the texts of a sentence, whatever its parts."""
    if isinstance(sentence, str):
        yield sentence
    else:
        for part in sentence.values():
            yield from texts_of(part)


def gaps_of(sentence):
    """Return the names of the gaps of a sentence; ``n`` too, where it tells one from many."""
    found = {
        name
        for text in texts_of(sentence)
        for _, name, _, _ in string.Formatter().parse(text)
        if name
    }
    return found | ({"n"} if "'many'" in repr(sentence) else set())


def made_reasons():
    """Yield (code, names of its parameters or None where ** is used, place) of each Reason(…).

    Also of each error that is made by its code.
    """
    for path in MODULES:
        tree = tree_of(path)
        constants = {
            target.id: node.value.value
            for node in tree.body
            if isinstance(node, (ast.Assign, ast.AnnAssign))
            and isinstance(node.value, ast.Constant)
            for target in (node.targets if isinstance(node, ast.Assign) else [node.target])
            if isinstance(target, ast.Name)
        }
        for node in nodes_of(tree):
            made = ast.unparse(node.func) if isinstance(node, ast.Call) else ""
            is_of_fact = made.endswith("Error.about")
            if (made == "Reason" or made.endswith("Error.of") or is_of_fact) and node.args:
                first = node.args[is_of_fact]
                code = first.value if isinstance(first, ast.Constant) else None
                if isinstance(first, ast.Name):
                    code = constants.get(first.id)
                names = {keyword.arg for keyword in node.keywords} | (
                    {"key"} if is_of_fact else set()
                )
                place = f"{path.relative_to(ROOT).as_posix()}:{node.lineno}"
                yield code, None if None in names else names, place


TABLES = {"terms", "facts", "values"}
"""Words by the name of what they are of; the others are sentences."""


@pytest.mark.parametrize("language", words.languages())
def test_sentences_of_every_language_have_the_gaps_of_the_english_ones(language):
    """A translation fills the same gaps, and has no sentence that English lacks."""
    english = words.sentences(words.ENGLISH)
    for code, sentence in words.sentences(language).items():
        if code not in TABLES:
            assert code in english, code
            assert gaps_of(sentence) <= gaps_of(english[code]), code


def test_every_reason_has_a_sentence_whose_gaps_it_fills():
    """No code without words, and no gap that the place of its making leaves empty."""
    english = words.sentences(words.ENGLISH)
    for code, names, place in made_reasons():
        if code is not None:
            assert code in english, f"{place}: no sentence for {code}"
            if names is not None:
                missing = gaps_of(english[code]) - names
                assert not missing, f"{place}: {code} leaves {missing} empty"


def test_no_sentence_is_dead():
    """Every code of the words is written in some module, or held by studies of older versions."""
    written = {
        node.value
        for path in MODULES
        for node in nodes_of(tree_of(path))
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    }
    older = ROOT / "gaittrack" / "study" / "sentences_until_version_4.toml"
    held = {row["code"] for row in tomllib.loads(older.read_text(encoding="utf-8"))["sentence"]}
    assert words.sentences(words.ENGLISH).keys() - written - held - TABLES == set()


def test_a_reason_survives_being_stored():
    """What JSON holds of a reason gives the same reason back, reasons within it too."""
    inner = Reason("lower_bound", rate_hz=60.0)
    reason = Reason("of_condition", condition="with brace", label=inner, names=("left", "right"))
    assert from_plain(as_plain(reason)) == reason


def test_a_code_without_its_figures_is_said_in_short():
    """As the label of a row, where it has such a form; one and many are told apart."""
    assert str(Reason("few_walks")) == "few walks"
    one, two = (str(Reason("few_walks", condition="a", n=n, least=3)) for n in (1, 2))
    assert one.startswith("a has 1 walk;") and two.startswith("a has 2 walks;")


def test_a_gap_is_filled_in_the_language_asked_for():
    """Joined lists, words of the trade and decimals follow the language."""
    filler = words._Filler("de")
    assert filler.format("{a:or}", a=("x", "y")) == "x oder y"
    assert filler.format("{a:.2f}", a=1.25) == "1,25"
    assert filler.format("{a:term}", a="left") == "links"
    assert filler.format("{a:term}", a="hip_centre") == "hip centre"

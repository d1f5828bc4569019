"""Every language says the same, in plain words, and writes numbers its own way."""

import re
import string

import pytest

from gaittrack.compare.judged.watch import INTERVAL_SIGNS, LIMIT_SIGNS, MORE_VARIABLE
from gaittrack.report.language import language, language_codes
from gaittrack.report.patient import fair_key
from gaittrack.words import sentences
from tests.report.readability import (
    english_syllables,
    grade_of_english,
    grade_of_german,
)

FORBIDDEN = re.compile(
    r"improv|better|worse|good|bad\b|should not|risk|fall\b|falls\b|recommend|diagnos|normal|besser"
    r"|schlechter|gut\b|Sturz|empfehl|Diagnose|normal",
    re.I,
)
AUDIENCE = re.compile("_(parent|relatives)$")
SPOKEN_TO = {"your", "Your", "you_walk", "You_walk", "you_step"}


def gaps(text):
    return {name for _, name, _, _ in string.Formatter().parse(text) if name}


def test_more_than_one_language_is_shipped():
    """English first, German too."""
    assert language_codes()[:2] == ["en", "de"]


@pytest.mark.parametrize("code", language_codes())
def test_every_language_has_the_same_texts_and_gaps(code):
    """A missing text, or a gap that nobody fills, would break the page or lose a number."""
    own, english = (
        {
            key: text
            for key, text in language(each).texts.items()
            if not AUDIENCE.search(key) and not key.startswith("gap.")
        }
        for each in (code, "en")
    )
    assert set(own) == set(english)
    told = [{k: gaps(texts[k]) - SPOKEN_TO for k in texts} for texts in (own, english)]
    assert {k: told[0][k] - {"leg"} for k in own} == {k: told[1][k] - {"leg"} for k in own}
    assert all(text.strip() or text.endswith(" ") for text in own.values())


def test_every_sign_of_the_watch_list_has_its_sentence():
    """A sign that fires is told, whatever it is."""
    codes = [*(s.code for s in LIMIT_SIGNS), *(code for code, _ in INTERVAL_SIGNS), MORE_VARIABLE]
    assert [code for code in codes if f"sign.{code}" not in language("en").texts] == []


def test_every_fairness_note_has_a_sentence():
    """A kind without words of its own is told in general ones, by its level."""
    english = language("en")
    told = [key.removeprefix("fair.") for key in english.texts if key.startswith("fair.")]
    general = {"measured_otherwise", "not_written_down", "stale"}
    assert [code for code in told if code not in sentences("en") and code not in general] == []
    assert fair_key("speed_differs", "warning", english) == "speed_differs"
    assert fair_key("event_source_differs", "warning", english) == "measured_otherwise"
    assert fair_key("surface_not_recorded", "info", english) == "not_written_down"


@pytest.mark.parametrize("code", language_codes())
def test_no_text_judges_or_advises(code):
    """What was measured, not what is good."""
    assert [key for key, text in language(code).texts.items() if FORBIDDEN.search(text)] == []
    assert FORBIDDEN.search("Your walk improved.")


def test_the_formula_of_reading_agrees_with_its_published_example():
    """The cat that sat on the mat has grade -1.45: 6 words, 6 syllables."""
    assert grade_of_english("The cat sat on the mat.") == pytest.approx(-1.45, abs=0.005)
    counted = {"measure": 2, "degrees": 2, "lowest": 2, "people": 2, "closer": 2, "touched": 1}
    assert {word: english_syllables(word) for word in counted} == counted


def test_a_sentence_of_the_trade_would_not_pass():
    """The limit that every page keeps (``test_person_answers.py``) is one."""
    assert grade_of_english("Peak dorsiflexion in swing exceeds the detectable difference.") > 10
    assert grade_of_german("Die maximale Dorsalextension überschreitet die Messgenauigkeit.") > 10


def test_numbers_are_written_as_the_language_writes_them():
    """Decimal sign, minus sign, singular, halves."""
    english, german = language("en"), language("de")
    assert english.quantity(1.234, "m_s", 2) == "1.23 metres a second"
    assert german.quantity(1.234, "m_s", 2) == "1,23 Meter je Sekunde"
    assert english.quantity(-1.2, "deg", 0) == "−1 degree"
    assert german.quantity(-3.4, "deg", 0) == "−3 Grad"
    assert english.quantity(-0.2, "deg", 0) == "0 degrees"
    assert english.in_halves(2.3, "cm") == "2½ centimetres"
    assert german.in_halves(0.6, "cm") == "½ Zentimeter"
    assert english.in_halves(-1.1, "cm") == "−1 centimetre"
    assert english.in_halves(-0.1, "cm") == "0 centimetres"


def test_an_unknown_language_is_refused():
    """By name, with those there are."""
    with pytest.raises(ValueError, match="en"):
        language("xx")

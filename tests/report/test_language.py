"""Every language says the same, in plain words, and writes numbers its own way."""

import re
import string

import pytest

from gaittrack.compare.watch import INTERVAL_SIGNS, LIMIT_SIGNS, MORE_VARIABLE
from gaittrack.report.language import language, language_codes
from gaittrack.report.patient import fair_key
from gaittrack.report.person_points import TOPICS
from gaittrack.words import sentences
from tests.report.readability import (
    english_syllables,
    grade_of_english,
    grade_of_german,
    sentences_of,
    words_of,
)

FORBIDDEN = re.compile(
    r"improv|better|worse|good|bad\b|should not|risk|fall\b|falls\b|recommend|diagnos|normal|besser"
    r"|schlechter|gut\b|Sturz|empfehl|Diagnose|normal",
    re.I,
)
FILLED = {
    "before": {"en": "without the brace", "de": "ohne Schiene"},
    "here": {"en": "with the brace", "de": "mit Schiene"},
}


def gaps(text):
    return {name for _, name, _, _ in string.Formatter().parse(text) if name}


def prose(code):
    """Return all sentences of a language with short words in their gaps."""
    own = language(code)
    tables = ("page", "result", "missing", "fair", "notice", "sign", "picture")
    keys = [k for k in own.texts if k.split(".")[0] in tables and k != "sign.values"]
    ends = ("more", "less", "same", "unclear", "about", "alt")
    keys += [
        k
        for k in own.texts
        if k.split(".")[0] in {t.name for t in TOPICS} and k.split(".")[1] in ends
    ]
    lines = []
    for key in keys:
        known = {name: FILLED[name][code] for name in FILLED}
        known |= {"subject": own.texts.get(f"{key.split('.')[0]}.subject_left", "")}
        known |= {"word": own.texts["toe.more_word"], "name": own.texts["toe.name"]}
        known |= {"side": own.texts["side.left"], "names": own.texts["speed.name"]}
        text = own.texts[key].format_map({g: known.get(g, "8") for g in gaps(own.texts[key])})
        lines.append(text if text[-1] in ".!?" else text + ".")
    return " ".join(lines)


def test_more_than_one_language_is_shipped():
    """English first, German too."""
    assert language_codes()[:2] == ["en", "de"]


@pytest.mark.parametrize("code", language_codes())
def test_every_language_has_the_same_texts_and_gaps(code):
    """A missing text, or a gap that nobody fills, would break the page or lose a number."""
    own, english = language(code).texts, language("en").texts
    assert set(own) == set(english)
    assert {k: gaps(own[k]) for k in own} == {k: gaps(english[k]) for k in own}
    assert all(text.strip() == text and text for text in own.values())


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


def test_the_english_page_reads_at_grade_six_or_below():
    """And a sentence of the trade would not."""
    assert grade_of_english(prose("en")) <= 6.0
    trade = "Peak dorsiflexion in swing increased beyond the minimal detectable difference."
    assert grade_of_english(trade) > 10


def test_the_german_page_reads_at_grade_six_or_below():
    """By the first Vienna formula."""
    assert grade_of_german(prose("de")) <= 6.0
    trade = "Die maximale Dorsalextension der Schwungphase überschreitet die Messgenauigkeit."
    assert grade_of_german(trade) > 10


@pytest.mark.parametrize("code", language_codes())
def test_no_sentence_is_long(code):
    """At most 25 words, gaps filled; own choice."""
    longest = max(sentences_of(prose(code)), key=lambda sentence: len(words_of(sentence)))
    assert len(words_of(longest)) <= 25, longest


def test_numbers_are_written_as_the_language_writes_them():
    """Decimal sign, minus sign, singular, rounding outwards."""
    english, german = language("en"), language("de")
    assert english.quantity(1.234, "m/s") == "1.23 meters a second"
    assert german.quantity(1.234, "m/s") == "1,23 Meter je Sekunde"
    assert english.quantity(1.2, "deg") == "1 degree"
    assert german.quantity(-3.4, "deg") == "−3 Grad"
    assert english.quantity(-0.2, "mm") == "0 mm"
    assert english.quantity(3.2, "mm", towards=1) == "4 mm"
    assert english.quantity(3.8, "mm", towards=-1) == "3 mm"
    assert english.quantity(3.0, "mm", towards=1) == "3 mm"
    assert german.quantity(0.42, "deg", finer=1) == "0,4 Grad"


def test_an_unknown_language_is_refused():
    """By name, with those there are."""
    with pytest.raises(ValueError, match="en"):
        language("xx")

"""Names of folders and files say what was worn; what they do not say is not guessed."""

import pytest

from gaittrack.said_days import said_day
from gaittrack.study.archives.guessing import (
    guess_of,
    said_side,
    said_worn,
    says_standing,
)

NONE, AFO = {"orthosis": "none"}, {"orthosis": "ankle-foot orthosis"}
LEFT, RIGHT = {"orthosis_side": "left"}, {"orthosis_side": "right"}
SHOE, BARE = {"footwear": "shoe"}, {"footwear": "barefoot"}
SAID = {
    "ohne": NONE,
    "ohne 2": NONE,
    "mit 1": AFO,
    "without brace": NONE,
    "withoutAFO2": NONE,
    "w-o AFO": NONE,
    "wo_AFO": NONE,
    "no_AFO": NONE,
    "braceOff": NONE,
    "unbraced": NONE,
    "sans orthèse": NONE,
    "uden skinne": NONE,
    "Ohneschiene02": NONE,
    "con órtese": AFO,
    "P01_v1_AFO1": AFO,
    "no 12 brace": AFO,
    "AFO_links_3": AFO | LEFT,
    "mitOrtheseRechts": AFO | RIGHT,
    "AFO R": AFO | RIGHT,
    "barfuß": BARE,
    "without shoes": BARE,
    "shoe only": SHOE,
    "ohne Schiene, Schuhe": NONE | SHOE,
    "Mit Schuhen ohne AFO": NONE | SHOE,
    "with AFO and shoe": AFO | SHOE,
    "ohne Schiene und Schuhe": NONE,
}
NOT_SAID = [
    *("ohne Stock", "mit Gehhilfe", "no 1", "sin 2", "pre AFO", "AFO study", "AFO or shoe"),
    *("walk 1", "condition A", "Callie", "withers", "ohne und mit Schiene", "P01", "基线"),
]


@pytest.mark.parametrize(("name", "said"), [*SAID.items(), *((name, {}) for name in NOT_SAID)])
def test_whole_words_say_what_was_worn(name, said):
    """In several languages, written apart or together; what may mean two things says nothing."""
    assert said_worn(name) == said


def test_days_and_sides_are_read_where_they_can_be_one_thing_only():
    """05-03-2024 may be March or May; a number that is no day, or of the future, is none."""
    one_day = ("2024-03-05", "20240305_1", "5.3.2024", "s2024_3_5")
    assert {said_day(name) for name in one_day} == {"2024-03-05"}
    assert said_day("25-03-2024") == said_day("03-25-2024") == "2024-03-25"
    none = ("05-03-2024", "2024-13-05", "9931-01-01", "P19450101", "2024-03-05 2024-03-06", "1.2")
    assert {said_day(name) for name in none} == {""}
    assert [said_side(text) for text in ("L", "rechts", "both", "x", "left right")] == [
        *("left", "right", "both", "", "")
    ]


def test_the_nearest_name_counts_and_says_where_it_stands():
    """File before folder before folder; a file that contradicts its folder is asked about."""
    guess = guess_of("P01/2024-03-05/ohne/static_1.c3d")
    assert (guess.condition, guess.day, guess.is_standing) == ("without-brace", "2024-03-05", True)
    assert str(guess.sources["orthosis"]) == "guessed from the folder “ohne”"
    assert "static_1" in str(guess.sources["standing"])
    assert guess_of("P01/ohne/AFO_1.c3d").worn == {}
    assert guess_of("AFO/ohne/ohne_1.c3d").worn == NONE
    assert guess_of("P01/barefoot/with AFO/1.c3d").condition == "with-brace-barefoot"
    assert guess_of("walk.c3d").sources == {} and not says_standing("station 2")


@pytest.mark.parametrize(
    ("name", "worn"),
    [
        ("12AFOr03", {"orthosis": "ankle-foot orthosis", "orthosis_side": "right"}),
        ("SchieneL", {"orthosis": "ankle-foot orthosis", "orthosis_side": "left"}),
        ("ortoser", {}),
        ("AFOx", {}),
    ],
)
def test_a_letter_behind_a_brace_is_its_side_where_capitals_tell_it_apart(name, worn):
    """``AFOr`` is one of the right side; a plural that ends so says no side."""
    assert said_worn(name) == worn

"""The reference by rule is the same shoes without the brace."""

import pytest

from gaittrack.compare.fair.condition import Condition
from gaittrack.compare.fair.fair_pair import choose_reference, is_fair_pair

BRACED = Condition("brace", orthosis="ankle-foot orthosis", footwear="Laced shoe")
BARE = Condition("bare", orthosis="none", footwear="barefoot")
SHOD = Condition("shod", orthosis="none", footwear="laced shoe")
SANDAL = Condition("sandal", orthosis="none", footwear="sandal")
UNKNOWN = Condition("unknown")
UNSAID = Condition("unsaid", orthosis="none")


@pytest.mark.parametrize(
    ("conditions", "name"),
    [
        ((BRACED, BARE, SHOD), "shod"),
        ((BARE, BRACED), "bare"),
        ((SANDAL, UNSAID, BRACED), "unsaid"),
        ((BRACED, UNKNOWN), "unknown"),
        ((BRACED,), "brace"),
        ((SHOD, SHOD), "shod"),
    ],
)
def test_reference_is_the_same_shoe_without_the_brace(conditions, name):
    """Barefoot only where there is nothing better; in doubt the first."""
    assert conditions[choose_reference(conditions)].name == name


@pytest.mark.parametrize(
    ("pair", "is_fair"),
    [
        ((SHOD, BRACED), True),
        ((BARE, BRACED), False),
        ((SANDAL, BRACED), False),
        ((UNSAID, BRACED), True),
    ],
)
def test_other_shoes_make_a_pair_unfair(pair, is_fair):
    """What is not recorded is no ground against a pair; it is told beside it."""
    assert is_fair_pair(*pair) is is_fair

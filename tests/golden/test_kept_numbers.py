"""Results of walks and comparisons in which everything is drawn stay the same to the last digit.

After a rule was changed on purpose, remake the table: its lines before and after say what moved.
"""

import csv

import pytest

from tests.golden.kept_numbers import TABLE, lines, of_cohorts, of_comparisons, of_walks

DIGITS = 1e-9
"""That computers share."""


def differing(of, found):
    """Return the names whose numbers or words are not those of the table, with both."""
    with TABLE.open(encoding="utf-8") as stream:
        kept = {name: old for part, name, *old in csv.reader(stream) if part == of}
    today = {name: own for _, name, *own in lines(of, found)}
    names = sorted(kept.keys() | today.keys())
    pairs = {name: (kept.get(name), today.get(name)) for name in names}
    return {name: pair for name, pair in pairs.items() if not is_same(*pair)}


def is_same(one, other):
    """Whether counts and words are equal, and both means up to rounding."""
    if one is None or other is None:
        return False
    (*counts, words), (*other_counts, other_words) = one, other
    other_counts = [float(each) for each in other_counts]
    close = pytest.approx(other_counts, rel=DIGITS, abs=DIGITS, nan_ok=True)
    return words == other_words and [float(each) for each in counts] == close


def test_walks_keep_their_numbers():
    """Events, cycles, each measure with its reasons and labels, problems."""
    assert differing("walks", of_walks()) == {}


def test_comparisons_keep_their_numbers():
    """Rows with intervals, verdicts and labels, signs, steps counted, fairness, curves."""
    assert differing("comparisons", of_comparisons()) == {}


def test_cohorts_keep_their_numbers():
    """Tables, statistics, models, what is shown of whom, answers and what stands beside them."""
    assert differing("cohorts", of_cohorts()) == {}

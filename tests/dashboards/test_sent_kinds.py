"""What is sent to a callback is answered in words; what no screen sends changes nothing."""

import random

import pytest

from dashboards.parts.dash_private import nothing_new
from dashboards.parts.sent_kinds import NONE, Any_, ListOf, NotSentError, checked, fits
from dashboards.shell.access import require
from gaittrack.study.store import create_study
from tests.dashboards.sent_values import DEEP, Sender, cases, kinds_of, read_by

N_CASES = 250
NO_PLAIN = (10**30, "\ud800", DEEP, float("nan"))


def given(*values):
    return values


def test_what_cannot_be_stored_is_refused():
    """Half letters, numbers that no database holds, values within values without end."""
    good = ("w\U0001f9bf", 2**63 - 1, -1.5, [{"a": [None, True]}])
    assert checked(given, [Any_] * 4)(*good) == good
    for each in (*NO_PLAIN, [{"a": 10**30}], {"\ud800": 1}):
        with pytest.raises(NotSentError, match="nothing that this screen sends"):
            checked(given, [Any_] * 2)("w", each)


@pytest.mark.parametrize(
    ("kind", "good", "bad"),
    [
        ((int, NONE), (7, None), (True, 7.5, "7", [7])),
        (float, (7, 7.5), (False, "7.5", None)),
        ([str], ([], ["x"]), ("x", [None], {"x": 1})),
        ([ListOf(str, int)], ([["x", 7]],), ([["x"]], [["x", 7, 7]], [[7, "x"]])),
        ({"a": str, "b?": int}, ({"a": "x"}, {"a": "x", "b": 7, "c": 1}), ({}, {"a": 7}, [], None)),
        ({"a": str, "b?": ()}, ({"a": "x"},), ({"a": "x", "b": 7},)),
        ({str: int}, ({}, {"x": 7}), ({"x": "7"}, [])),
    ],
)
def test_a_kind_takes_what_it_says_and_nothing_else(kind, good, bad):
    """A truth is no number, a text no list; a name with ? may be missing."""
    assert all(fits(each, kind) for each in good)
    assert not any(fits(each, kind) for each in bad)


def test_lists_of_the_same_parts_are_of_one_length():
    """Ids and values of the fields of one form."""
    two = checked(given, [[Any_]] * 3, [[0, 1]])
    assert two([1], [2], []) == ([1], [2], [])
    with pytest.raises(NotSentError):
        two([1], [2, 3], [])


def test_an_error_changes_nothing_of_one_place_or_of_several():
    """Of places that are filled as one, a list for as many as there are."""
    assert len(nothing_new([{"id": 1}, [{"id": 2}, {"id": 3}]])[1]) == 2
    assert not isinstance(nothing_new({"id": 1}), list)


@pytest.fixture
def sender(tmp_path):
    """Give what sends anything to the callbacks of an empty study."""
    one = Sender(create_study(tmp_path / "study"))
    yield one
    one.close()


def test_values_of_a_wrong_kind_are_refused_in_words_and_logged(sender):
    """At any place of any callback: no program error, nothing taken, nothing changed."""
    assert len(sender.callbacks) > 50
    every = cases(sender.callbacks)
    for name, place, value in random.Random(20).sample(every, N_CASES):
        assert not sender.fault_of(name, place, value), (name, place, value)


def test_every_place_that_is_read_refuses_something(sender):
    """A kind that takes everything is none; what a press or a walk holds may be anything."""
    for name, entry in sender.callbacks.items():
        for one, kind in zip(read_by(entry), kinds_of(entry), strict=True):
            wrong = [value for _, _, value in cases({name: entry})]
            assert not all(fits(value, kind) for value in wrong), (name, one)


def test_a_refusal_comes_before_anything_is_done(sender):
    """The function is not called."""
    called = []
    refusing = checked(lambda *values: called.append(values) or require("view"), [int])
    with pytest.raises(NotSentError):
        refusing("x")
    assert not called

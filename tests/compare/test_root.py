"""Where a function crosses 0."""

import math

import pytest
from scipy import optimize

from gaittrack.compare.intervals import root


@pytest.mark.parametrize("search", [root.root_between, root._by_package])
def test_a_root_is_the_one_that_scipy_finds(search):
    """To the last digit, whether its compiled search is taken alone or by its package."""
    for level in (0.01, 0.3, 1.0, 2.5, 30.0):
        found = search(lambda x, level=level: math.exp(-x) * x - level / 100, 1.0, 1e6)
        theirs = optimize.brentq(lambda x, level=level: math.exp(-x) * x - level / 100, 1.0, 1e6)
        assert found == theirs


def test_the_package_is_taken_where_its_search_alone_does_not_find(monkeypatch):
    """It is no public function: it may be elsewhere, take other arguments, or give another root."""
    assert root._scipys_search() is not root._by_package
    for kernel in (None, lambda *_: 1.0, lambda function: function):
        monkeypatch.setattr(root, "without_package", lambda *_, kernel=kernel: _Module(kernel))
        assert root._scipys_search() is root._by_package


class _Module:
    def __init__(self, kernel):
        self._brentq = kernel


def test_a_function_without_a_root_between_the_ends_is_refused():
    """Both ends above, or one that has no value."""
    with pytest.raises(ValueError):
        root.root_between(lambda x: x + 1.0, 1.0, 2.0)
    with pytest.raises(ValueError, match="no value"):
        root.root_between(lambda _: math.nan, 1.0, 2.0)

"""Show how far slow work is.

In come a label, what is worked through and how many there are; out comes the same, item by item, so
that whoever runs an export can draw a bar. Nothing here draws.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Protocol, TypeVar

Item = TypeVar("Item")


class Track(Protocol):
    """Passes items on one by one, and may show how many are done."""

    def __call__(self, label: str, items: Iterable[Item], n_items: int) -> Iterable[Item]:
        """Return the items.

        Parameters
        ----------
        label : str
            ``Comparing visits``.
        """
        ...


def untracked(label: str, items: Iterable[Item], n_items: int) -> Iterable[Item]:
    """Return the items and show nothing."""
    del label, n_items
    return items

"""Which people the screen People lists, and in which order.

In come the people of a study, what waits in their walks and what was compared of them, out come
those who fit what was typed and pressed.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from gaittrack.study.recordings.overview import ListedPerson, Waiting

WAITING_FIRST: Final = "waiting"
ORDERS: Final[dict[str, str]] = {
    WAITING_FIRST: "what waits, then newest visit",
    "last": "newest visit",
    "code": "code",
}
EVERYBODY: Final = "all"


@dataclass(frozen=True, slots=True)
class Person:
    """One person as a row has them.

    Attributes
    ----------
    waiting : Waiting or None
        None while it is being counted.
    newest : mapping or None
        The newest answer, as ``compared.newest_line`` has it; None while it is not compared.
    """

    listed: ListedPerson
    waiting: Waiting | None
    newest: Mapping[str, Any] | None

    @property
    def waits(self) -> bool:
        """Whether anything waits for somebody."""
        return bool(self.waiting and self.waiting.n)

    @property
    def has_signs(self) -> bool:
        """Whether the newest answer has signs to look at, or the examination then found some."""
        newest = self.newest or {}
        return bool(newest.get("signs") or newest.get("examined"))


FILTERS: Final[dict[str, tuple[str, Callable[[Person], bool]]]] = {
    EVERYBODY: ("all", lambda one: True),
    "waits": ("waits", lambda one: one.waits),
    "signs": ("signs", lambda one: one.has_signs),
    "visits": ("more than one visit", lambda one: one.listed.n_visits > 1),
}
"""What a pill is called, and whom it leaves."""


def fitting(people: Sequence[Person], words: str, order: str, chosen: str) -> list[Person]:
    """Return the people who fit what was typed and pressed, in the order asked for.

    Parameters
    ----------
    chosen : str
        One of ``FILTERS``.
    order : str
        One of ``ORDERS``; people come in that of their codes.
    """
    is_meant = FILTERS[chosen][1]
    found = [one for one in people if one.listed.has(words) and is_meant(one)]
    if order == "code":
        return found
    found.sort(key=lambda one: one.listed.last_date, reverse=True)
    return sorted(found, key=lambda one: order == WAITING_FIRST and not one.waits)

"""Which of several cycles can still have a value, and what was read for each of them.

A measure is reckoned for all cycles at once, and each must stay as if it were alone: what
is refused to one, or read for one, changes no other. In come masks over the cycles, out come the
reason of each cycle that has no value, and the names and origins of all that was read for it.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from itertools import compress
from typing import Any, NamedTuple, TypeVar

import numpy as np

from gaittrack.ingredients import zero_of
from gaittrack.measures.recording import Read
from gaittrack.reasons import Reason
from gaittrack.trial import BoolArray, FloatArray
from gaittrack.vocabulary import SIDES

_Found = TypeVar("_Found")
_ZEROS = frozenset(map(zero_of, SIDES))


class NotDefined(Exception):  # noqa: N818 - a result, not an error; it never leaves this room
    """No cycle shows the quantity, for a reason."""

    def __init__(self, reason: Reason) -> None:
        self.reason = reason
        super().__init__(reason)


class LabelOfSome(NamedTuple):
    """A label of some of the cycles."""

    label: Reason
    where: BoolArray


Labels = tuple[Reason | LabelOfSome, ...]
"""Of all cycles, or of some."""


class _State(NamedTuple):
    """What is known so far: open cycles, who has read what, who was refused and why."""

    is_open: BoolArray
    reads: dict[Read, BoolArray]
    refused: list[tuple[BoolArray, Reason]]


class OpenCycles:
    """Cycles that are measured together.

    Attributes
    ----------
    all : ndarray of bool, shape (n_cycles,)
        Each cycle.
    is_open : ndarray of bool, shape (n_cycles,)
        Cycles that were not refused so far.
    nothing : ndarray, shape (n_cycles,)
        NaN for each cycle.
    """

    def __init__(self, n_cycles: int, joined: Callable[[frozenset[Read]], Read]) -> None:
        self.all: BoolArray = np.ones(n_cycles, dtype=bool)
        self.nothing: FloatArray = np.full(n_cycles, np.nan)
        self._joined = joined
        self._once: dict[Hashable, tuple[Any, Reason | None, _State]] = {}
        self.begin()

    def begin(self) -> None:
        """Forget what was read and refused: a new value begins."""
        self.is_open = self.all
        self._reads: dict[Read, BoolArray] = {}
        self._refused: list[tuple[BoolArray, Reason]] = []

    def read(self, read: Read, among: BoolArray | None = None) -> None:
        """Note what was read for the cycles that are open, all of them or some."""
        self._note(read, self._open_of(self.all if among is None else among))

    def _open_of(self, who: BoolArray) -> BoolArray:
        """Return which of some cycles are open: the very same while nobody was refused."""
        if self.is_open is self.all:
            return who
        return self.is_open if who is self.all else who & self.is_open

    def _note(self, read: Read, who: BoolArray) -> None:
        before = self._reads.get(read)
        if before is None:
            self._reads[read] = who
        elif before is not who and before is not self.all:
            self._reads[read] = before | who

    def refuse(self, where: BoolArray, reason: Reason) -> None:
        """Tell that some cycles, of those that are open, do not show the quantity."""
        refused = where & self.is_open
        if any(refused.tolist()):
            self._refused.append((refused, reason))
            self.is_open = self.is_open & ~refused

    def cancels(self, name: str) -> None:
        """Tell that what shifts everything read so far as a whole is in this value no more.

        The zero of a foot shifts as a whole too: values that it cancels in are of any zero.
        """
        reads, self._reads = self._reads, {}
        for read, has in reads.items():
            if any((closed := has & ~self.is_open).tolist()):
                self._reads[read] = closed
        of_each = _of_each(reads, self.all)
        for own in dict.fromkeys(of_each):
            names, origins = self._joined(own)
            kept = frozenset(origin for origin in origins if origin[0] not in _ZEROS)
            who = self.is_open
            if any(other is not own for other in of_each):
                who = who & np.array([other is own for other in of_each])
            self._note((names - {name}, kept), who)

    def once(self, key: Hashable, find: Callable[[], _Found]) -> _Found:
        """Return a result that several measures share; each of them counts as having read it.

        It is found for all cycles; of what was read and refused on the way each measure takes what
        is about the cycles that are open.
        """
        kept = self._once.get(key)
        if kept is None:
            before = _State(self.is_open, self._reads, self._refused)
            self.begin()
            result: Any = None
            why: Reason | None = None
            try:
                result = find()
            except NotDefined as missing:
                why = missing.reason
            kept = result, why, _State(self.is_open, self._reads, self._refused)
            self._once[key] = kept
            self.is_open, self._reads, self._refused = before
        result, why, state = kept
        for read, has in state.reads.items():
            self._note(read, self._open_of(has))
        for where, reason in state.refused:
            self.refuse(where, reason)
        if why is not None:
            raise NotDefined(why)
        found: _Found = result
        return found

    def among(self, where: BoolArray, find: Callable[[], FloatArray]) -> FloatArray:
        """Return what is found for some cycles, NaN for the others, which have not read it.

        Parameters
        ----------
        find : callable
            Its result has the cycles in its last axis. What it refuses to all is refused to these.
        """
        before, own = self.is_open, self.is_open & where
        among = own.tolist()
        if not any(among):
            return self.nothing
        self.is_open = before if among == before.tolist() else own
        found = self.nothing
        try:
            found = np.where(own, find(), np.nan)
        except NotDefined as missing:
            self.refuse(own, missing.reason)
        if among != before.tolist():
            self.is_open = self.is_open | (before & ~where)
        return found

    def attempt(self, find: Callable[[], FloatArray]) -> tuple[FloatArray, BoolArray]:
        """Return rows that are found and for which open cycles; the others are not refused."""
        before, refused = self.is_open, list(self._refused)
        try:
            found, seen = find(), self.is_open
        except NotDefined:
            found, seen = np.full((len(before), 1), np.nan), np.zeros_like(before)
        self.is_open, self._refused = before, refused
        return found, seen

    def what_was_read(self) -> list[Read]:
        """Return the names and origins of all that was read for each cycle."""
        of_each = _of_each(self._reads, self.all)
        joined = {own: self._joined(own) for own in dict.fromkeys(of_each)}
        return [joined[own] for own in of_each]

    def reasons(self) -> list[Reason | None]:
        """Return why each cycle was refused, None where it was not."""
        reasons: list[Reason | None] = [None] * len(self.all)
        for where, reason in self._refused:
            for place in where.nonzero()[0].tolist():
                reasons[place] = reason
        return reasons


def _of_each(reads: Mapping[Read, BoolArray], everyone: BoolArray) -> list[frozenset[Read]]:
    """Return what was read for each cycle; equal ones are the same."""
    masks = {id(has): has for has in (everyone, *reads.values())}
    who_read = list(zip(*[has.tolist() for has in masks.values()], strict=True))
    own = {}
    for who in set(who_read):
        theirs = set(compress(masks, who))
        own[who] = frozenset([read for read, has in reads.items() if id(has) in theirs])
    return [own[who] for who in who_read]

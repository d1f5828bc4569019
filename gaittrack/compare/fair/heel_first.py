"""How many steps began with the heel: the counts that stand beside the first question.

In come a condition and its reference, out come both counts, walk by walk dealt anew: so many walks
show a change, do not show one, or are too few to tell. Counts are outside of the family of
questions; the foot's pitch at contact carries the verdict.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from gaittrack.compare.fair.fairness import Group
from gaittrack.compare.fair.pair import Pair
from gaittrack.compare.intervals.counts import CountComparison, compare_counts
from gaittrack.reasons import Reason
from gaittrack.vocabulary import SIDES, Side
from gaittrack.words import ENGLISH

HeelFinding = Literal["counts_changed", "counts_not_shown", "counts_cannot_tell"]


@dataclass(frozen=True, slots=True)
class HeelFirst:
    """Heel-first steps of one side in a condition and in the reference.

    Attributes
    ----------
    finding : HeelFinding
        What the walks by themselves show.
    """

    side: Side
    condition: str
    reference: str
    counts: CountComparison
    finding: HeelFinding

    def say(self, language: str = ENGLISH) -> str:
        """Return the counts and what they show, as one phrase."""
        own, reference = self.counts.own, self.counts.reference
        counted = Reason(
            "heel_first_steps",
            n_heel=own.n_kind,
            n_known=own.n_steps,
            n_heel_reference=reference.n_kind,
            n_known_reference=reference.n_steps,
        )
        found = Reason(self.finding, p=self.counts.p, least_p=self.counts.least_p)
        return f"{counted.say(language)}; {found.say(language)}"


def heel_first_steps(pair: Pair) -> list[HeelFirst]:
    """Count the heel-first steps of both sides, where contacts are known in both conditions."""
    found = []
    for side in SIDES:
        counts = compare_counts(_walks(pair.own, side), _walks(pair.reference, side))
        if counts.own.n_steps and counts.reference.n_steps:
            names = pair.own.name, pair.reference.name
            found.append(HeelFirst(side, *names, counts, _finding(counts)))
    return found


def _finding(counts: CountComparison) -> HeelFinding:
    if counts.is_changed:
        return "counts_changed"
    return "counts_not_shown" if counts.can_tell else "counts_cannot_tell"


def _walks(group: Group, side: Side) -> list[tuple[int, int]]:
    """Return heel-first steps and steps whose contact is known, walk by walk."""
    found = []
    for walk in group.walks:
        known = [
            contact
            for contact in walk.contacts.get(side, ())
            if isinstance(contact, str) and contact != "unknown"
        ]
        found.append((known.count("heel"), len(known)))
    return found

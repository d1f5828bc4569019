"""How the page for the person is worded: values, directions, sides, and what the two are called.

In come facts of a comparison, out come its sentences in one language.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from gaittrack.compare.verdict import NOT_DEFINED, NOT_TRUSTED
from gaittrack.compare.walks import MEASURE_BY_NAME
from gaittrack.compare.watch import WatchItem
from gaittrack.report.language import Language
from gaittrack.report.person_points import OF_THE_WHOLE, Missing, Point, Topic
from gaittrack.vocabulary import Side

Kind = Literal["brace", "visits", "named"]


@dataclass(frozen=True, slots=True)
class Called:
    """What is compared, and how its two sides are called in one language.

    Attributes
    ----------
    kind : {"brace", "visits", "named"}
        With and without brace, two visits, or two conditions of which no more is known.
    before, here : str
        ``without the brace``, ``with the brace``.
    worn : str
        What was worn at both visits, as a sentence; empty elsewhere.
    where : str
        Codes of the person, visits and conditions, for the file.
    """

    kind: Kind
    before: str
    here: str
    worn: str = ""
    where: str = ""


@dataclass(frozen=True, slots=True)
class Words:
    """Fills the gaps of texts: how the two sides are called, values, directions."""

    language: Language
    called: Called

    def say(self, key: str, **values: object) -> str:
        """Return a text of the language."""
        named = {"before": self.called.before, "here": self.called.here}
        return self.language.say(key, **named, **values)

    def side(self, side: str) -> str:
        """Return the word for a side."""
        return self.language.say(f"side.{side}")

    def values(self, point: Point) -> tuple[str, str]:
        """Return the value of the reference and of the condition."""
        row = point.row
        return (
            self.language.quantity(row.reference_value, row.unit),
            self.language.quantity(row.value, row.unit),
        )

    def heading(self, point: Point) -> str:
        """Return what a point says, in one sentence without its stop."""
        topic = point.topic.name
        key = point.outcome if point.outcome in ("more", "less", "same") else "unclear"
        subject = self.language.say(f"{topic}.subject_{point.row.side}")
        return self.say(f"{topic}.{key}", subject=subject)

    def change(self, point: Point, bound: float, towards: int) -> str:
        """Return one end of an interval as ``3 mm higher``, rounded away from the middle."""
        is_up = bound > 0 or (bound == 0 and point.is_up)
        size = self.language.quantity(
            abs(bound), point.row.unit, towards=towards if is_up else -towards
        )
        word = "more_word" if is_up else "less_word"
        return f"{size} {self.language.say(f'{point.topic.name}.{word}')}"

    def sign(self, item: WatchItem) -> str:
        """Return a sign that fired as a sentence."""
        unit = MEASURE_BY_NAME[item.measure].unit
        both = (item.value, item.reference_value)
        here, before = (self.language.quantity(value, unit) for value in both)
        if here == before:
            here, before = (self.language.quantity(value, unit, finer=1) for value in both)
        values = self.say("sign.values", value_here=here, value_before=before)
        return self.say(f"sign.{item.sign}", side=self.side(item.side), values=values)

    def name(self, topic: Topic, side: Side, sides: Sequence[Side]) -> str:
        """Return what a topic is called; with its side where the page tells of two."""
        name = self.language.say(f"{topic.name}.name")
        if len(sides) < 2 or topic.name == OF_THE_WHOLE:
            return name
        return self.language.say("page.name_of_side", name=name, side=self.side(side))

    def missing(self, each: Missing, sides: Sequence[Side]) -> Iterator[str]:
        """Yield why a topic is not on the page."""
        topic = each.topic.name
        name = self.name(each.topic, each.side, sides)
        is_measured = each.row is not None and each.row.verdict != NOT_DEFINED
        key = "not_compared" if is_measured else "not_measured"
        if each.row is not None and each.row.verdict == NOT_TRUSTED:
            yield self.say("missing.not_trusted", name=name)
        elif topic == "foot_down" and _seldom_heel(each):
            yield self.say("missing.foot_down", name=name)
            yield self.heels(each)
        elif topic == "toe" and is_measured:
            yield self.say("missing.toe", name=name)
        else:
            yield self.say(f"missing.{key}", name=name)

    def heels(self, each: Missing | Point) -> str:
        """Return in how many steps the heel touched first."""
        return self.say(
            "result.heel",
            n_here=each.heels[0],
            n_all_here=each.heels[1],
            n_before=each.heels_before[0],
            n_all_before=each.heels_before[1],
        )


def _seldom_heel(each: Missing) -> bool:
    counts = (each.heels, each.heels_before)
    return all(n_all for _, n_all in counts) and any(n < n_all for n, n_all in counts)

"""How the page for the person is worded: what is told of each leg, counts, values, who is meant.

In come parts of an answer and its walks, out come sentences in one language for one audience.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from gaittrack.answer import Finding
from gaittrack.compare.intervals.verdict import NOT_COMPARABLE, NOT_TRUSTED
from gaittrack.compare.judged.rows import ComparisonRow
from gaittrack.compare.judged.watch import WatchItem
from gaittrack.compare.walked.walks import MEASURE_BY_NAME, WalkRecord
from gaittrack.reasons import Reason
from gaittrack.report.language import Audience, Language
from gaittrack.report.person_points import HEEL, TOPICS, Point

Kind = Literal["brace", "visits", "named"]
End = Literal["above", "below", "level"]
ROUNDS_TO_FLOOR_MM: Final = 2.5
"""Toes below this height are told as low as the floor: half of the half centimetre that is told."""
PART_OF_SECOND_S: Final = 0.05
"""Rates are told as what turns in this time."""
_DEFAULT_QUESTION: Final[Mapping[str, str]] = {
    "how_the_foot_meets_the_floor": "landing",
    "how_fast_it_comes_down": "falling",
    "how_it_is_lifted_in_swing": "lift",
    "how_the_toe_clears_the_floor": "toe",
    "how_far_the_leg_must_lift": "thigh",
    "whether_the_knee_holds": "knee_give",
    "whether_the_ankle_keeps_its_freedom": "push_off",
    "how_the_person_walks": "speed",
}
_IN_COUNTS: Final = (HEEL, "toe")
"""Topics told in counts of steps, leg by leg."""
_VALUE_ALONE: Final = ("thigh", "push_off", "speed")
"""Topics whose values need no words beside."""
_OF_FILE: Final = "file"
_NOT_IN_ANGLES: Final = frozenset(
    {"no_angle", "no_angle_in_sheet", "no_point", "angles_only", "no_speed"}
    | {"contact_type_not_known"}
)
"""Codes of what is missing where files hold no points."""
_WHY: Final = {
    "contact_type_changed": "heel_first",
    "no_first_rocker": "heel_first",
    "no_plantarflexion": "too_few",
    "minimum_too_often_missing": "too_few",
    "no_minimum": "too_few",
    "no_point": "no_point",
}
"""Code of a reason → what is said of it."""


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
        Codes of the person and the visit, for the head of the sheet.
    """

    kind: Kind
    before: str
    here: str
    worn: str = ""
    where: str = ""


@dataclass(frozen=True, eq=False, slots=True)
class Words:
    """Fills the gaps of texts: how the two sides are called, who is meant, values."""

    language: Language
    called: Called
    audience: Audience
    records: Sequence[WalkRecord] = ()

    def say(self, key: str, **values: object) -> str:
        """Return a text with its gaps filled."""
        gaps = {"before": self.called.before, "here": self.called.here}
        for name in ("your", "you_walk", "you_step"):
            if f"gap.{name}" in self.language.texts:
                gaps[name] = self.language.text(f"gap.{name}", self.audience)
        gaps |= {capital(name): capital(text) for name, text in gaps.items()}
        return self.language.text(key, self.audience).format_map(gaps | values)

    def leg(self, legs: Sequence[str]) -> str:
        """Return what one leg or both are called."""
        return self.say("leg.both" if len(legs) > 1 else f"leg.{legs[0]}")

    def heading(self, point: Point) -> str:
        """Return what changed, in one line."""
        way = "up" if point.is_up else "down"
        if point.topic == HEEL:
            kinds = [self.landed(each, is_here=True)[0] == HEEL for each in point.findings]
            return self.say(f"heel.{way}" if set(kinds) == {point.is_up} else f"heel.{way}_often")
        bit = "" if point.is_sure else self.say("page.a_bit")
        return self.say(f"{point.topic}.{way}", bit=bit)

    def lines(self, point: Point) -> Iterator[str]:
        """Yield what was measured without and with, of each leg."""
        if len(point.findings) > 1 and point.topic not in _IN_COUNTS:
            sides = [finding.side for finding in point.findings]
            each_leg = zip(
                *(self.captions(point, place) for place in range(len(sides))), strict=True
            )
            for how, said in zip((self.called.before, self.called.here), each_leg, strict=True):
                told = self.say("page.each_leg", **dict(zip(sides, said, strict=True)))
                yield f"{capital(how)}: {told}."
        else:
            for place, finding in enumerate(point.findings):
                yield from self._of_leg(point, place, finding)
        if point.is_to_talk:
            yield self.say("page.to_talk")
        if not point.is_sure:
            yield self.say("page.unsure")

    def _of_leg(self, point: Point, place: int, finding: Finding) -> Iterator[str]:
        leg = f"{capital(self.leg([finding.side]))}, " if len(point.findings) > 1 else ""
        for is_here in (False, True):
            row = point.rows[place] if point.rows else None
            said, more = self._said(point.topic, finding, row, is_here=is_here)
            how = self.called.here if is_here else self.called.before
            yield f"{leg}{how if leg else capital(how)}: {said}.{more}"

    def captions(self, point: Point, place: int = 0) -> tuple[str, str]:
        """Return what each of the two pictures shows, of one of its legs."""
        if point.topic == HEEL:
            both = (self.landed(point.findings[place], is_here=here)[0] for here in (False, True))
            return tuple(self.say(f"heel.cap_{kind}") for kind in both)  # type: ignore[return-value]
        return self.short(point.rows[place])

    def rulers(self, point: Point) -> tuple[str, str]:
        """Return both heights as they stand beside a ruler; empty for what is no height."""
        return self.values(point.rows[0], is_short=True) if point.topic == "toe" else ("", "")

    def short(self, row: ComparisonRow) -> tuple[str, str]:
        """Return both values of a row in a few words."""
        values = self.values(row, is_short=True)
        ends = zip(_ends(row, values), values, strict=True)
        before, here = (
            self.say(f"{TOPICS[row.measure]}.cap_{self._known(row, end)}", value=value.lstrip("−"))
            for end, value in ends
        )
        return before, here

    def is_told_apart(self, point: Point) -> bool:
        """Tell whether both values differ in words, on each leg."""
        return all(before != here for before, here in map(self.short, point.rows))

    def values(self, row: ComparisonRow, *, is_short: bool = False) -> tuple[str, str]:
        """Return both values with their unit, as coarse as lets them differ."""
        return self.told_values(row.measure, row.reference_value, row.value, is_short=is_short)

    def told_values(self, measure: str, *both: float, is_short: bool = False) -> tuple[str, str]:
        """Return two values of a measure with their unit; short as below a picture."""
        own, short = MEASURE_BY_NAME[measure].unit, "_short" if is_short else ""
        say, unit = self.language.quantity, f"cm{short}"
        if own == "mm":
            halves = [self.language.in_halves(each / 10, unit) for each in both]
            if halves[0] == halves[1]:
                halves = [say(each / 10, unit, 1) for each in both]
            return halves[0], halves[1]
        factor = PART_OF_SECOND_S if own == "deg/s" else 1.0
        key, decimals = ("m_s", 2) if own == "m/s" else (f"deg{short}", 0)
        before, here = (say(each * factor, key, decimals) for each in both)
        return before, here

    def landed(self, finding: Finding, *, is_here: bool) -> tuple[str, int, int]:
        """Return how most steps began, how many did, and how many are known.

        Without heel contact in most, the kind of contact is counted in the walks.
        """
        if finding.heel is None:
            raise ValueError(f"{finding.question} has no counts of heel contacts")
        heel = finding.heel
        counts = heel.counts.own if is_here else heel.counts.reference
        if 2 * counts.n_kind >= counts.n_steps:
            return HEEL, counts.n_kind, counts.n_steps
        name = heel.condition if is_here else heel.reference
        kinds = Counter(
            contact
            for record in self.records
            if record.condition == name
            for contact in record.contacts.get(finding.side, ())
        )
        other = max(("forefoot", "flat"), key=lambda kind: kinds[kind])
        return other, kinds[other], counts.n_steps

    def _said(
        self, topic: str, finding: Finding, row: ComparisonRow | None, *, is_here: bool
    ) -> tuple[str, str]:
        """Return what was measured in one condition, and a further sentence."""
        if topic == HEEL or row is None:
            kind, n, n_all = self.landed(finding, is_here=is_here)
            return self.say(f"heel.{kind}", n=n, n_all=n_all), ""
        values = self.values(row)
        end = self._known(row, _ends(row, values)[is_here])
        told = {"value": values[is_here].lstrip("−")}
        more = ""
        if topic == "toe":
            steps = steps_of(self.records, row.condition if is_here else row.reference, row)
            n_low = int(np.count_nonzero(steps < ROUNDS_TO_FLOOR_MM))
            counts = {"n": n_low, "n_all": len(steps)}
            if end == "level":
                return self.say("toe.level", **counts), ""
            more = f" {self.say('toe.low_steps', **counts)}" if n_low else ""
        return self.say(f"{topic}.{end}", **told), more

    def _known(self, row: ComparisonRow, end: End) -> End:
        """Return the end itself, or the one that stands for it: nobody has toes in the floor."""
        topic = TOPICS[row.measure]
        tries: tuple[End, ...] = (end, "level", "above")
        return next(each for each in tries if f"{topic}.{each}" in self.language.texts)

    def name(self, findings: Sequence[Finding], *, n_legs: int) -> str:
        """Return what a question is called, with its leg where the page tells of two.

        Parameters
        ----------
        findings : sequence of Finding
            Of one question: of one leg or of both.
        """
        first = findings[0]
        topic = TOPICS[first.rows[0].measure] if first.rows else _DEFAULT_QUESTION[first.question]
        name = self.say(f"{topic}.name")
        if n_legs < 2 or first.is_of_both_legs or len(findings) > 1:
            return name
        return self.say("page.of_leg", name=name, leg=self.leg([first.side]))

    def quiet(self, findings: Sequence[Finding], *, n_legs: int) -> str:
        """Return a question without a sure change, and values that tell by themselves."""
        name = self.name(findings, n_legs=n_legs)
        row = findings[0].rows[0]
        if len(findings) > 1 or TOPICS[row.measure] not in _VALUE_ALONE:
            return name
        before, here = self.values(row)
        return self.say("page.values", name=name, before=before.partition(" ")[0], here=here)

    def why(self, finding: Finding) -> str:
        """Return in a few words why something could not be told."""
        codes = {code for row in finding.rows for code in codes_of(row.verdict_reason)}
        if finding.verdict == NOT_TRUSTED:
            return self.say("why.not_trusted")
        if codes & _NOT_IN_ANGLES and self._has_angles_only:
            return self.say("why.angles_only")
        key = next((key for code, key in _WHY.items() if code in codes), "not_defined")
        if key == "not_defined" and finding.verdict == NOT_COMPARABLE:
            key = "not_comparable"
        return self.say(f"why.{key}")

    def why_no_heel(self) -> str:
        """Return why it is not known how the foot lands."""
        return self.say("why.angles_only" if self._has_angles_only else "why.not_defined")

    @property
    def _has_angles_only(self) -> bool:
        return all(record.angle_origin == _OF_FILE for record in self.records)

    def sign(self, item: WatchItem, *, is_in_both: bool = False) -> str:
        """Return a sign in a sentence, with its values where they are no rate."""
        said = [self.say(f"sign.{item.sign}", Leg=capital(self.leg([item.side])))]
        if is_in_both:
            said.append(self.say("sign.in_both"))
        elif MEASURE_BY_NAME[item.measure].unit != "deg/s":
            before, here = self.told_values(item.measure, item.reference_value, item.value)
            said.append(self.say("sign.values", value_before=before, value_here=here))
        return " ".join(said)


def steps_of(
    records: Sequence[WalkRecord], condition: str, row: ComparisonRow
) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Return the defined values of a row's measure and side in one condition, step by step."""
    key = (row.measure, row.side)
    values = [
        record.tables[key].values
        for record in records
        if record.condition == condition and key in record.tables
    ]
    joined = np.concatenate(values) if values else np.empty(0)
    defined: np.ndarray[tuple[int], np.dtype[np.float64]] = joined[np.isfinite(joined)]
    return defined


def codes_of(reason: Reason | None) -> Iterator[str]:
    """Yield the codes of a reason and of the reasons in it."""
    if reason is None:
        return
    yield reason.code
    for _, value in reason.parameters:
        if isinstance(value, Reason):
            yield from codes_of(value)


def capital(text: str) -> str:
    """Return a text with a capital letter."""
    return f"{text[:1].upper()}{text[1:]}"


def _ends(row: ComparisonRow, values: tuple[str, str]) -> list[End]:
    found: list[End] = []
    for value, said in zip((row.reference_value, row.value), values, strict=True):
        is_nothing = not any(sign in said for sign in "123456789½")
        found.append("level" if is_nothing else "below" if value < 0 else "above")
    return found

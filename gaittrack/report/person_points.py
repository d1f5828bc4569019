"""What the page for the person shows, chosen by a fixed rule.

In come a comparison and its walks, out come at most three points, what else changed, and what could
not be compared. The rule, so that nobody picks what looks well:

1. Topics stand in the fixed order of ``TOPICS``. Of each, the first measure counts that is defined
   and comparable in both conditions, on the affected side.
2. Three topics are shown. First come those whose change is beyond measurement error in the
   direction that is written beside each topic (``always_shown``); then those with any change beyond
   measurement error; then the others. Within each, and on the page, the order of ``TOPICS`` holds.
3. Changes beyond measurement error that find no place are told in a sentence below the points, and
   the topics without one are named there.
4. Signs of the watch list that fire are told in a sentence each, unless a point shows them.
5. Of the first four topics, those that could not be compared are named.

Where both sides are affected, or none is recorded, a point is about the side that comes first by
the second rule, else about the braced one, else the left; the page says so. The other side then
stands in the sentences of the third and the fifth rule: nothing that changed on it is left out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from gaittrack.compare.comparison import Comparison
from gaittrack.compare.pair import MINIMUM_SHARE
from gaittrack.compare.rows import ComparisonRow
from gaittrack.compare.verdict import (
    CHANGE_IN_THESE_WALKS,
    LARGER,
    NO_CHANGE,
    NO_ERROR_FIGURE,
    NOT_COMPARABLE,
    NOT_DEFINED,
    NOT_TRUSTED,
)
from gaittrack.compare.walks import WalkRecord
from gaittrack.compare.watch import SIGN_MEASURES, WatchItem
from gaittrack.vocabulary import SIDES, Side

MOST_POINTS: Final = 3
Outcome = Literal[
    "more",
    "less",
    "same",
    "these_walks",
    "one_of_many",
    "unsure",
    "one_walk",
    "no_range",
    "no_error",
]


@dataclass(frozen=True, slots=True)
class Topic:
    """Something a person can be shown of their walk.

    Attributes
    ----------
    name : str
        Table of its words.
    measures : tuple of str
        The first that can be compared counts.
    always_shown : str
        Direction of a change that is never left out, as a verdict names it. It only decides what
        is shown: what a change means is not said anywhere.
    """

    name: str
    measures: tuple[str, ...]
    always_shown: str


TOPICS: Final = (
    Topic("landing", ("foot_pitch_at_contact_deg", "dorsiflexion_at_contact_deg"), "lower"),
    Topic("toe", ("minimum_toe_clearance_mm", "toe_height_under_hip_mm"), "lower"),
    Topic("foot_up", ("mid_swing_dorsiflexion_deg", "peak_swing_dorsiflexion_deg"), "lower"),
    Topic("foot_down", ("loading_response_plantarflexion_rate_deg_s",), "faster"),
    Topic(
        "leg_lift",
        ("peak_hip_flexion_pelvis_thigh_deg", "peak_hip_flexion_thigh_vertical_deg"),
        "higher",
    ),
    Topic("speed", ("walking_speed_m_s",), "lower"),
    Topic("knee", ("loading_knee_flexion_peak_deg",), "higher"),
)
_NAMED_WHEN_MISSING: Final = TOPICS[:4]
OF_THE_WHOLE: Final = "speed"
"""A topic that is the same for both sides."""
AT_ONE_MOMENT: Final = frozenset(
    {"toe_height_under_hip_mm", "mid_swing_dorsiflexion_deg", "dorsiflexion_at_contact_deg"}
)
"""Told where a lowest or largest value cannot be compared: values of one moment of the swing."""
MEASURES_NEEDED: Final = frozenset(
    {
        MINIMUM_SHARE,
        *(name for topic in TOPICS for name in topic.measures),
        *SIGN_MEASURES,
    }
)
"""All that a comparison has to know for the page."""


@dataclass(frozen=True, eq=False, slots=True)
class Point:
    """One point of the page, in facts.

    Attributes
    ----------
    outcome : Outcome
        What may be said.
    n_beyond, n_here : int
        Steps here that lie beyond the median of the reference's steps, in the direction of the
        difference; and all of them.
    heels, heels_before : (int, int)
        Steps that began with the heel, of those whose contact is known.
    """

    topic: Topic
    row: ComparisonRow
    outcome: Outcome
    n_beyond: int
    n_here: int
    heels: tuple[int, int]
    heels_before: tuple[int, int]

    @property
    def is_up(self) -> bool:
        """Whether the value is larger than in the reference."""
        return self.row.difference > 0


@dataclass(frozen=True, eq=False, slots=True)
class Missing:
    """A topic that could not be compared on a side; ``row`` says why."""

    topic: Topic
    side: Side
    row: ComparisonRow | None
    heels: tuple[int, int]
    heels_before: tuple[int, int]


@dataclass(frozen=True, eq=False, slots=True)
class ChosenPoints:
    """What is shown.

    Attributes
    ----------
    points : tuple of Point
        At most three, in the order of ``TOPICS``.
    also : tuple of Point
        Changes beyond measurement error that found no place.
    rest : tuple of Point
        Without such a change and without a place.
    sides : tuple of Side
        Of whom the page tells; with two, the first is shown where none comes first by the rule.
    signs : tuple of WatchItem
        That fire and are no point's.
    """

    points: tuple[Point, ...]
    also: tuple[Point, ...]
    rest: tuple[Point, ...]
    signs: tuple[WatchItem, ...]
    missing: tuple[Missing, ...]
    sides: tuple[Side, ...]


def choose_points(comparison: Comparison, records: Sequence[WalkRecord]) -> ChosenPoints:
    """Choose what the page shows, by the rule above.

    Parameters
    ----------
    comparison : Comparison
        Of two conditions, with the ``MEASURES_NEEDED``.
    records : sequence of WalkRecord
        The walks in it.
    """
    sides = shown_sides(comparison)
    found = {topic.name: _of_sides(topic, comparison, records, sides) for topic in TOPICS}
    points = [of_sides[0] for of_sides in found.values() if of_sides]
    ranked = sorted(points, key=_rank)
    other_side = [point for of_sides in found.values() for point in of_sides[1:]]
    shown, left = ranked[:MOST_POINTS], [*ranked[MOST_POINTS:], *other_side]
    also = [point for point in left if point.row.verdict == LARGER]
    rest = [point for point in left if point.row.verdict != LARGER]
    told = {(point.row.measure, point.row.side) for point in (*shown, *also)}
    signs = [
        item
        for item in comparison.watch
        if item.status == "fires" and (item.measure, item.side) not in told
    ]
    missing = [
        _missing(topic, comparison, records, side)
        for topic in _NAMED_WHEN_MISSING
        for side in sides
        if side not in {point.row.side for point in found[topic.name]}
    ]
    return ChosenPoints(
        tuple(point for point in points if point in shown),
        tuple(also),
        tuple(rest),
        tuple(signs),
        tuple(missing),
        sides,
    )


def _rank(point: Point) -> int:
    if is_always_shown(point):
        return 0
    return 1 if point.row.verdict == LARGER else 2


def shown_sides(comparison: Comparison) -> tuple[Side, ...]:
    """Return the affected side; both when both are or none is recorded, the braced one first."""
    affected = comparison.settings["affected"]
    if affected in SIDES:
        return (affected,)
    worn = comparison.settings["conditions"].values()
    braced = [each["orthosis_side"] for each in worn]
    return ("right", "left") if "right" in braced and "left" not in braced else ("left", "right")


def is_always_shown(point: Point) -> bool:
    """Tell whether a point has a change that is never left out."""
    return point.row.verdict == LARGER and point.row.direction == point.topic.always_shown


def _of_sides(
    topic: Topic, comparison: Comparison, records: Sequence[WalkRecord], sides: Sequence[Side]
) -> list[Point]:
    """Return the point of each side that can be compared, the one to show first."""
    found = [
        _facts(topic, row, records)
        for side in sides
        if (row := _comparable_row(topic, comparison, side)) is not None
    ]
    return sorted(found, key=_rank)[: 1 if topic.name == OF_THE_WHOLE else None]


def _comparable_row(topic: Topic, comparison: Comparison, side: Side) -> ComparisonRow | None:
    rows = {row.measure: row for row in comparison.rows if row.side == side}
    for name in topic.measures:
        if name in rows and rows[name].verdict not in (NOT_DEFINED, NOT_TRUSTED, NOT_COMPARABLE):
            return rows[name]
    return None


def _facts(topic: Topic, row: ComparisonRow, records: Sequence[WalkRecord]) -> Point:
    own, before = (steps_of(records, name, row) for name in (row.condition, row.reference))
    middle = float(np.median(before)) if len(before) else math.nan
    beyond = own > middle if row.difference > 0 else own < middle
    return Point(
        topic,
        row,
        _outcome(row),
        int(np.count_nonzero(beyond)),
        len(own),
        _heels(records, row.condition, row.side),
        _heels(records, row.reference, row.side),
    )


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


def _outcome(row: ComparisonRow) -> Outcome:
    if row.verdict == LARGER:
        return "more" if row.difference > 0 else "less"
    if row.verdict == NO_CHANGE:
        return "same"
    if row.verdict == CHANGE_IN_THESE_WALKS:
        why = row.verdict_reason
        is_one_of_many = why is not None and why.code == "one_of_many_questions"
        return "one_of_many" if is_one_of_many else "these_walks"
    if row.verdict == NO_ERROR_FIGURE:
        return "no_error"
    if min(row.n_walks, row.n_walks_reference) < 2:
        return "one_walk"
    return "unsure" if math.isfinite(row.low) else "no_range"


def _heels(records: Sequence[WalkRecord], condition: str, side: Side) -> tuple[int, int]:
    contacts = [
        contact
        for record in records
        if record.condition == condition
        for contact in record.contacts.get(side, ())
        if isinstance(contact, str) and contact != "unknown"
    ]
    return contacts.count("heel"), len(contacts)


def _missing(
    topic: Topic, comparison: Comparison, records: Sequence[WalkRecord], side: Side
) -> Missing:
    rows = [row for row in comparison.rows if row.measure in topic.measures and row.side == side]
    spoiled = [row for row in rows if row.verdict == NOT_TRUSTED]
    refused = [row for row in rows if row.verdict == NOT_COMPARABLE]
    row = next(iter([*spoiled, *refused, *rows]), None)
    reference = comparison.settings["reference"]
    own = next(name for name in comparison.settings["conditions"] if name != reference)
    return Missing(topic, side, row, _heels(records, own, side), _heels(records, reference, side))

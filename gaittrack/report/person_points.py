"""Which parts of an answer the page for the person shows as points, and which it only names.

In comes an :class:`gaittrack.answer.Answer`, out come :class:`ToldPoints`. What changed, by how
much and how sure that is stands in the answer; here is only its place on the page:

1. What is larger than measurement error, as the answer sorts it; the height of the toes stands
   before the lift of the foot that makes it. What is the same on both legs is one point.
2. A loss, and a change that a new sign belongs to, are to be talked about. One of them has a place
   whatever else changed. They stand last, but first where nothing changed as a brace is meant to.
3. Free places show changes within error, which say so; one place is left to what the walks cannot
   tell, where that is more than one question.
4. The rest is named: changes without a place in full, each other question under its verdict.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final

from gaittrack.answer import Answer, Finding
from gaittrack.compare.intervals.verdict import CHANGE_IN_THESE_WALKS
from gaittrack.compare.judged.rows import ComparisonRow
from gaittrack.compare.judged.watch import WatchItem
from gaittrack.compare.walked.questions import QUESTION_CODES
from gaittrack.vocabulary import Side

MOST_POINTS: Final = 3
HEEL: Final = "heel"
TOPICS: Final = {
    "foot_pitch_at_contact_deg": "landing",
    "dorsiflexion_at_contact_deg": "landing_ankle",
    "loading_response_plantarflexion_rate_deg_s": "falling",
    "foot_to_floor_rate_deg_s": "falling",
    "mid_swing_dorsiflexion_deg": "lift",
    "minimum_toe_clearance_mm": "toe",
    "toe_height_under_hip_mm": "toe",
    "peak_hip_flexion_pelvis_thigh_deg": "thigh",
    "peak_hip_flexion_thigh_vertical_deg": "thigh",
    "knee_yield_in_loading_deg": "knee_give",
    "stance_knee_flexion_minimum_deg": "knee_straight",
    "push_off_range_deg": "push_off",
    "walking_speed_m_s": "speed",
}
"""Measure that answers a question → table of its words."""
SHOWN_BY: Final = {
    "knee_flexion_in_loading": ("knee_give", True),
    "knee_hyperextension_in_stance": ("knee_straight", False),
    "lost_push_off_range": ("push_off", False),
}
"""Sign → topic and direction of the point that shows it."""
_LIFT: Final = "how_it_is_lifted_in_swing"
_KINDS: Final = ("gain", "change", "loss", "none")


@dataclass(frozen=True, eq=False, slots=True)
class Point:
    """One change, on one leg or alike on both.

    Attributes
    ----------
    topic : str
        Table of its words.
    findings : tuple of Finding
        One for each leg.
    rows : tuple of ComparisonRow
        The row told of each; empty where only heel contacts are known.
    is_up : bool
        Whether the value, or the share of heel-first steps, is larger than in the reference.
    is_sure : bool
        Whether it is larger than measurement error.
    """

    topic: str
    findings: tuple[Finding, ...]
    rows: tuple[ComparisonRow, ...]
    is_up: bool
    is_sure: bool
    is_to_talk: bool = False

    @property
    def legs(self) -> tuple[Side, ...]:
        """Whose it is; empty for what is the same for both."""
        return tuple(each.side for each in self.findings if not each.is_of_both_legs)


@dataclass(frozen=True, eq=False, slots=True)
class ToldPoints:
    """What is shown, and what is named below.

    Attributes
    ----------
    points : tuple of Point
        At most three.
    also : tuple of Point
        Larger than error, without a place; of the other leg too.
    quiet : tuple of Finding
        Without a change larger than error and without a place, what cannot be told left out.
    untold : tuple of Finding
        What could not be told.
    signs : tuple of WatchItem
        New ones that no point shows.
    """

    points: tuple[Point, ...]
    also: tuple[Point, ...]
    quiet: tuple[Finding, ...]
    untold: tuple[Finding, ...]
    signs: tuple[WatchItem, ...]


def told_points(answer: Answer, is_told_apart: Callable[[Point], bool]) -> ToldPoints:
    """Give each part of an answer its place.

    Parameters
    ----------
    is_told_apart : callable
        Whether both values of a point differ in the words of the page; a change within error that
        does not is only named.
    """
    changed = [point for each in answer.changed for point in _changed(each, answer)]
    ranked = sorted(_of_legs(changed), key=_rank)
    talk = [point for point in ranked if point.is_to_talk]
    others = [point for point in ranked if not point.is_to_talk]
    n_talk = min(len(talk), max(1, MOST_POINTS - len(others)))
    shown = others[: MOST_POINTS - n_talk] + talk[:n_talk]
    n_untold = len({each.question for each in answer.untold})
    free = MOST_POINTS - len(shown) - (n_untold > 1 and len(shown) < MOST_POINTS)
    unsure = sorted(filter(is_told_apart, _of_legs(_unsure(answer))), key=_rank)[: max(free, 0)]
    left = [point for point in ranked if point not in shown]
    other_leg = [point for each in answer.other_leg for point in _changed(each, answer)]
    placed = {id(each) for point in (*shown, *left, *unsure) for each in point.findings}
    untold = {id(each) for each in answer.untold}
    return ToldPoints(
        _on_page((*shown, *unsure)),
        (*left, *other_leg),
        tuple(each for each in answer.findings if id(each) not in placed | untold),
        answer.untold,
        tuple(
            item for item in answer.new_signs if not _is_shown(item, (*shown, *left, *other_leg))
        ),
    )


def _changed(finding: Finding, answer: Answer) -> Iterable[Point]:
    """Yield the points of a finding: its heel contact, else each topic that changed."""
    if finding.has_heel_changed:
        is_up = finding.heel_share_change > 0
        yield Point(HEEL, (finding,), finding.rows[:1], is_up, True, finding.kind == "loss")
        return
    topics: set[str] = set()
    for row in finding.changed:
        topic, is_up = TOPICS[row.measure], row.difference > 0
        has_sign = any(
            SHOWN_BY.get(item.sign) == (topic, is_up) and item.side == finding.side
            for item in answer.new_signs
        )
        if topic not in topics:
            yield Point(topic, (finding,), (row,), is_up, True, has_sign or finding.kind == "loss")
        topics.add(topic)


def _unsure(answer: Answer) -> Iterable[Point]:
    for finding in answer.findings:
        if finding.kind == "none" and finding.verdict == CHANGE_IN_THESE_WALKS:
            row = finding.rows[0]
            yield Point(TOPICS[row.measure], (finding,), (row,), row.difference > 0, False)


def _of_legs(points: Iterable[Point]) -> list[Point]:
    """Join what is told of two legs in the same words."""
    found: dict[object, Point] = {}
    for point in points:
        key = (point.topic, point.is_up, point.is_sure, point.is_to_talk)
        if key in found:
            both = found[key]
            point = replace(
                both, findings=both.findings + point.findings, rows=both.rows + point.rows
            )
        found[key] = point
    return list(found.values())


def _rank(point: Point) -> tuple[bool, int, float]:
    first = point.findings[0]
    place = QUESTION_CODES.index(first.question) + 1.5 * (first.question == _LIFT)
    return not first.is_aim, _KINDS.index(first.kind), place


def _on_page(points: Sequence[Point]) -> tuple[Point, ...]:
    """Return points in their order: what is to be talked about is last, first without a gain."""
    has_gain = any(point.findings[0].kind == "gain" for point in points)

    def place(point: Point) -> tuple[bool, bool, bool]:
        return not point.findings[0].is_aim, point.is_to_talk == has_gain, not point.is_sure

    return tuple(sorted(points, key=place))


def _is_shown(item: WatchItem, points: Sequence[Point]) -> bool:
    shown = SHOWN_BY.get(item.sign)
    return any(shown == (each.topic, each.is_up) and item.side in each.legs for each in points)

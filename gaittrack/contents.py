"""What a recording shows and what it does not, before any number is used.

In comes a measured walk, out come the questions it can answer, the points of the body it lacks and
what they are needed for, the measures that none of its strides define, how well its markers were
seen, and a short account.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from gaittrack.compare.row_words import number
from gaittrack.compare.walked.questions import QUESTIONS, QuestionCode
from gaittrack.errors import Problem
from gaittrack.kinematics.motion import MarkerFacts
from gaittrack.measured_walk import MeasuredWalk
from gaittrack.measures import MEASURES
from gaittrack.reasons import Reason
from gaittrack.vocabulary import SIDES, EventSource, Side

SERVES: Final[dict[str, str]] = {
    "heel": "contacts from markers, foot pitch, ankle angle, step length and width",
    "forefoot": "contacts and toe-offs from markers, foot pitch, ankle angle",
    "toe_point": "toe clearance",
    "ankle_centre": "ankle and knee angle, shank lean",
    "knee_centre": "ankle, knee and hip angle, shank lean",
    "hip_centre": "knee and hip angle, toe height under the hip",
    "pelvis": "hip angle against the pelvis, hip hiking",
}
"""What each point of the body is needed for, in words."""


@dataclass(frozen=True, slots=True)
class MissingPoints:
    """Points of the body that a recording lacks on one or both sides.

    Attributes
    ----------
    names : tuple of str
        With the side, except ``pelvis``.
    serves : str
        What they are needed for.
    """

    names: tuple[str, ...]
    serves: str


@dataclass(frozen=True, slots=True)
class NotMeasured:
    """Measures that no kept stride of a side defines, for one reason.

    Attributes
    ----------
    titles : tuple of str
        Of the measures; empty when there is no stride at all.
    """

    side: Side
    reason: Reason
    titles: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Contents:
    """What is in one recording.

    Attributes
    ----------
    labels : tuple of str
        Of its markers.
    landmarks : dict of str to str
        Landmark to label.
    missing : tuple of MissingPoints
        Empty for a recording without markers.
    n_kept, n_cycles : dict of Side to int
        Strides that count, and all.
    sources : dict of EventSource to int
        Events in use by where they come from.
    questions : dict of Side to tuple of QuestionCode
        Those of the eight that the strides of a leg can answer: a measure of the ladder is defined.
    """

    labels: tuple[str, ...]
    landmarks: dict[str, str]
    missing: tuple[MissingPoints, ...]
    not_measured: tuple[NotMeasured, ...]
    n_kept: dict[Side, int]
    n_cycles: dict[Side, int]
    sources: dict[EventSource, int]
    problems: tuple[Problem, ...]
    questions: dict[Side, tuple[QuestionCode, ...]]


def contents_of(walk: MeasuredWalk) -> Contents:
    """Return what is in a recording."""
    return Contents(
        tuple(walk.trial.markers),
        dict(walk.motion.landmark_labels),
        tuple(missing_points(walk)),
        tuple(not_measured(walk)),
        {side: sum(c.is_kept for c in walk.cycles if c.side == side) for side in SIDES},
        {side: sum(c.side == side for c in walk.cycles) for side in SIDES},
        dict(Counter(event.source for event in walk.events.events)),
        walk.problems,
        {side: answerable(walk, side) for side in SIDES},
    )


def answerable(walk: MeasuredWalk, side: Side) -> tuple[QuestionCode, ...]:
    """Return the questions of which a kept stride of a leg defines a measure, in their order."""
    rows = (row for row in walk.rows if row.side == side and row.reason is None)
    defined = {row.measure for row in rows}
    return tuple(
        question.code
        for question in QUESTIONS
        if any(not defined.isdisjoint(ladder) for ladder in question.marks)
    )


def missing_points(walk: MeasuredWalk) -> list[MissingPoints]:
    """Return the points of the body that a recording with markers lacks."""
    if not walk.trial.markers:
        return []
    found = []
    for point, serves in SERVES.items():
        names = (point,) if point == "pelvis" else tuple(f"{side}_{point}" for side in SIDES)
        missing = tuple(name for name in names if name not in walk.motion.points)
        if missing:
            found.append(MissingPoints(missing, serves))
    return found


def not_measured(walk: MeasuredWalk) -> list[NotMeasured]:
    """Return the measures that no kept stride of a side shows, by their commonest reason."""
    found = []
    for side in SIDES:
        titles: dict[Reason, list[str]] = {}
        for measure in MEASURES:
            rows = [row for row in walk.rows if (row.measure, row.side) == (measure.name, side)]
            reasons = Counter(row.reason for row in rows if row.reason is not None)
            if rows and reasons.total() == len(rows):
                reason = reasons.most_common(1)[0][0]
                titles.setdefault(reason, []).append(measure.title)
        found += [NotMeasured(side, reason, tuple(names)) for reason, names in titles.items()]
        if not any(cycle.is_kept and cycle.side == side for cycle in walk.cycles):
            found.append(NotMeasured(side, Reason("no_kept_cycle"), ()))
    return found


def marker_lines(markers: MarkerFacts) -> Iterator[str]:
    """Give how often landmarks were seen, how much they tremble, and how long segments are."""
    rare = sorted(markers.seen_share.items(), key=lambda item: item[1])
    if rare:
        told = [f"{key} {100 * share:.0f}%" for key, share in rare if share < 1]
        yield f"seen in every frame: all{' but ' + ', '.join(told) if told else ''}"
    known = {key: noise for key, noise in markers.noise_m.items() if not math.isnan(noise)}
    if known:
        noisiest = max(known, key=lambda key: known[key])
        typical_mm = 1000 * sorted(known.values())[len(known) // 2]
        yield (
            f"noise of a coordinate from frame to frame: {number(typical_mm, 2)} mm, at most "
            f"{number(1000 * known[noisiest], 2)} mm ({noisiest})"
        )
    lengths = [f"{name} {1000 * metres:.0f}" for name, metres in markers.segments_m.items()]
    if lengths:
        yield f"segments, mm: {', '.join(lengths)}"

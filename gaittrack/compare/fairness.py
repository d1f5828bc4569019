"""Whether a comparison is fair, point by point.

In come the walks of two conditions and what was worn, out come notes. An unfair point never hides
a number: it is named, and stands as a label on the rows it touches.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from gaittrack.compare.condition import Condition
from gaittrack.compare.measurement_error import Situation
from gaittrack.compare.verdict import ContactShares
from gaittrack.compare.walks import WalkRecord
from gaittrack.vocabulary import SIDES, Side

SPEED_GAP_M_S: Final = 0.05
SPEED_GAP_PERCENT: Final = 10.0
"""Both must be passed for speeds to count as different."""
MATCH_M_S: Final = 0.1
"""Strides within this of the common speed make the speed-matched result."""
LEAST_WALKS: Final = 3
LEAST_STRIDES: Final = 10
LEAST_DAYS_WORN: Final = 14
LARGEST_CONTACT_GAP_POINTS: Final = 20.0
"""Heel-contact shares further apart count as another contact type; own choice, as for the share of
strides with a toe minimum."""

Level = Literal["warning", "info"]


@dataclass(frozen=True, slots=True)
class FairnessNote:
    """One point a reader of the comparison should know.

    Attributes
    ----------
    kind : str
        Short name, used as a label on rows: ``speed differs``.
    level : {"warning", "info"}
        ``warning``: the two conditions differ in it; ``info``: it could not be checked.
    text : str
        One sentence with the figures.
    side : {"left", "right"} or None
        Side it concerns; None for both.
    """

    kind: str
    level: Level
    condition: str
    reference: str
    text: str
    side: Side | None = None


@dataclass(frozen=True, eq=False, slots=True)
class Group:
    """The walks of one condition and what was worn.

    Attributes
    ----------
    worn : Condition or None
        None when nothing is recorded.
    """

    name: str
    walks: tuple[WalkRecord, ...]
    worn: Condition | None

    @property
    def speed_m_s(self) -> float:
        """Mean of the walks' speeds; NaN when none is known."""
        known = [walk.mean_speed_m_s for walk in self.walks if not math.isnan(walk.mean_speed_m_s)]
        return sum(known) / len(known) if known else math.nan


def speeds_differ(own_m_s: float, reference_m_s: float) -> bool:
    """Whether two speeds differ by more than 0.05 m/s and more than 10 % of their mean."""
    gap = abs(own_m_s - reference_m_s)
    return gap > SPEED_GAP_M_S and gap > SPEED_GAP_PERCENT / 100 * (own_m_s + reference_m_s) / 2


def contact_shares(group: Group, side: Side) -> ContactShares:
    """Count heel contacts of one side over all strides of a condition."""
    n_heel = n_known = 0
    for walk in group.walks:
        contacts = walk.contacts.get(side, ())
        n_heel += sum(each == "heel" for each in contacts)
        n_known += sum(isinstance(each, str) and each != "unknown" for each in contacts)
    return ContactShares(n_heel, n_known)


def why_origins_differ(own: Group, reference: Group) -> str:
    """Return why angles of two conditions must not be mixed; empty when they are of one kind."""
    origins = [_texts(walk.angle_origin for walk in group.walks) for group in (reference, own)]
    if origins[0] == origins[1] and len(origins[0]) <= 1:
        return ""
    return f"angles come from {_or(origins[0])} in the reference and from {_or(origins[1])} here"


def find_situation(own: Group, reference: Group) -> Situation:
    """Return which floors apply; unknown handling of markers counts as moved."""
    days = [_sessions(group) for group in (own, reference)]
    if all(days) and days[0] != days[1]:
        return "other day"
    if True in (_replaced(own), _replaced(reference)):
        return "same session, markers moved"
    # Markers are moved to an orthosis: where one was worn, it is that condition's word that counts.
    braced = [group for group in (own, reference) if group.worn and group.worn.is_braced]
    untouched = all(_replaced(group) is False for group in braced or (own, reference))
    return "same session, markers untouched" if untouched else "same session, markers moved"


def _replaced(group: Group) -> bool | None:
    return group.worn.markers_replaced if group.worn else None


def _sessions(group: Group) -> set[str]:
    known = {walk.session for walk in group.walks if walk.session}
    if not known and group.worn and group.worn.day:
        known = {group.worn.day}
    return known


def check_fairness(own: Group, reference: Group) -> list[FairnessNote]:
    """Check a pair of conditions, point by point.

    Returns
    -------
    list of FairnessNote
        Warnings first.
    """
    found: list[FairnessNote] = []

    def note(kind: str, text: str, level: Level = "warning", side: Side | None = None) -> None:
        found.append(FairnessNote(kind, level, own.name, reference.name, text, side))

    _check_speed(own, reference, note)
    _check_recording(own, reference, note)
    _check_counts(own, reference, note)
    _check_contact(own, reference, note)
    _check_worn(own, reference, note)
    _check_markers(own, reference, note)
    return sorted(found, key=lambda each: each.level != "warning")


_Note = Callable[..., None]


def _check_speed(own: Group, reference: Group, note: _Note) -> None:
    speeds = (reference.speed_m_s, own.speed_m_s)
    if any(math.isnan(each) for each in speeds):
        note("speed not known", "Walking speed is not known in both conditions.", "info")
    elif speeds_differ(*speeds):
        note(
            "speed differs",
            f"Walking speed is {speeds[0]:.2f} m/s in the reference and {speeds[1]:.2f} m/s here: "
            "angles and clearances change with speed. A speed-matched result stands beside.",
        )


_RECORDED: Final = (
    ("event_source", "event source differs", "Events come from"),
    ("smoothing", "filter differs", "Smoothing is"),
    ("neutral_source", "neutral differs", "Zero of the foot comes from"),
    ("angle_origin", "angle origin differs", "Angles come from"),
)


def _check_recording(own: Group, reference: Group, note: _Note) -> None:
    for name, kind, words in _RECORDED:
        told = [_texts(getattr(walk, name) for walk in group.walks) for group in (reference, own)]
        if told[0] != told[1] or len(told[0]) > 1:
            note(kind, f"{words} {_or(told[0])} in the reference and {_or(told[1])} here.")
    rates = [
        _texts(_rate_words(walk.rate_hz) for walk in group.walks) for group in (reference, own)
    ]
    if rates[0] != rates[1] or len(rates[0]) > 1:
        note(
            "frame rate differs",
            f"Recorded at {_or(rates[0])} in the reference and {_or(rates[1])} here.",
        )
    belts = [{walk.is_treadmill for walk in group.walks} for group in (reference, own)]
    if belts[0] != belts[1] or len(belts[0]) > 1:
        note("treadmill against floor", "Treadmill and overground walks are compared.")
    if find_situation(own, reference) == "other day":
        days = [_or(sorted(_sessions(group))) for group in (reference, own)]
        note("other day", f"Recorded on different days: {days[0]} and {days[1]}.")


def _rate_words(rate_hz: float) -> str:
    return "a rate not known" if math.isnan(rate_hz) else f"{rate_hz:g} Hz"


def _texts(values: Iterable[str]) -> list[str]:
    return sorted({value for value in values if value})


def _or(values: Sequence[str]) -> str:
    return " or ".join(values) if values else "an unknown source"


def _check_counts(own: Group, reference: Group, note: _Note) -> None:
    for group in (reference, own):
        n_walks = len(group.walks)
        if n_walks < LEAST_WALKS:
            note(
                "few walks",
                f"{group.name} has {n_walks} walk{'s' * (n_walks != 1)}; "
                f"{LEAST_WALKS} are the least for a fair comparison.",
            )
        for side in SIDES:
            counts = [len(walk.contacts.get(side, ())) for walk in group.walks]
            if 0 < sum(counts) < LEAST_STRIDES:
                note(
                    "few strides",
                    f"{group.name} has {sum(counts)} {side} strides; {LEAST_STRIDES} are needed.",
                    side=side,
                )


def _check_contact(own: Group, reference: Group, note: _Note) -> None:
    for side in SIDES:
        shares = [contact_shares(group, side).heel_percent for group in (reference, own)]
        if abs(shares[0] - shares[1]) > LARGEST_CONTACT_GAP_POINTS:
            note(
                "contact type differs",
                f"On the {side} the heel touches first in {shares[0]:.0f} % of reference strides "
                f"and {shares[1]:.0f} % of these.",
                side=side,
            )


_WORN: Final = (
    ("walking_aid", "walking aid differs", "Walking aid"),
    ("hand_support", "hand support differs", "Hand support"),
    ("speed_instruction", "speed instruction differs", "Speed instruction"),
    ("surface", "surface differs", "Surface"),
)


def _check_worn(own: Group, reference: Group, note: _Note) -> None:
    pair = [group.worn or Condition(group.name) for group in (reference, own)]
    for name, kind, words in _WORN:
        told = [getattr(worn, name) for worn in pair]
        if None in told:
            note(f"{words.lower()} not recorded", f"{words} is not recorded in both.", "info")
        elif told[0].strip().lower() != told[1].strip().lower():
            note(kind, f"{words} is {told[0]!r} in the reference and {told[1]!r} here.")
    _check_footwear(pair, note)
    for worn in pair:
        if worn.is_braced is None:
            note("orthosis not recorded", f"Orthosis of {worn.name!r} is not recorded.", "info")
        elif worn.is_braced and worn.days_worn is None:
            note("days worn not recorded", f"Days worn of {worn.name!r} not recorded.", "info")
        elif worn.is_braced and worn.days_worn is not None and worn.days_worn < LEAST_DAYS_WORN:
            note(
                "worn under two weeks",
                f"The orthosis of {worn.name!r} has been worn for {worn.days_worn:g} days; people "
                "still get used to it.",
            )


_FOOTWEAR: Final = (
    *("footwear", "heel_height_mm", "fore_sole_height_mm", "heel_sole_differential_mm"),
    *("heel_modification", "insole", "foot_orthosis"),
)


def _check_footwear(pair: list[Condition], note: _Note) -> None:
    barefoot = [worn.is_barefoot for worn in pair]
    differing = [
        name.replace("_", " ")
        for name in _FOOTWEAR
        if None not in (told := [getattr(worn, name) for worn in pair]) and told[0] != told[1]
    ]
    if True in barefoot and False in barefoot:
        note(
            "barefoot against shoe",
            "One condition is barefoot, the other in shoes: the fair pair is the same shoe "
            "without and with the orthosis.",
        )
    elif differing or False in [worn.same_footwear for worn in pair]:
        note("footwear differs", f"Footwear differs in: {', '.join(differing) or 'the shoes'}.")
    elif None in barefoot and True not in [worn.same_footwear for worn in pair]:
        note("footwear not recorded", "Footwear is not recorded in both conditions.", "info")


def _check_markers(own: Group, reference: Group, note: _Note) -> None:
    surfaces = [group.worn.marker_surface if group.worn else None for group in (reference, own)]
    moved = None not in surfaces and surfaces[0] != surfaces[1]
    if moved or True in (_replaced(own), _replaced(reference)):
        where = f" ({surfaces[0]} in the reference, {surfaces[1]} here)" if moved else ""
        note("markers moved", f"Markers were moved between the conditions{where}.")
    elif find_situation(own, reference) == "same session, markers moved":
        note(
            "marker handling not recorded",
            "Whether markers were moved to the orthosis is not recorded; they count as moved.",
            "info",
        )

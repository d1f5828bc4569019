"""Whether a comparison is fair, point by point.

In come the walks of two conditions and what was worn, out come notes. An unfair point never hides
a number: it is named, and stands as a label on the rows it touches.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from gaittrack.compare.fair.condition import Condition
from gaittrack.compare.intervals.verdict import ContactShares
from gaittrack.compare.measurement_error.marker_errors import Handling, MarkerGroup, find_handling
from gaittrack.compare.walked.same_body import why_noise_differs, why_not_of_one_person
from gaittrack.compare.walked.walks import WalkRecord
from gaittrack.reasons import Parameter, Reason
from gaittrack.vocabulary import SIDES, Side

SPEED_GAP_M_S: Final = 0.05
SPEED_GAP_PERCENT: Final = 10.0
"""Both must be passed for speeds to count as different."""
MATCH_M_S: Final = 0.1
"""Strides within this of the common speed make the speed-matched result."""
LEAST_WALKS: Final = 3
LEAST_STRIDES: Final = 10
LEAST_DAYS_WORN: Final = 14

FEW_WALKS: Final = "few_walks"
FEW_STRIDES: Final = "few_strides"

Level = Literal["warning", "info"]


@dataclass(frozen=True, slots=True)
class FairnessNote:
    """One point a reader of the comparison should know.

    Attributes
    ----------
    reason : Reason
        What it is, with the figures; its code is the label of rows.
    level : {"warning", "info"}
        ``warning``: the two conditions differ in it; ``info``: it could not be checked.
    side : {"left", "right"} or None
        Side it concerns; None for both.
    """

    reason: Reason
    level: Level
    condition: str
    reference: str
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
    def is_barefoot(self) -> bool | None:
        """Whether no shoe was worn; None when not recorded."""
        return None if self.worn is None else self.worn.is_barefoot

    @property
    def as_walked(self) -> tuple[float, bool | None]:
        """Speed, and whether barefoot: where typical values hold goes by them."""
        return self.speed_m_s, self.is_barefoot

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


def why_origins_differ(own: Group, reference: Group) -> Reason | None:
    """Return why angles of two conditions must not be mixed; None when they are of one kind."""
    told = [_texts(walk.angle_origin for walk in group.walks) for group in (reference, own)]
    if told[0] == told[1] and len(told[0]) <= 1:
        return None
    return Reason("angle_origins_differ", reference=_said(told[0]), own=_said(told[1]))


def marker_handling(own: Group, reference: Group) -> Handling:
    """Return what was done to the markers between two conditions.

    Which were put on again is not recorded: all of them. Who put them on is not recorded: the same
    person on one day, another on another day.
    """
    return find_handling(
        _put_on_again(own, reference),
        is_other_day=_is_other_day(own, reference),
        is_same_tester=_is_same_tester(own, reference),
    )


def _is_other_day(own: Group, reference: Group) -> bool:
    days = [_sessions(group) for group in (own, reference)]
    return all(map(bool, days)) and days[0] != days[1]


def _put_on_again(own: Group, reference: Group) -> tuple[MarkerGroup, ...] | None:
    """Return what was moved for either condition; None when not recorded."""
    # Markers are moved to an orthosis: where one was worn, it is that condition's word that counts.
    braced = [group for group in (own, reference) if group.worn and group.worn.is_braced]
    moved: dict[MarkerGroup, None] = {}
    for group in (own, reference):
        told = group.worn.groups_put_on_again if group.worn else None
        if told is None and (_replaced(group) or group in (braced or (own, reference))):
            return None
        moved |= dict.fromkeys(told or ())
    return tuple(moved)


def _is_same_tester(own: Group, reference: Group) -> bool | None:
    told = [group.worn.markers_placed_by if group.worn else None for group in (own, reference)]
    known = [each.strip().lower() for each in told if each is not None]
    return known[0] == known[1] if len(known) == 2 else None


def _replaced(group: Group) -> bool | None:
    """Tell whether markers were put on again for a condition; None when not recorded."""
    if group.worn and group.worn.markers_put_on_again is not None:
        return True
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
    checks = (_check_speed, _check_recording, _check_counts, _check_worn, _check_markers)
    found = _notes(own, reference, *checks, _check_body)
    return sorted(found, key=lambda each: each.level != "warning")


def worn_notes(own: Group, reference: Group) -> list[FairnessNote]:
    """Return the notes on what was worn and how the person walked in it."""
    return _notes(own, reference, _check_worn)


_Note = Callable[..., None]
_Check = Callable[[Group, Group, _Note], None]


def _notes(own: Group, reference: Group, *checks: _Check) -> list[FairnessNote]:
    found: list[FairnessNote] = []

    def note(reason: Reason, level: Level = "warning", side: Side | None = None) -> None:
        found.append(FairnessNote(reason, level, own.name, reference.name, side))

    for check in checks:
        check(own, reference, note)
    return found


def _check_speed(own: Group, reference: Group, note: _Note) -> None:
    speeds = (reference.speed_m_s, own.speed_m_s)
    if any(math.isnan(each) for each in speeds):
        note(Reason("speed_not_known"), "info")
    elif speeds_differ(*speeds):
        note(Reason("speed_differs", reference_m_s=speeds[0], own_m_s=speeds[1]))


_RECORDED: Final = (
    ("event_source", "event_source_differs"),
    ("smoothing", "filter_differs"),
    ("neutral_source", "neutral_differs"),
    ("angle_origin", "angle_origin_differs"),
)


def _check_recording(own: Group, reference: Group, note: _Note) -> None:
    for name, code in _RECORDED:
        told = [_texts(getattr(walk, name) for walk in group.walks) for group in (reference, own)]
        _note_difference(code, told, note)
    _note_difference("frame_rate_differs", [_rates(group) for group in (reference, own)], note)
    belts = [
        tuple(sorted({"treadmill" if walk.is_treadmill else "floor" for walk in group.walks}))
        for group in (reference, own)
    ]
    _note_difference("treadmill_against_floor", belts, note)
    if _is_other_day(own, reference):
        days = [tuple(sorted(_sessions(group))) for group in (reference, own)]
        note(Reason("other_day", reference=days[0], own=days[1]))


def _note_difference(code: str, told: Sequence[tuple[Parameter, ...]], note: _Note) -> None:
    """Note what is told of reference and condition, if it differs or is not the same throughout."""
    if told[0] != told[1] or len(told[0]) > 1:
        note(Reason(code, reference=_said(told[0]), own=_said(told[1])))


def _rates(group: Group) -> tuple[Reason, ...]:
    """Return the frame rates of a condition, equal ones once; those not known last."""
    known = {float(f"{w.rate_hz:g}") for w in group.walks if not math.isnan(w.rate_hz)}
    unknown = any(math.isnan(walk.rate_hz) for walk in group.walks)
    rates = [Reason("rate", rate_hz=rate_hz) for rate_hz in sorted(known)]
    return (*rates, *([Reason("rate_not_known")] if unknown else []))


def _texts(values: Iterable[str]) -> tuple[str, ...]:
    return tuple(sorted({value for value in values if value}))


def _said(told: tuple[Parameter, ...]) -> Parameter:
    return told or Reason("unknown_source")


def _check_counts(own: Group, reference: Group, note: _Note) -> None:
    for group in (reference, own):
        n_walks = len(group.walks)
        if n_walks < LEAST_WALKS:
            note(Reason(FEW_WALKS, condition=group.name, n=n_walks, least=LEAST_WALKS))
        for side in SIDES:
            n_strides = sum(len(walk.contacts.get(side, ())) for walk in group.walks)
            if 0 < n_strides < LEAST_STRIDES:
                reason = Reason(
                    FEW_STRIDES,
                    condition=group.name,
                    n_strides=n_strides,
                    side=side,
                    least=LEAST_STRIDES,
                )
                note(reason, side=side)


_WORN: Final = (
    ("walking_aid", "walking_aid_differs", "walking_aid_not_recorded"),
    ("hand_support", "hand_support_differs", "hand_support_not_recorded"),
    ("speed_instruction", "speed_instruction_differs", "speed_instruction_not_recorded"),
    ("surface", "surface_differs", "surface_not_recorded"),
)


def _check_worn(own: Group, reference: Group, note: _Note) -> None:
    pair = [group.worn or Condition(group.name) for group in (reference, own)]
    for name, differs, not_recorded in _WORN:
        told = [getattr(worn, name) for worn in pair]
        if None in told:
            note(Reason(not_recorded), "info")
        elif told[0].strip().lower() != told[1].strip().lower():
            note(Reason(differs, reference=told[0], own=told[1]))
    _check_footwear(pair, note)
    for worn in pair:
        if worn.is_braced is None and worn.orthosis:
            said = Reason("orthosis_in_other_words", condition=worn.name, orthosis=worn.orthosis)
            note(said, "info")
        elif worn.is_braced is None:
            note(Reason("orthosis_not_recorded", condition=worn.name), "info")
        elif worn.is_braced and worn.days_worn is None:
            note(Reason("days_worn_not_recorded", condition=worn.name), "info")
        elif worn.is_braced and worn.days_worn is not None and worn.days_worn < LEAST_DAYS_WORN:
            note(Reason("worn_under_two_weeks", condition=worn.name, days=worn.days_worn))


_FOOTWEAR: Final = (
    *("footwear", "heel_height_mm", "fore_sole_height_mm", "heel_sole_differential_mm"),
    *("heel_modification", "insole", "foot_orthosis"),
)


def _check_footwear(pair: list[Condition], note: _Note) -> None:
    barefoot = [worn.is_barefoot for worn in pair]
    shoes = [worn.footwear for worn in pair]
    differing = tuple(
        Reason("named", name=name)
        for name in _FOOTWEAR
        if None not in (told := [getattr(worn, name) for worn in pair]) and told[0] != told[1]
    )
    if True in barefoot and False in barefoot:
        note(Reason("barefoot_against_shoe", barefoot=pair[barefoot.index(True)].name))
    elif differing or False in [worn.same_footwear for worn in pair]:
        note(Reason("footwear_differs", fields=differing or Reason("the_shoes")))
    elif None in shoes and True not in [worn.same_footwear for worn in pair]:
        note(Reason("footwear_not_recorded"), "info")


def _check_body(own: Group, reference: Group, note: _Note) -> None:
    if reason := why_not_of_one_person(own.walks, reference.walks):
        note(reason)
    for side in SIDES:
        if noise := why_noise_differs(own.walks, reference.walks, side):
            note(noise, side=side)


def _check_markers(own: Group, reference: Group, note: _Note) -> None:
    surfaces = [group.worn.marker_surface if group.worn else None for group in (reference, own)]
    known = [each for each in surfaces if each is not None]
    moved = len(known) == 2 and known[0] != known[1]
    if moved or True in (_replaced(own), _replaced(reference)):
        where = Reason("marker_surfaces", reference=known[0], own=known[1]) if moved else ""
        note(Reason("markers_moved", surfaces=where))
    elif not _is_other_day(own, reference) and _put_on_again(own, reference) is None:
        note(Reason("marker_handling_not_recorded"), "info")

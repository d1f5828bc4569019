"""The places of markers that a map can name, in the order of the screen, and where they are drawn.

The drawing is our own: a right leg from the side and both legs from the front, 452 by 500.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from gaittrack.vocabulary import SIDES, Side

Spot = tuple[int, int]


@dataclass(frozen=True, slots=True)
class MarkerPlace:
    """One place of the body, on both sides or in the middle.

    Attributes
    ----------
    name : str
        Of the landmark without its side.
    side_view, front_view : (int, int) or None
        Where it is drawn, in front on the right leg.
    """

    name: str
    words: str
    side_view: Spot | None = None
    front_view: Spot | None = None

    @property
    def keys(self) -> dict[Side | None, str]:
        """Landmark keys by side, right first; None is the middle."""
        if self.name == "sacrum":
            return {None: "sacrum"}
        return {side: f"{side}_{self.name}" for side in reversed(SIDES)}


PLACES: Final[dict[str, tuple[MarkerPlace, ...]]] = {
    "Pelvis": (
        MarkerPlace("asis", "front of the pelvis", (143, 78), (288, 79)),
        MarkerPlace("psis", "back of the pelvis", (73, 84)),
        MarkerPlace("sacrum", "sacrum, in the middle", (66, 112)),
        MarkerPlace("hip", "hip, outside", (99, 136), (270, 138)),
    ),
    "Leg": (
        MarkerPlace("knee", "knee, outside", (100, 290), (288, 290)),
        MarkerPlace("knee_medial", "knee, inside", None, (325, 290)),
        MarkerPlace("fibula_head", "head of the fibula", (88, 322), (283, 322)),
        MarkerPlace("tibial_tuberosity", "below the kneecap", (123, 326), (307, 332)),
        MarkerPlace("ankle", "ankle, outside", (99, 462), (288, 452)),
        MarkerPlace("ankle_medial", "ankle, inside", None, (322, 455)),
    ),
    "Foot": (
        MarkerPlace("heel", "heel", (79, 494)),
        MarkerPlace("toe", "toe, or tip of the shoe", (188, 500), (303, 508)),
        MarkerPlace("metatarsal_2", "second or third ray", (164, 478), (303, 483)),
        MarkerPlace("metatarsal_5", "small toe side", (143, 501), (278, 494)),
        MarkerPlace("metatarsal_1", "big toe side", None, (327, 494)),
    ),
}
"""By part of the body. Numbers of the drawing count through."""
NUMBER_OF: Final = {
    place.name: number
    for number, place in enumerate((p for own in PLACES.values() for p in own), 1)
}


def words_of(landmark: str) -> str:
    """Return what the screen calls a landmark: ``heel, right``."""
    for places in PLACES.values():
        for place in places:
            for side, key in place.keys.items():
                if key == landmark:
                    return f"{place.words}, {side}" if side else place.words
    return landmark

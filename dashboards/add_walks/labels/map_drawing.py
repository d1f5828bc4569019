"""Where the places of markers are: legs with numbered places, and the file's own points.

In come which places are filled and chosen, and one moment of a file, out comes SVG.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Mapping
from html import escape
from typing import Final

from dashboards.add_walks.labels.map_places import NUMBER_OF, PLACES, MarkerPlace
from gaittrack.vocabulary import SIDES

_SIDE: Final = (
    "M50 52C50 88 54 96 56 142C58 190 68 236 70 282C72 322 76 366 78 392C82 430 84 442 83 458"
    "C76 470 70 486 72 504L78 512L190 514C199 512 199 502 190 498C166 490 146 474 132 458"
    "C122 448 116 446 116 442C116 420 128 372 130 316C131 304 127 292 128 282C136 246 146 208"
    " 148 142C156 108 157 96 157 52"
)
_PELVIS_SIDE: Final = "M68 90C84 62 126 60 150 74C152 92 140 104 130 114C122 124 112 136 100 138"
_BONE: Final = "M99 148C94 200 97 250 99 292C100 350 99 410 99 456"
_FRONT: Final = (
    "M262 104C266 170 284 240 288 284C290 330 286 380 292 452C286 470 274 484 272 500"
    "C276 512 300 516 322 512C326 490 324 470 324 456C326 400 334 330 330 290"
    "C331 250 332 200 330 160"
)
_PELVIS_FRONT: Final = (
    "M345 76C331 60 301 58 285 74C279 90 283 120 297 132C315 144 331 146 345 146"
    "C359 146 375 144 393 132C407 120 411 90 405 74C389 58 359 60 345 76"
)
_MIRROR: Final = 690
"""The left leg from the front: this less the other."""
_RADIUS: Final = 11
HIDDEN: Final = 'aria-hidden="true"'
"""Of the other drawings of a place: the keyboard stops at one, and arrows go on from there."""
_JOINED: Final = ("asis", "hip", "knee", "ankle", "heel", "toe")
_WIDE, _HIGH = 270.0, 210.0


def drawing(filled: Collection[str], chosen: str, press: str) -> str:
    """Return both legs with the places as buttons; arrow keys go from place to place.

    Parameters
    ----------
    filled : collection of str
        Names of places for which every side has a label.
    chosen : str
        The place that is looked at.
    press : str
        Store that takes the name of a place that is pressed.
    """
    spots = "".join(
        _spots(place, filled, chosen, press) for own in PLACES.values() for place in own
    )
    return (
        '<svg class="map-body" viewBox="0 0 452 560" role="group" '
        'aria-label="Places of markers on the body">'
        f'<path class="bone" d="{_BONE}"/><path d="{_SIDE}"/><path d="{_PELVIS_SIDE}"/>'
        f'<path d="{_FRONT}"/><path transform="translate({_MIRROR} 0) scale(-1 1)" d="{_FRONT}"/>'
        f'<path d="{_PELVIS_FRONT}"/><path class="floor" d="M38 517H216M258 517H432"/>{spots}'
        '<text x="126" y="552">right leg from the side</text>'
        '<text x="302" y="535">right</text><text x="388" y="535">left</text>'
        '<text x="345" y="552">from the front</text></svg>'
    )


def _spots(place: MarkerPlace, filled: Collection[str], chosen: str, press: str) -> str:
    kind = "chosen" if place.name == chosen else "filled" if place.name in filled else "empty"
    number = NUMBER_OF[place.name]
    value = escape(json.dumps({"act": "look", "place": place.name}))
    found = []
    label = f'role="button" aria-label="{number}: {escape(place.words)}"'
    key = f'tabindex="{0 if kind == "chosen" else -1}" {label}'
    front = place.front_view
    left = None if front is None else (_MIRROR - front[0], front[1])
    for spot in filter(None, (place.side_view, front, left)):
        ring = f'<circle class="ring" r="{_RADIUS + 4}"/>' if kind == "chosen" else ""
        found.append(
            f'<g class="spot {kind}" transform="translate({spot[0]} {spot[1]})" '
            f'data-press="{press}" data-value="{value}" {key if not found else HIDDEN}>'
            f"<title>{number}: {escape(place.words)}</title>{ring}"
            f'<circle r="{_RADIUS}"/><text y="4.5">{number}</text></g>'
        )
    return "".join(found)


def own_points(
    moment: Mapping[str, tuple[float, float]], labels: Mapping[str, str], chosen: str
) -> str:
    """Return the points of one moment from the right, right leg solid, left dashed.

    Parameters
    ----------
    moment : mapping of label to (float, float)
        Metres ahead and up.
    labels : mapping of landmark to label
        As chosen until now.
    chosen : str
        Name of the place whose points are marked and named.
    """
    if not moment:
        return ""
    ahead, up = zip(*moment.values(), strict=True)
    scale = min(_WIDE / max(max(ahead) - min(ahead), 0.5), _HIGH / max(max(up) - min(up), 0.5))

    def at(label: str) -> tuple[float, float]:
        x, y = moment[label]
        return round(15 + (x - min(ahead)) * scale, 1), round(15 + (max(up) - y) * scale, 1)

    legs = ""
    for side in SIDES:
        joined = [labels.get(f"{side}_{name}", "") for name in _JOINED]
        places = " ".join("{},{}".format(*at(label)) for label in joined if label in moment)
        legs += f'<polyline class="{side}" points="{places}"/>'
    dots = "".join('<circle cx="{}" cy="{}" r="3.5"/>'.format(*at(label)) for label in moment)
    marked = ""
    for key in (f"right_{chosen}", f"left_{chosen}", chosen):
        label = labels.get(key, "")
        if label in moment:
            x, y = at(label)
            marked += f'<circle class="chosen" cx="{x}" cy="{y}" r="5.5"/>'
            marked += f'<text x="{min(x, 220)}" y="{y + 17}">{escape(label)}</text>'
    floor = round(15 + (max(up) - min(up)) * scale + 6, 1)
    return (
        f'<svg class="map-points" viewBox="0 0 300 {floor + 26}" role="img" '
        f'aria-label="The points of the file from the right">'
        f'<path class="floor" d="M6 {floor}H294"/>{legs}{dots}{marked}</svg>'
    )

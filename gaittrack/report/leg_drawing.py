"""A leg from the side, drawn to scale: trouser leg, laced shoe, leaf and strap, floor.

In come angles in degrees and heights in millimetres, out comes SVG in millimetres of the leg. A
place is a complex number: forward, and up by its imaginary part. Own outline; a shoe is 282 mm
long. Colours are those of the page: ``without`` and ``with`` are classes of its style sheet.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from markupsafe import Markup

from gaittrack.report.svg_marks import picture, text_at

WIDTH, ABOVE, BELOW = 310.0, 256.0, 28.0
"""Of a picture: its floor lies at 0, ``BELOW`` is left under it."""
SHOE_MM: Final = 282.0
_ANKLE: Final = 74 + 100j
_SHANK_MM, _THIGH_MM, _SHOWN_THIGH_MM = 400.0, 410.0, 270.0
_ROOM_FOR_TEXT: Final = 20.0
_MARGIN: Final = 4.0
_UPPER: Final = (
    *(6 + 16j, 2 + 24j, 2 + 40j, 4 + 56j, 8 + 88j, 13 + 108j, 19 + 126j),
    *(22 + 140j, 34 + 143j, 40 + 132j, 56 + 110j, 100 + 108j, 131 + 131j),
    *(138 + 138j, 148 + 134j, 150 + 125j, 154 + 107j, 166 + 96j, 184 + 85j),
    *(210 + 71j, 240 + 59j, 262 + 46j, 280 + 36j, 286 + 24j, 276 + 13j),
)
_SOLE: Final = (
    *(276 + 13j, 264 + 4j, 240 + 0j, 212 + 0j, 190 + 0j, 174 + 2j, 158 + 7j),
    *(140 + 14j, 122 + 15j, 104 + 9j, 88 + 5j, 60 + 2j, 38 + 0j, 22 + 0j, 11 + 5j, 6 + 16j),
)
_SEAM: Final = (5 + 40j, 60 + 33j, 120 + 32j, 170 + 20j, 210 + 12j, 250 + 14j, 281 + 22j)
_TOE_CAP: Final = (228 + 64j, 213 + 52j, 209 + 36j, 215 + 16j)
_LACES: Final = ((144 + 116j, 163 + 120j), (154 + 101j, 173 + 107j), (168 + 88j, 185 + 96j))
_COLLAR: Final = (40 + 132j, 131 + 131j)
_CUFF: Final = (-36 + 44j, 50 + 44j)


@dataclass(frozen=True, slots=True)
class Foot:
    """Where a foot stands and how the shank leans over it.

    Attributes
    ----------
    pitch_deg : float
        Toes up positive.
    lean_deg : float
        Of the shank, forward positive.
    at : complex
        Of the ankle in the picture.
    scale : float
        Picture millimetres to one of the leg.
    """

    pitch_deg: float
    lean_deg: float
    at: complex
    scale: float = 1.0

    def foot(self, place: complex) -> complex:
        """Return where a place of the shoe is."""
        return self.at + self.scale * (place - _ANKLE) * _turned(self.pitch_deg)

    def shank(self, place: complex) -> complex:
        """Return where a place of the shank is, counted from the ankle."""
        return self.at + self.scale * place * _turned(-self.lean_deg)

    def thigh(self, place: complex, thigh_deg: float) -> complex:
        """Return where a place of the thigh is, counted from the knee."""
        return self.shank(_SHANK_MM * 1j) + self.scale * place * _turned(thigh_deg)

    def lowest(self) -> complex:
        """Return the lowest place of the sole."""
        return min(map(self.foot, _along(_SOLE)), key=lambda place: place.imag)


def foot_over_floor(
    pitch_deg: float, lean_deg: float, height_mm: float, scale: float = 1.0
) -> Foot:
    """Return a foot whose sole's lowest place is at a height, and never under the floor."""
    foot = Foot(pitch_deg, lean_deg, 0j, scale)
    ends = [foot.foot(place).real for place in _along(_SOLE)]
    right = (WIDTH - min(ends) - max(ends)) / 2
    up = max(height_mm, 0.0) * scale - foot.lowest().imag
    return Foot(pitch_deg, lean_deg, complex(right, up), scale)


def foot_in_picture(pitch_deg: float, at: complex, scale: float) -> Foot:
    """Return a foot under an upright shank, higher where it would hang out of the picture."""
    foot = Foot(pitch_deg, 0.0, at, scale)
    low = min(place.imag for place in _level_of(foot))
    return Foot(pitch_deg, 0.0, at + 1j * max(0.0, _MARGIN - BELOW - low), scale)


def svg(parts: Sequence[str], label: str, kind: str) -> Markup:
    """Return a picture.

    Parameters
    ----------
    kind : str
        ``without`` or ``with``: classes that give its colour.
    """
    box = f"0 {-ABOVE:g} {WIDTH:g} {ABOVE + BELOW:g}"
    return picture(box, label, parts, f' class="leg {kind}"')


def shoe(foot: Foot) -> str:
    """Return the shoe."""
    outline = tuple(map(foot.foot, (*_UPPER, *_SOLE[1:])))
    fine = "".join(_curve(tuple(map(foot.foot, each)), "fine") for each in (_SEAM, _TOE_CAP))
    laces = "".join(line(tuple(map(foot.foot, each)), "fine") for each in _LACES)
    return _curve(outline, "skin") + fine + laces


def lower_leg(foot: Foot) -> str:
    """Return the leg from the shoe to the calf, open at the top, behind the shoe."""
    back = (_CUFF[0], -44 + 110j, -58 + 150j, -62 + 330j)
    front = (_CUFF[1], 50 + 100j, 46 + 150j, 46 + 330j)
    edges = [tuple(map(foot.shank, each)) for each in (back, front)]
    return _sock(foot) + _sleeve(edges[0], edges[1])


def whole_leg(foot: Foot, thigh_deg: float, *, whole_thigh: bool = False) -> str:
    """Return the leg from the shoe to the thigh, behind the shoe.

    Parameters
    ----------
    thigh_deg : float
        Of the thigh to the vertical, knee ahead of the hip positive.
    whole_thigh : bool
        Up to the hip.
    """
    edges = _leg_edges(foot, thigh_deg, _THIGH_MM if whole_thigh else _SHOWN_THIGH_MM)
    return _sock(foot) + _sleeve(*edges)


def ghost(foot: Foot, thigh_deg: float) -> str:
    """Return the dotted outline of a leg over the same foot."""
    return "".join(_curve(each, "ghost") for each in _leg_edges(foot, thigh_deg, _SHOWN_THIGH_MM))


def brace(foot: Foot, *, knee: bool = False, jointed: bool = False) -> str:
    """Return leaf or joint, foot plate and strap.

    Parameters
    ----------
    knee : bool
        Whether the leg is drawn up to its knee or beyond: the strap is then seen below the knee.
    jointed : bool
        Two bars and the joint between them in place of a leaf.
    """
    top, small = (330.0, " small") if knee else (138.0, "")
    plate = tuple(map(foot.foot, (46 + 32j, 70 + 24j, 110 + 34j, 160 + 38j)))
    strap = (-56 + (top - 8) * 1j, -24 + (top - 22) * 1j, 20 + (top - 20) * 1j, 48 + top * 1j)
    band = _curve(tuple(map(foot.shank, strap)), f"strap{small}")
    return band + _upright(foot, top, small, jointed) + _curve(plate, f"plate{small}")


def _upright(foot: Foot, top: float, small: str, jointed: bool) -> str:
    """Return what runs from the strap to the foot plate."""
    if jointed:
        bars = (foot.shank(-52 + top * 1j), foot.shank(-40 + 60j), foot.at, foot.foot(46 + 32j))
        radius = 9 * foot.scale
        hinge = f'<circle class="hinge" cx="{foot.at.real:.1f}" cy="{-foot.at.imag:.1f}"'
        return line(bars, f"leaf{small}") + f'{hinge} r="{radius:.1f}"/>'
    leaf = (
        *(foot.shank(-60 + top * 1j), foot.shank(-60 + 0.7j * top), foot.shank(-46 + 60j)),
        *(foot.foot(28 + 108j), foot.foot(33 + 72j), foot.foot(32 + 40j), foot.foot(46 + 32j)),
    )
    return _curve(leaf, f"leaf{small}")


def floor() -> str:
    """Return the floor with its hatching."""
    hatch = "".join(line((x - 4j, x - 9 - 15j), "hatch") for x in range(14, int(WIDTH), 21))
    return line((2 + 0j, WIDTH - 2 + 0j), "floor") + hatch


def touch(place: complex) -> str:
    """Return the mark of where the shoe touches the floor first."""
    x = place.real
    return f'<path class="touch" d="M{x:.1f} 8l9 15h-18z"/>'


def ruler(place: complex, text: str) -> str:
    """Return a ruler from the floor up to a place, with its text beside it."""
    x, up = place.real + 12, place.imag
    ends = "".join(line((complex(x - 6, y), complex(x + 6, y)), "ruler") for y in (0.0, up))
    y = -6 if up > _ROOM_FOR_TEXT else 22
    words = text_at(round(x - 12, 1), y, text, "end")
    return line((complex(x, 0), complex(x, up)), "ruler") + ends + words


def level_and_sole(foot: Foot) -> str:
    """Return a dashed level, and the line of the sole that turns from it."""
    heel, toes = _level_of(foot)
    return line((heel, heel + SHOE_MM * foot.scale), "level") + line((heel, toes), "ruler")


def _level_of(foot: Foot) -> tuple[complex, complex]:
    """Return both ends of a line along the sole."""
    return foot.foot(0 - 14j), foot.foot(SHOE_MM - 14j)


def arrow(place: complex, length: float) -> str:
    """Return an arrow that begins at a place and points forward."""
    tip = place + length
    return line((place, tip), "ruler") + line((tip - 9 + 7j, tip, tip - 9 - 7j), "ruler")


def knee_of(foot: Foot) -> complex:
    """Return where the knee is."""
    return foot.shank(_SHANK_MM * 1j)


def hanging_from(hip: complex, thigh_deg: float, lean_deg: float, pitch_deg: float) -> Foot:
    """Return the foot of a leg that hangs from a hip."""
    scale = 0.3
    knee = hip - scale * _THIGH_MM * 1j * _turned(thigh_deg)
    return Foot(pitch_deg, lean_deg, knee - scale * _SHANK_MM * 1j * _turned(-lean_deg), scale)


def line(places: Sequence[complex], kind: str) -> str:
    """Return straight lines from place to place."""
    return f'<path class="{kind}" d="M{"L".join(map(_told, places))}"/>'


def _sock(foot: Foot) -> str:
    (back, front), collar = map(foot.shank, _CUFF), tuple(map(foot.foot, _COLLAR))
    return line((back + 9 * foot.scale, collar[0]), "fine") + line((front, collar[1]), "fine")


def _leg_edges(
    foot: Foot, thigh_deg: float, thigh_mm: float
) -> tuple[tuple[complex, ...], tuple[complex, ...]]:
    """Return the back and the front edge, from the cuff over the knee up the thigh."""

    def thigh(place: complex) -> complex:
        return foot.thigh(place, thigh_deg)

    back = (
        *map(foot.shank, (_CUFF[0], -58 + 150j, -74 + 270j, -54 + 380j)),
        *map(thigh, (-50 + 60j, -74 + 150j, -80 + thigh_mm * 1j)),
    )
    front = (
        *map(foot.shank, (_CUFF[1], 50 + 160j, 44 + 300j, 54 + 388j)),
        *map(thigh, (64 + 40j, 78 + 140j, 82 + thigh_mm * 1j)),
    )
    return back, front


def _sleeve(back: tuple[complex, ...], front: tuple[complex, ...]) -> str:
    """Return a trouser leg between two edges: washed, edged but at its top."""
    inside = f"{_drawn(back)}L{_drawn(front[::-1])[1:]}Z"
    wash = f'<path class="sleeve" d="{inside}"/>'
    return wash + _curve(back, "edge") + _curve(front, "edge") + line((back[0], front[0]), "edge")


def _curve(places: Sequence[complex], kind: str) -> str:
    return f'<path class="{kind}" d="{_drawn(places)}"/>'


def _drawn(places: Sequence[complex]) -> str:
    """Return a start and cubic curves, three places each."""
    thirds = (" ".join(map(_told, places[n : n + 3])) for n in range(1, len(places), 3))
    return f"M{_told(places[0])}" + "".join(f"C{each}" for each in thirds)


def _told(place: complex) -> str:
    return f"{place.real:.1f} {-place.imag:.1f}"


def _turned(angle_deg: float) -> complex:
    return cmath.exp(1j * math.radians(angle_deg))


def _along(places: Sequence[complex], n: int = 12) -> list[complex]:
    """Return places along cubic curves."""
    found = []
    for start in range(0, len(places) - 1, 3):
        a, b, c, d = places[start : start + 4]
        for step in range(n + 1):
            t = step / n
            s = 1 - t
            found.append(a * s**3 + 3 * b * s * s * t + 3 * c * s * t * t + d * t**3)
    return found

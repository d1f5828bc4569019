"""Where the places of markers are: legs with numbered places, and the file's own points.

In come which places are filled and chosen, and one moment of a file, out comes where each is drawn
in ``templates/maps.html``.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any, Final

from dashboards.add_walks.labels.map_places import NUMBER_OF, PLACES
from gaittrack.vocabulary import SIDES

_MIRROR: Final = 690
"""The left leg from the front: this less the other."""
_JOINED: Final = ("asis", "hip", "knee", "ankle", "heel", "toe")
_WIDE, _HIGH = 270.0, 210.0


def spots(filled: Collection[str], chosen: str) -> list[dict[str, Any]]:
    """Return where each place stands on both legs, with its number, words and state.

    Parameters
    ----------
    filled : collection of str
        Names of places for which every side has a label.
    chosen : str
        The place that is looked at.
    """
    found = []
    for place in (each for own in PLACES.values() for each in own):
        name, front = place.name, place.front_view
        left = None if front is None else (_MIRROR - front[0], front[1])
        told = {
            "place": name,
            "number": NUMBER_OF[name],
            "words": place.words,
            "kind": "chosen" if name == chosen else "filled" if name in filled else "empty",
        }
        found += [told | {"at": at} for at in (place.side_view, front, left) if at]
    return found


def own_points(
    moment: Mapping[str, tuple[float, float]], labels: Mapping[str, str], chosen: str
) -> dict[str, Any] | None:
    """Return where the points of one moment are drawn, from the right; None without any.

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
        return None
    ahead, up = zip(*moment.values(), strict=True)
    scale = min(_WIDE / max(max(ahead) - min(ahead), 0.5), _HIGH / max(max(up) - min(up), 0.5))
    at = {
        label: (round(15 + (x - min(ahead)) * scale, 1), round(15 + (max(up) - y) * scale, 1))
        for label, (x, y) in moment.items()
    }
    joined = {side: [labels.get(f"{side}_{name}", "") for name in _JOINED] for side in SIDES}
    marked = [labels.get(key, "") for key in (f"right_{chosen}", f"left_{chosen}", chosen)]
    return {
        "floor": round(15 + (max(up) - min(up)) * scale + 6, 1),
        "legs": [
            (side, [at[label] for label in own if label in at]) for side, own in joined.items()
        ],
        "dots": list(at.values()),
        "marked": [(label, at[label]) for label in marked if label in at],
    }

"""Values are compared only where they come from the same points.

In come the walks of two conditions, out comes what a measure of them was made of otherwise, and
what both have in common, on which both can be measured again.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from itertools import repeat
from typing import Final

import numpy as np

from gaittrack.compare.walked.walks import WalkRecord
from gaittrack.kinematics.shared import Shared
from gaittrack.measures.recording import Origin
from gaittrack.reasons import Parameter, Reason
from gaittrack.vocabulary import Side

MEASURED_AGAIN: Final = "measured_again"
"""Code of the label of a row whose walks were measured again on the points that all have."""
LEFT_OUT: Final = "left_out_again"
"""Code of the label of a row that some walks are left out of: they cannot be measured so."""
NOT_MEASURED_SO: Final = "not_measured_so"
NO_STRIDE: Final = "no_stride_counted"
OTHER_POINTS: Final = "other_points"
"""Code of the reason why values are not compared: they come from different points."""
STANDING: Final = "standing trial"
OF_FILE: Final = "file"

_NONE: Final[frozenset[Origin]] = frozenset()

Again = Callable[[Sequence[WalkRecord], Shared], Sequence[WalkRecord]]
"""Measures walks again on what they share; what cannot be is ``not_measured_so``."""
Made = dict[str, set[tuple[str, ...]]]
Key = tuple[str, Side]


def made_otherwise(walks: Iterable[WalkRecord], key: Key) -> Made:
    """Return what a measure (or angle) of some walks was made of, where they differ in it.

    Returns
    -------
    dict of str to set of tuple of str
        Point to the landmarks it was made of; empty when all were made of the same.
    """
    found: Made = {}
    for origins in dict.fromkeys(walk.origins.get(key, _NONE) for walk in walks):
        for name, parts in origins:
            found.setdefault(name, set()).add(parts)
    return {name: parts for name, parts in found.items() if len(parts) > 1}


def shared_by(walks: Sequence[WalkRecord], differing: Iterable[Made]) -> Shared:
    """Return what all walks have, for measures that were made otherwise."""
    sources = {
        part for made in differing for parts in made.values() for each in parts for part in each
    }
    return Shared(
        frozenset.intersection(*(walk.landmarks for walk in walks)),
        uses_standing=STANDING not in sources,
        uses_file_angles=OF_FILE not in sources,
    )


def why_other_points(
    own: Iterable[WalkRecord], reference: Iterable[WalkRecord], key: Key
) -> Reason | None:
    """Return why values of two conditions are not of the same points; None when they are."""
    own, reference = tuple(own), tuple(reference)
    names = made_otherwise((*reference, *own), key)
    if not names:
        return None
    return Reason(
        OTHER_POINTS, reference=points_of(reference, key, names), own=points_of(own, key, names)
    )


def not_measured_so(walk: WalkRecord, why: Reason | str) -> WalkRecord:
    """Return a walk that gives no value on what all have, and says why."""
    reason = Reason(NOT_MEASURED_SO, why=why)
    tables = {}
    for key, own in walk.tables.items():
        reasons = own.reasons.copy()
        reasons[~np.isnan(own.values)] = reason
        labels = np.fromiter(repeat((), len(own.values)), dtype=object)
        tables[key] = own._replace(
            values=np.full_like(own.values, math.nan), reasons=reasons, labels=labels
        )
    return walk.known_as(tables=tables, origins={})


def left_out(walks: Iterable[WalkRecord], key: Key) -> list[Reason]:
    """Return the label that names walks of which a measure was lost, and why; empty for none."""
    found = []
    for walk in walks:
        table = walk.tables.get(key)
        lost = () if table is None else table.reasons
        why = next((each for each in lost if each and each.code == NOT_MEASURED_SO), None)
        if why is not None:
            place = {"walk": f"{walk.file_name} {walk.part}".strip(), "condition": walk.condition}
            found.append(Reason("walk_left_out", why=why["why"], **place))
    return [Reason(LEFT_OUT, walks=tuple(found))] if found else []


def measured_again(walks: Sequence[WalkRecord], key: Key, names: Iterable[str]) -> Reason:
    """Return the label of a row whose walks were measured again."""
    return Reason(MEASURED_AGAIN, points=points_of(walks, key, names))


def points_of(walks: Iterable[WalkRecord], key: Key, names: Iterable[str]) -> Parameter:
    """Return in words what the named points of some walks were made of."""
    wanted = set(names)
    made = {made for walk in walks for made in walk.origins.get(key, ()) if made[0] in wanted}
    return tuple(Reason("made_of", point=name, of=parts) for name, parts in sorted(made))

"""Refuse a walk that is given twice, which would feign certainty: the same bytes, or numbers.

One recording in two formats, or exported again, has other bytes and other last digits. Strides of
two walks differ by degrees; those of one recording read twice agree closer than walking can, but
for what only one of the files holds (its own angles, its force plates).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations, compress
from typing import Final

import numpy as np

from gaittrack.compare.walked.walks import WalkRecord
from gaittrack.errors import ComparisonError
from gaittrack.part_names import recording_key
from gaittrack.vocabulary import Side

ALIKE: Final[Mapping[str, float]] = {
    "peak_swing_knee_flexion_deg": 0.1,
    "peak_hip_flexion_thigh_vertical_deg": 0.1,
    "peak_hip_flexion_pelvis_thigh_deg": 0.1,
    "mid_swing_dorsiflexion_deg": 0.1,
    "minimum_toe_clearance_mm": 0.2,
    "stride_length_m": 0.001,
}
"""Largest difference of one stride read twice; own choice: text files hold tenths of a millimetre.

Two strides of a person come as close about one time in twenty.
"""
LEAST_VALUES: Final = 8
"""So many pairs of values at least, half of which have to be alike; own choice."""
ReadValues = Mapping[tuple[str, Side], tuple[float, ...]]


def refuse_duplicates(walks: Sequence[WalkRecord]) -> None:
    """Refuse a walk that is given twice, in one condition or in two.

    Raises
    ------
    ComparisonError
        Two walks share an id, or a file's bytes (and part), or the same file's bytes stand in two
        conditions, or all their stride values are equal to the last digit; or two of one condition
        look like one recording in two files, which would count as two walks.
    """
    seen: dict[tuple[object, ...], WalkRecord] = {}
    for walk in walks:
        for key in _identities(walk):
            first = seen.setdefault(key, walk)
            if first is walk or (key[0] == "file" and _is_other_part(first, walk)):
                continue
            if key[0] == "values" and _defined_strides(first) != _defined_strides(walk):
                continue
            raise ComparisonError.of(
                "same_walk_given_twice", where=walk.condition, first=_name(first), again=_name(walk)
            )
    read = [(walk, read_of(walk)) for walk in walks]
    for (first, own), (second, other) in combinations(read, 2):
        if first.condition != second.condition or first.sha256 == second.sha256:
            continue
        if is_one_recording(own, other):
            raise ComparisonError.of(
                "one_recording_twice",
                where=second.condition,
                first=_name(first),
                again=_name(second),
            )


def read_of(walk: WalkRecord) -> ReadValues:
    """Return what two readings of one recording share: the defined values, by measure and side."""
    own = {key: each.values.tolist() for key, each in walk.tables.items() if key[0] in ALIKE}
    return {key: tuple(v for v in values if v == v) for key, values in own.items()}


def is_one_recording(first: ReadValues, second: ReadValues) -> bool:
    """Tell whether two walks are one recording, read twice."""
    n_pairs = n_alike = 0
    for key, own in first.items():
        other = second.get(key, ())
        if len(own) == len(other):
            n_pairs += len(own)
            n_alike += sum(abs(a - b) <= ALIKE[key[0]] for a, b in zip(own, other, strict=True))
    return n_pairs >= LEAST_VALUES and 2 * n_alike >= n_pairs


def _identities(walk: WalkRecord) -> list[tuple[object, ...]]:
    keys: list[tuple[object, ...]] = [("id", walk.walk_id)]
    if walk.sha256:
        key = recording_key(walk.sha256, walk.file_name)
        keys += [("file and part", key, walk.part), ("file", key)]
    if walk.tables:
        values = np.concatenate([own.values for own in walk.tables.values()])
        defined = values[~np.isnan(values)] + 0.0  # 0 and -0 are one value
        if len(defined) and (defined != defined[0]).any():
            keys.append(("values", defined.tobytes()))
    return keys


def _defined_strides(walk: WalkRecord) -> list[tuple[str, Side, str]]:
    """Return where values stand, measure by measure."""
    return [
        (*key, cycle)
        for key, own in walk.tables.items()
        for cycle in compress(walk.cycles[key[1]], (~np.isnan(own.values)).tolist())
    ]


def _is_other_part(first: WalkRecord, second: WalkRecord) -> bool:
    """Tell whether two walks of one file are different parts of it.

    Passes of one recording belong to one condition; a sheet may hold a part for each condition.
    """
    by_sheet = first.is_part_of_sheet and second.is_part_of_sheet
    return first.part != second.part and (by_sheet or first.condition == second.condition)


def _name(walk: WalkRecord) -> str:
    part = f" ({walk.part})" if walk.part else ""
    return f"{walk.file_name}{part} in {walk.condition!r}"

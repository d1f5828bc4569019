"""Two conditions with all that holds for every row of them.

In come groups of walks, out come their samples by measure and side.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from gaittrack.compare.fair.fairness import FairnessNote, Group
from gaittrack.compare.measurement_error.marker_errors import (
    Handling,
    MeasurementError,
    OwnErrors,
    find_error,
)
from gaittrack.compare.typical_values.typical import TypicalRange
from gaittrack.compare.walked.same_body import why_not_of_one_person
from gaittrack.compare.walked.walks import MEASURE_BY_NAME, Sample, Strides, WalkRecord, sample_of
from gaittrack.reasons import Reason
from gaittrack.vocabulary import Side

MINIMUM_SHARE: Final = "mid_swing_minimum_share_percent"
_NO_WALKS: Final = sample_of((), MEASURE_BY_NAME[MINIMUM_SHARE])
Samples = Mapping[tuple[str, Side], Sample]


@dataclass(frozen=True, eq=False, slots=True)
class Pair:
    """A condition and its reference.

    Attributes
    ----------
    own_samples, reference_samples : mapping of (measure, side) to Sample
        From :func:`samples_of`.
    handling : Handling
        What was done to the markers between the two.
    other_points : mapping of (measure, side) to Reason
        Why a measure is not of the same points in both, and cannot be.
    again : mapping of (measure, side) to tuple of Reason
        The labels of a measure whose samples were measured again on the points that both have.
    why_not_of_one_person : Reason or None
        Why nothing of the two can be compared.
    is_treadmill : bool
        Whether all walks are bouts on a treadmill.
    """

    own: Group
    reference: Group
    own_samples: Samples
    reference_samples: Samples
    handling: Handling
    notes: tuple[FairnessNote, ...]
    own_errors: OwnErrors | None
    typical: Mapping[str, TypicalRange]
    other_points: Mapping[tuple[str, Side], Reason] = field(default_factory=dict)
    again: Mapping[tuple[str, Side], tuple[Reason, ...]] = field(default_factory=dict)
    why_not_of_one_person: Reason | None = field(init=False)
    is_treadmill: bool = field(init=False)
    _braced: tuple[bool | None, bool | None] = field(init=False)

    def __post_init__(self) -> None:
        """Look at bodies, paces, belts and braces once, for all rows."""
        groups = self.own, self.reference
        found = why_not_of_one_person(self.own.walks, self.reference.walks)
        object.__setattr__(self, "why_not_of_one_person", found)
        on_belt = all(walk.is_treadmill for group in groups for walk in group.walks)
        object.__setattr__(self, "is_treadmill", on_belt)
        braced = tuple(group.worn and group.worn.is_braced for group in groups)
        object.__setattr__(self, "_braced", braced)

    def samples(self, measure: str, side: Side) -> tuple[Sample, Sample]:
        """Return the samples of a measure and side: the condition's, the reference's."""
        key = measure, side
        return self.own_samples.get(key, _NO_WALKS), self.reference_samples.get(key, _NO_WALKS)

    def error_of(self, measure: str, own: Sample, reference: Sample) -> MeasurementError:
        """Return the measurement error of a difference."""
        return find_error(
            measure,
            self.handling,
            (own.value, reference.value),
            braced=self._braced,
            own=self.own_errors,
        )


def measured_sides(groups: Sequence[Group]) -> list[tuple[str, Side]]:
    """Return every measure and side that occurs, in the order measures are printed."""
    seen = {key for group in groups for walk in group.walks for key in walk.tables}
    order = {name: place for place, name in enumerate(MEASURE_BY_NAME)}
    return sorted(seen, key=lambda key: (order[key[0]], key[1]))


def samples_of(walks: Iterable[WalkRecord]) -> Samples:
    """Return the samples of all measures and sides of walks of one condition."""
    tables: dict[tuple[str, Side], list[Strides]] = {}
    for walk in walks:
        for key, own in walk.tables.items():
            tables.setdefault(key, []).append(own)
    return {key: sample_of(own, MEASURE_BY_NAME[key[0]]) for key, own in tables.items()}

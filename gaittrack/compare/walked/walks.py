"""The walks that go into a comparison: stride values and what is known of each recording.

In comes one :class:`WalkRecord` per walk (one pass, or one bout on a treadmill), with the strides
of each measure and side; out come checked walks and the value of each walk. Nothing is measured
here.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from copy import copy
from dataclasses import dataclass, field
from itertools import chain
from typing import Any, Final, NamedTuple

import numpy as np

from gaittrack.errors import ComparisonError
from gaittrack.measures import MEASURES
from gaittrack.measures.averages import AVERAGES
from gaittrack.measures.measure import Measure
from gaittrack.measures.recording import NOT_TRUSTED, Origin
from gaittrack.measures.told_labels import gathered
from gaittrack.notebook_view import Shown
from gaittrack.quick_numpy import mean_of
from gaittrack.reasons import Reason
from gaittrack.trial import BoolArray, FloatArray, frozen_array
from gaittrack.vocabulary import Joint, Side

LEAST_TRUSTED_SHARE: Final = 0.5
"""Least share of the strides which show a measure that must be trusted; own choice: what most of
the strides cannot be asked about is not judged from the rest."""
MEASURE_BY_NAME: Final[dict[str, Measure]] = {measure.name: measure for measure in MEASURES}


class Strides(NamedTuple):
    """The strides of one measure and side of a walk, as arrays of shape (n_strides,).

    Attributes
    ----------
    values : ndarray
        NaN where not defined.
    reasons : ndarray of Reason or None
        Why a value is not defined; None for a number.
    labels : ndarray of tuple of Reason
        What a reader of each value must know.
    speeds_m_s : ndarray
        Speed of each stride.
    """

    values: FloatArray
    reasons: np.ndarray[Any, Any]
    labels: np.ndarray[Any, Any]
    speeds_m_s: FloatArray


@dataclass(frozen=True, eq=False, slots=True, repr=False)
class WalkRecord(Shown):
    """One walk of one condition.

    Attributes
    ----------
    walk_id : str
        Unique in the comparison.
    sha256 : str
        Hash of the file it comes from.
    file_name : str
        Name without folders.
    rate_hz : float
        Frames per second; NaN for curves without time.
    event_source, neutral_source, angle_origin, smoothing : str
        In words: where events come from, how zero was found, ``file`` or ``markers``, the filters.
    mean_speed_m_s : float
        NaN when unknown.
    cycles : mapping of side to tuple of str
        Id of each stride, in the order walked.
    contacts : mapping of side to tuple of str
        Contact type of each stride.
    tables : mapping of (measure, side) to Strides
        One value, or the reason for none, per stride of the side.
    part : str
        Which part of the file the walk is, when one file holds several (``pass 2``).
    is_part_of_sheet : bool
        Whether the part is a condition that a sheet itself names.
    session : str
        Day or visit; two different ones that are both known make it another day.
    curves : mapping of (side, joint) to ndarray, shape (n_cycles, 101)
        Angle over 0–100 % of each kept cycle, degrees.
    segments_m, noise_m : mapping of str to float
        As in :class:`gaittrack.kinematics.motion.MarkerFacts`; empty where not known.
    landmarks : frozenset of str
        Those that its points can be made of.
    origins : mapping of (measure or joint, side) to set of Origin
        What its values were made of that could have been made otherwise: a point and its landmarks,
        an angle and ``file``, a foot's zero and its source. Empty where it is not known.
    """

    walk_id: str
    sha256: str
    condition: str
    file_name: str
    rate_hz: float
    event_source: str
    neutral_source: str
    angle_origin: str
    smoothing: str
    is_treadmill: bool
    mean_speed_m_s: float
    cycles: Mapping[Side, tuple[str, ...]]
    contacts: Mapping[Side, tuple[str, ...]]
    tables: Mapping[tuple[str, Side], Strides]
    part: str = ""
    is_part_of_sheet: bool = False
    session: str = ""
    curves: Mapping[tuple[Side, Joint], FloatArray] = field(default_factory=dict)
    segments_m: Mapping[str, float] = field(default_factory=dict)
    noise_m: Mapping[str, float] = field(default_factory=dict)
    landmarks: frozenset[str] = frozenset()
    origins: Mapping[tuple[str, Side], frozenset[Origin]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Keep own copies; refuse a measure that lacks a stride."""
        counts = {side: len(contacts) for side, contacts in self.contacts.items()}
        if counts != {side: len(cycles) for side, cycles in self.cycles.items()}:
            raise ValueError(f"contacts of {self.walk_id} are not those of its strides")
        for (measure, side), own in self.tables.items():
            if set(map(len, own)) != {counts.get(side, 0)}:
                raise ValueError(f"{measure}, {side}, of {self.walk_id} lacks strides of that side")
        tables = {key: _closed_strides(own) for key, own in self.tables.items()}
        object.__setattr__(self, "tables", tables)
        curves = {key: frozen_array(values) for key, values in self.curves.items()}
        object.__setattr__(self, "curves", curves)

    def known_as(self, **facts: Any) -> WalkRecord:
        """Return the same strides with other facts about the walk; they are not cut again."""
        other = copy(self)
        for name, value in facts.items():
            object.__setattr__(other, name, value)
        return other


def _closed_strides(own: Strides) -> Strides:
    """Return strides that nobody else can write to."""
    return own if all(map(_is_closed, own)) else Strides(*(_closed(each.copy()) for each in own))


def _is_closed(array: np.ndarray[Any, Any]) -> bool:
    owner = array if array.base is None else array.base
    return not owner.flags.writeable


def _closed(array: np.ndarray[Any, Any]) -> np.ndarray[Any, Any]:
    array.setflags(write=False)
    return array


def by_side(told: Iterable[tuple[Side, str]]) -> dict[Side, tuple[str, ...]]:
    """Return what is told of each stride, side by side, in the order given."""
    found: dict[Side, list[str]] = {}
    for side, word in told:
        found.setdefault(side, []).append(word)
    return {side: tuple(words) for side, words in found.items()}


def cut_strides(
    measures: Sequence[str],
    sides: Sequence[Side],
    *,
    values: FloatArray,
    reasons: np.ndarray[Any, Any],
    labels: np.ndarray[Any, Any],
    speeds_m_s: FloatArray,
) -> dict[tuple[str, Side], Strides]:
    """Cut the strides of a walk by measure and side.

    Parameters
    ----------
    sides : sequence of {"left", "right"}
        Of each stride.
    values, reasons, labels : ndarray, shape (n_strides, n_measures)
        As in :class:`Strides`.
    speeds_m_s : ndarray, shape (n_strides,)

    Returns
    -------
    dict of (measure, side) to Strides
        By name.
    """
    found = {}
    for side in dict.fromkeys(sides):
        own = [place for place, each in enumerate(sides) if each == side]
        speeds = _closed(speeds_m_s[own])
        blocks = [_closed(block.T.take(own, axis=1)) for block in (values, reasons, labels)]
        for name, own_values, own_reasons, own_labels in zip(measures, *blocks, strict=True):
            found[name, side] = Strides(own_values, own_reasons, own_labels, speeds)
    return dict(sorted(found.items()))


def refuse_unknown_measures(walks: Iterable[WalkRecord]) -> None:
    """Refuse walks that hold a measure this version does not know.

    Raises
    ------
    ComparisonError
        The message names the measures.
    """
    unknown = {name for walk in walks for name, _ in walk.tables} - set(MEASURE_BY_NAME)
    if unknown:
        raise ComparisonError.of(
            "unknown_measures", where="walks", unknown=", ".join(sorted(unknown))
        )


@dataclass(frozen=True, eq=False, slots=True, repr=False)
class Sample(Shown):
    """The walks of one condition, for one measure and side.

    Attributes
    ----------
    walk_values : ndarray, shape (n_walks,)
        Mean (clearances: median) of the strides of each walk that has a defined stride.
    strides : tuple of ndarray
        Defined stride values, walk by walk, in the order of the walks.
    n_strides, n_not_defined, n_not_trusted : int
        Strides with a value, without one, and with one that is not trusted.
    reasons : dict of Reason to int
        Why strides have no value, with counts.
    labels : dict of Reason to int
        Labels of the defined strides, with counts.
    value : float
        Mean of the walk values; NaN without any.
    spoiled_by : Reason or None
        What most strides are not trusted for: then there is no walk value, and no stride.
    """

    walk_values: FloatArray
    strides: tuple[FloatArray, ...]
    n_strides: int
    n_not_defined: int
    n_not_trusted: int
    reasons: dict[Reason, int]
    labels: dict[Reason, int]
    spoiled_by: Reason | None = None
    value: float = field(init=False, default=math.nan)

    def __post_init__(self) -> None:
        """Average the walks once."""
        if len(self.walk_values):
            object.__setattr__(self, "value", mean_of(self.walk_values))

    @property
    def n_walks(self) -> int:
        """Number of walks with at least one defined stride."""
        return len(self.walk_values)

    @property
    def main_reason(self) -> Reason:
        """What most strides are not trusted for, else the commonest reason for "not defined"."""
        if self.spoiled_by is not None:
            return Reason(NOT_TRUSTED, why=self.spoiled_by)
        return max(self.reasons, key=lambda key: self.reasons[key], default=Reason("no_strides"))


def near_speed(own: Strides, speed_m_s: float, *, within_m_s: float) -> Strides:
    """Return the strides whose own speed is near another."""
    return _of_strides(own, np.abs(own.speeds_m_s - speed_m_s) <= within_m_s)


def _of_strides(own: Strides, chosen: BoolArray) -> Strides:
    return Strides(*(_closed(column[chosen]) for column in own))


def sample_of(tables: Sequence[Strides], measure: Measure) -> Sample:
    """Summarise one measure of one side over the walks of a condition.

    Parameters
    ----------
    tables : sequence of Strides
        One per walk, of this measure and side.
    measure : Measure
        Says whether a walk's value is the mean or the median of its strides.
    """
    average = AVERAGES[measure.walk_value]
    strides = []
    reasons: Counter[Reason] = Counter()
    labels: list[Reason] = []
    for table in tables:
        values, told = table.values, table.labels
        is_missing = np.isnan(values)
        if np.count_nonzero(is_missing):
            reasons.update(table.reasons[is_missing].tolist())
            values, told = _closed(values[~is_missing]), told[~is_missing]
        if len(values):
            strides.append(values)
        labels.extend(chain.from_iterable(told.tolist()))
    n_strides = sum(map(len, strides))
    spoiled = {why: n for why, n in reasons.items() if why.code == NOT_TRUSTED}
    n_not_trusted = sum(spoiled.values())
    counts: dict[str, Any] = {
        "n_strides": n_strides,
        "n_not_defined": sum(reasons.values()) - n_not_trusted,
        "n_not_trusted": n_not_trusted,
        "reasons": dict(reasons),
        "labels": gathered(labels),
    }
    if n_not_trusted and n_strides < LEAST_TRUSTED_SHARE * (n_strides + n_not_trusted):
        main: Reason = max(spoiled, key=lambda why: spoiled[why])["why"]
        return Sample(frozen_array([]), (), **counts, spoiled_by=main)
    walk_values = frozen_array([average(each) for each in strides])
    return Sample(walk_values, tuple(strides), **counts)

"""A laboratory's own typical ranges and curves, from its able-bodied people.

In come the values and curves of each leg of each person, out come mean and scatter of people, as
the file of reference values that :mod:`gaittrack.compare.typical_values.typical_curves` reads.
Scatter is of one leg from person to person: a range is held against one leg.
"""

from __future__ import annotations

import json
import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Any, Final

import numpy as np

from gaittrack.compare.measurement_error.marker_errors import SPEED_MEASURE
from gaittrack.compare.typical_values.typical import CURVES, FEET, Feet, OwnRange
from gaittrack.compare.typical_values.typical_curves import OwnTypical, TypicalCurve
from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.errors import ComparisonError
from gaittrack.trial import FloatArray
from gaittrack.vocabulary import JOINTS, SIDES, Joint, Side

LEAST_PERSONS: Final = 10
"""An end of a range is mean ± 2 SD; its own error is SD·sqrt(1/n + 2/(n - 1)): 0.57 SD with 10
people, 0.41 with 20, 1.1 with 4. Own choice."""
UNKNOWN_FEET: Final = "on feet that are not recorded"
_RATE: Final = "deg/s"
"""No rate has a typical range: slower is not always better."""
_SHARE: Final = "_share_percent"
_NO_BOUND: Final = frozenset({"lowest_speed_m_s", "highest_speed_m_s"})


@dataclass(frozen=True, eq=False, slots=True)
class AbleBodied:
    """One able-bodied person, walking without a brace at one visit.

    Attributes
    ----------
    speed_m_s : float
        Mean of the walks; NaN when not known.
    ages : tuple of (float, float) or None
        Least and greatest age the person may have.
    values : mapping of (measure, side) to float
        Mean of the walks; only what is defined.
    curves : mapping of (joint, side) to ndarray, shape (101,)
        Mean of the walks, degrees.
    """

    code: str
    feet: Feet
    speed_m_s: float
    ages: tuple[float, float] | None
    values: Mapping[tuple[str, Side], float]
    curves: Mapping[tuple[Joint, Side], FloatArray]


def feet_of_most(people: Iterable[AbleBodied]) -> Feet:
    """Return on what most of the people stood; shoes where as many were barefoot."""
    counts = Counter(each.feet for each in people)
    return max(FEET, key=lambda feet: counts[feet])


def own_typical(people: Sequence[AbleBodied], *, made_on: str) -> OwnTypical:
    """Return ranges and curves of people that all stood on the same feet.

    Parameters
    ----------
    made_on : str
        Day, for the source.

    Raises
    ------
    ComparisonError
        Fewer than ``LEAST_PERSONS``. What fewer of them have gets no range and no curve.
    """
    feet = feet_of_most(people)
    if len(people) < LEAST_PERSONS:
        raise ComparisonError.of(
            "too_few_able_bodied",
            where="typical values",
            n=len(people),
            feet=feet or UNKNOWN_FEET,
            least=LEAST_PERSONS,
        )
    ranges = (_range_of(name, people, made_on) for name in MEASURE_BY_NAME)
    curves = (_curve_of(joint, people, made_on) for joint in JOINTS)
    return OwnTypical(
        {each.measure: each for each in ranges if each is not None},
        tuple(each for each in curves if each is not None),
    )


def _has_range(name: str) -> bool:
    """Tell whether a measure may have a typical range: a share of strides is a count."""
    return MEASURE_BY_NAME[name].unit != _RATE and not name.endswith(_SHARE)


def _range_of(name: str, people: Sequence[AbleBodied], made_on: str) -> OwnRange | None:
    having = [each for each in people if any((name, side) in each.values for side in SIDES)]
    if len(having) < LEAST_PERSONS or not _has_range(name):
        return None
    columns = [[each.values.get((name, side), math.nan) for side in SIDES] for each in having]
    mean, sd = _of_one_leg(np.array(columns)[..., None])
    if not sd[0] > 0:  # a share that is 100 % in everybody has no range
        return None
    reach = {k: v for k, v in _reach(having).items() if name != SPEED_MEASURE or k not in _NO_BOUND}
    low, high = (round(float(mean[0] + way * 2 * sd[0]), 4) for way in (-1, 1))
    return OwnRange(name, low, high, _source(having, made_on), **reach)


def _curve_of(joint: Joint, people: Sequence[AbleBodied], made_on: str) -> TypicalCurve | None:
    having = [each for each in people if any((joint, side) in each.curves for side in SIDES)]
    if len(having) < LEAST_PERSONS:
        return None
    nothing = np.full(101, math.nan)
    grid = [[each.curves.get((joint, side), nothing) for side in SIDES] for each in having]
    mean, sd = _of_one_leg(np.array(grid))
    if not (sd > 0).all():
        return None
    means, sds = (tuple(round(float(each), 3) for each in line) for line in (mean, sd))
    return TypicalCurve(joint, means, sds, _source(having, made_on), **_reach(having))


def _of_one_leg(values: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return mean, and standard deviation of a leg from person to person.

    Parameters
    ----------
    values : ndarray, shape (n_people, 2, n_points)
        NaN for a leg that has none.
    """
    variances = np.array(
        [
            own.var(axis=0, ddof=1)
            for side in range(values.shape[1])
            if len(own := values[~np.isnan(values[:, side]).any(axis=1), side]) > 1
        ]
    )
    return np.nanmean(np.nanmean(values, axis=1), axis=0), np.sqrt(variances.mean(axis=0))


def _reach(people: Sequence[AbleBodied]) -> dict[str, Any]:
    """Return the speeds, ages and feet that the people had; only what is known of all."""
    found: dict[str, Any] = {"feet": people[0].feet} if people[0].feet else {}
    speeds = [each.speed_m_s for each in people]
    if not any(map(math.isnan, speeds)):
        found |= {
            "lowest_speed_m_s": round(min(speeds), 2),
            "highest_speed_m_s": round(max(speeds), 2),
        }
    ages = [each.ages for each in people if each.ages is not None]
    if len(ages) == len(people):
        found["youngest_years"] = min(low for low, _ in ages)
        found["oldest_years"] = max(high for _, high in ages)
    return found


def _source(people: Sequence[AbleBodied], made_on: str) -> str:
    return f"own, {len(people)} able-bodied persons, {made_on}"


def write_own_typical(own: OwnTypical) -> str:
    """Return ranges and curves as the file of reference values says them."""
    parts = [_table("[[typical]]", each) for each in own.ranges.values()]
    parts += [_table(f"[{CURVES}.{each.joint}]", each, leave="joint") for each in own.curves]
    return "\n\n".join(["# Typical values of this laboratory's able-bodied people.", *parts]) + "\n"


def _table(head: str, row: OwnRange | TypicalCurve, leave: str = "") -> str:
    lines = [head]
    for item in fields(row):
        value = getattr(row, item.name)
        if item.name != leave and value != item.default:
            plain = list(value) if isinstance(value, tuple) else value
            lines.append(f"{item.name} = {json.dumps(plain)}")
    return "\n".join(lines)

"""The tables below a condition: its walks, the value of each walk, every stride, what was left out.

In comes a de-identified :class:`CohortSource`, of everybody or of one person, out come tidy tables.
A change names person, visit and conditions; these hold walks, these hold strides, and a walk names
the file it comes from by a hash that only whoever holds the file can make.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from functools import lru_cache
from typing import Any, Final

import numpy as np
import pandas as pd

from gaittrack.cohort.people.source import CohortSource, CohortWalk
from gaittrack.cohort.tables.reason_cells import MOST_KEPT, code_of, coded, parameters_of
from gaittrack.cohort.tables.table import affected_sides, parameter_hash, side_role, walks_by_place
from gaittrack.compare.walked.walks import Strides
from gaittrack.measures import MEASURES
from gaittrack.measures.averages import AVERAGES
from gaittrack.measures.measure import Measure
from gaittrack.measures.recording import NOT_TRUSTED
from gaittrack.reasons import Reason
from gaittrack.vocabulary import SIDES, Side

RECORDING, STRIDE = "recording", "stride"
_FACTS: Final = ("rate_hz", "is_treadmill", "event_source", "neutral_source", "angle_origin")


def walks_table(source: CohortSource) -> pd.DataFrame:
    """Return one row per walk: the file it comes from, how it was measured, how many strides."""
    rows = []
    for place, number, part, walk in _numbered(source):
        record = walk.record
        rows.append(
            {
                **place,
                "walk_no": number,
                "original_hash": walk.original_hash,
                "part_no": part,
                **{f"n_strides_{side}": len(record.cycles.get(side, ())) for side in SIDES},
                "speed_m_s": record.mean_speed_m_s,
                **{name: getattr(record, name) for name in _FACTS},
                "smoothing": record.smoothing,
                "software_version": walk.software_version,
                "parameter_hash": parameter_hash([walk]),
            }
        )
    return pd.DataFrame(rows)


def walk_values_table(source: CohortSource) -> pd.DataFrame:
    """Return one row per walk, side and measure: the value of the walk."""
    affected = affected_sides(source)
    return pd.DataFrame(
        {
            **place,
            "walk_no": number,
            "side": side,
            "side_role": side_role(side, affected[str(place["export_id"])]),
            "measure_id": measure.name,
            "unit": measure.unit,
            **_summary(own, measure),
        }
        for place, number, _, walk in _numbered(source)
        for measure, side, own in _measured(walk)
    )


def _summary(own: Strides, measure: Measure) -> dict[str, Any]:
    is_defined = np.isfinite(own.values)
    n_not_trusted = sum(why.code == NOT_TRUSTED for why in own.reasons[~is_defined])
    found = own.values[is_defined]
    return {
        "value": AVERAGES[measure.walk_value](found) if len(found) else math.nan,
        "n_strides": len(found),
        "n_not_defined": len(own.values) - len(found) - n_not_trusted,
        "n_not_trusted": n_not_trusted,
    }


def strides_table(source: CohortSource) -> pd.DataFrame:
    """Return one row per stride and measure, of the strides that were kept."""
    blocks: list[dict[str, Any]] = []
    counts: list[int] = []
    for place, number, _, walk in _numbered(source):
        for measure, side, own in _measured(walk):
            named = {**place, "walk_no": number, "side": side}
            blocks.append(named | {"measure_id": measure.name, "unit": measure.unit, "own": own})
            blocks[-1]["contact"] = walk.record.contacts[side]
            counts.append(len(own.values))
    if not blocks:
        return pd.DataFrame()
    tables = pd.DataFrame(blocks)
    rows = tables.drop(columns=["own", "contact"]).loc[np.repeat(tables.index, counts)]
    strides = tables["own"].tolist()
    return rows.reset_index(drop=True).assign(
        stride_no=np.concatenate([np.arange(1, n + 1) for n in counts]),
        contact=np.concatenate([np.array(each, dtype=object) for each in tables["contact"]]),
        value=np.concatenate([own.values for own in strides]),
        not_defined_reason=[_code(why) for own in strides for why in own.reasons.tolist()],
        labels=[_codes(said) for own in strides for said in own.labels.tolist()],
    )


def _code(why: Reason | None) -> str:
    return "" if why is None else code_of(why)


@lru_cache(MOST_KEPT)
def _codes(said: Sequence[Reason]) -> str:
    return coded(said)


def left_out_table(source: CohortSource) -> pd.DataFrame:
    """Return one row per stride or recording that was not kept, and reason."""
    return pd.DataFrame(
        {
            "export_id": person,
            "visit_no": int(visit),
            "condition_code": code,
            "original_hash": each.original,
            "what": STRIDE if each.side else RECORDING,
            "side": each.side,
            "cycle_no": each.number or None,
            "reason": code_of(why),
            "parameters": parameters_of(why),
        }
        for (person, visit, code), found in sorted(source.rejected.items())
        for each in found
        for why in each.reasons
    )


def _numbered(source: CohortSource) -> Iterator[tuple[dict[str, Any], int, int, CohortWalk]]:
    """Yield each walk with its keys, its number in the condition, and its number in the file."""
    for (person, visit, code), walks in walks_by_place(source).items():
        place = {"export_id": person, "visit_no": int(visit), "condition_code": code}
        parts: Counter[str] = Counter()
        for number, walk in enumerate(walks, 1):
            parts[walk.original_hash] += 1
            yield place, number, parts[walk.original_hash], walk


def _measured(walk: CohortWalk) -> Iterator[tuple[Measure, Side, Strides]]:
    tables = walk.record.tables
    for measure in MEASURES:
        for side in SIDES:
            if (measure.name, side) in tables:
                yield measure, side, tables[measure.name, side]

"""The tables of a cohort: people, what was worn, measures long and wide, exclusions, curves.

In comes a de-identified :class:`CohortSource`, out come tidy tables whose columns
``dictionary.py`` describes. A value is the mean of its walks, as in a comparison; scatter is that
of the strides. What is not defined stays in the table, with the reason.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

import numpy as np
import pandas as pd

from gaittrack import __version__
from gaittrack.cohort.people.leaving import (
    OF_AIM,
    OF_BRACE,
    OF_CONDITION,
    OF_LEG,
    OF_PERSON,
    OF_RATING,
    columns_of,
)
from gaittrack.cohort.people.source import CohortSource, CohortWalk, LeftOut, PlaceKey
from gaittrack.cohort.people.tracking import Track, untracked
from gaittrack.cohort.tables.reason_cells import BETWEEN, code_of, coded, counted
from gaittrack.compare.fair.condition import Condition
from gaittrack.compare.fair.fairness import FEW_STRIDES, FEW_WALKS, LEAST_STRIDES, LEAST_WALKS
from gaittrack.compare.walked.walks import Sample, sample_of
from gaittrack.measures import MEASURES
from gaittrack.measures.measure import Measure
from gaittrack.reasons import Reason
from gaittrack.record.checking import ratings_of
from gaittrack.record.registry import Fact, leg_name
from gaittrack.record.wording import NOT_RECORDED
from gaittrack.vocabulary import EVENT_SOURCES, SIDES, Side

LONG_KEYS: Final = ["export_id", "visit_no", "condition_code", "side", "measure_id"]
AFFECTED, OTHER_SIDE = "affected", "other"
_NO_WALK: Final = Reason("no_walk_measured")
_NO_CYCLE: Final = Reason("no_kept_cycle_of_side")
_OTHER_VERSION: Final = Reason("measured_by_other_version")


PEOPLE_NAMES: Final = ("export_id", "age_band", *OF_PERSON, "brace_classes", "n_visits")


def people_table(source: CohortSource) -> pd.DataFrame:
    """Return one row per person: age band at the first visit, sex, cause, side, braces."""
    first = source.visits.drop_duplicates("person")
    bands = dict(zip(first["person"].tolist(), first["age_band"].tolist(), strict=True))
    counts = Counter(source.visits["person"].tolist())
    classes: dict[str, set[str]] = {}
    for (person, _, _), worn in source.conditions.items():
        if worn.is_braced:
            classes.setdefault(person, set()).add(worn.orthosis_class or NOT_RECORDED)
    for person, braces in source.braces.items():
        for brace in braces.values():
            found = brace.facts.get("orthosis_class", NOT_RECORDED)
            classes.setdefault(person, set()).add(found)
    rows = [
        {
            "export_id": row["person"],
            "age_band": bands.get(row["person"], NOT_RECORDED),
            **{name: row[name] for name in OF_PERSON},
            "brace_classes": "; ".join(sorted(classes.get(row["person"], {"none"}))),
            "n_visits": counts[row["person"]],
        }
        for row in source.people.to_dict("records")
    ]
    return pd.DataFrame(rows, columns=list(PEOPLE_NAMES))


def visits_table(source: CohortSource) -> pd.DataFrame:
    """Return one row per person and visit: when, what for, and the body."""
    table = source.visits.rename(columns={"person": "export_id"})
    return table.assign(visit_no=table["visit"].astype(int))


def legs_table(source: CohortSource) -> pd.DataFrame:
    """Return one row per person, visit and side: what was examined of the leg."""
    affected = affected_sides(source)
    rows = [
        {"export_id": row["person"], "visit_no": int(row["visit"]), "side": side}
        | {"side_role": side_role(side, affected[row["person"]])}
        | {name: row[leg_name(side, name)] for name in OF_LEG}
        for row in source.visits.to_dict("records")
        for side in SIDES
    ]
    return pd.DataFrame(rows, columns=["export_id", "visit_no", "side", "side_role", *OF_LEG])


def conditions_table(source: CohortSource) -> pd.DataFrame:
    """Return one row per person, visit and condition: brace, footwear, aid and instructions."""
    rows = [
        {"export_id": key[0], "visit_no": int(key[1]), "condition_code": key[2]}
        | {"setting_id": _setting_worn(key[0], worn)}
        | _worn_columns(worn)
        for key, worn in source.conditions.items()
    ]
    keys = ["export_id", "visit_no", "condition_code", "setting_id"]
    names = [*keys, *_worn_columns(Condition(""))]
    return pd.DataFrame(rows, columns=names)


def _setting_worn(person: str, worn: Condition) -> str | None:
    brace = worn.facts.get("brace")
    return None if brace is None else _setting_id(person, brace, worn.facts["setting"])


def _setting_id(person: str, brace: str, setting: str) -> str:
    return f"{person}-{brace}-{setting}"


def settings_table(source: CohortSource) -> pd.DataFrame:
    """Return one row per person, brace and setting, walked in or not."""
    facts = {**OF_BRACE["brace"], **OF_BRACE["setting"]}
    rows = [
        {"export_id": person, "brace_no": int(brace), "setting_no": int(setting)}
        | {"setting_id": _setting_id(person, brace, setting)}
        | _columns_of_thing(facts, {**own.facts, **told})
        for person, braces in sorted(source.braces.items())
        for brace, own in braces.items()
        for setting, told in (own.settings or {"0": {}}).items()
    ]
    return pd.DataFrame(rows, columns=["export_id", "brace_no", "setting_no", "setting_id", *facts])


def _columns_of_thing(lines: Mapping[str, Fact], facts: Mapping[str, Any]) -> dict[str, Any]:
    return {n: facts.get(n, NOT_RECORDED if fact.list else None) for n, fact in lines.items()}


def aims_table(source: CohortSource) -> pd.DataFrame:
    """Return one row per person and aim: the question, and how far it was reached."""
    rows = [
        {"export_id": person, "aim_no": int(number)} | _columns_of_thing(OF_AIM, facts)
        for person, aims in sorted(source.aims.items())
        for number, facts in aims.items()
    ]
    return pd.DataFrame(rows, columns=["export_id", "aim_no", *OF_AIM])


def ratings_table(source: CohortSource) -> pd.DataFrame:
    """Return one row per person, visit and aim that was rated: its level."""
    rows = [
        {"export_id": row["person"], "visit_no": int(row["visit"]), "aim_no": int(number)}
        | {name: level}
        for row in source.visits.to_dict("records")
        for name in OF_RATING
        for number, level in ratings_of(row[name]).items()
    ]
    return pd.DataFrame(rows, columns=["export_id", "visit_no", "aim_no", *OF_RATING])


def _worn_columns(worn: Condition) -> dict[str, Any]:
    facts = [columns_of(fact, worn.facts.get(name)) for name, fact in OF_CONDITION.items()]
    return {name: value for columns in facts for name, value in columns.items()}


def side_role(side: str, affected: str) -> str:
    """Return ``affected``, ``other`` or "not recorded" for a side of a person."""
    if affected not in ("left", "right", "both"):
        return NOT_RECORDED
    return AFFECTED if affected in (side, "both") else OTHER_SIDE


def affected_sides(source: CohortSource) -> dict[str, str]:
    """Return the affected side of each person."""
    return dict(zip(source.people["person"], source.people["affected_side"], strict=True))


def walks_by_place(source: CohortSource) -> dict[PlaceKey, list[CohortWalk]]:
    """Return the walks of each person, visit and condition; an empty list where there are none."""
    places: dict[PlaceKey, list[CohortWalk]] = {key: [] for key in source.conditions}
    for walk in source.walks:
        places.setdefault(walk.place, []).append(walk)
    return places


def long_table(source: CohortSource, track: Track = untracked) -> pd.DataFrame:
    """Return one row per person, visit, condition, side and measure.

    Parameters
    ----------
    source : CohortSource
        De-identified.
    """
    days = {
        (row["person"], row["visit"]): row["days_since_first_visit"]
        for row in source.visits.to_dict("records")
    }
    affected = affected_sides(source)
    rows = []
    places = walks_by_place(source)
    for (person, visit, code), walks in track("Averaging walks", places.items(), len(places)):
        place = {
            "export_id": person,
            "visit_no": int(visit),
            "days_since_first_visit": days[person, visit],
            "condition_code": code,
            **_facts(walks, source.damaged.get((person, visit, code), 0)),
        }
        for side in SIDES:
            own = {"side": side, "side_role": side_role(side, affected[person])}
            own |= _rejected(source.rejected.get((person, visit, code), ()), side)
            rows += [place | own | _measured(walks, measure, side) for measure in MEASURES]
    return pd.DataFrame(rows)


def _facts(walks: Sequence[CohortWalk], n_damaged: int) -> dict[str, Any]:
    """Return what holds for all measures of a condition."""
    speeds = [walk.record.mean_speed_m_s for walk in walks]
    known = [speed for speed in speeds if not math.isnan(speed)]
    used = {each for walk in walks for each in EVENT_SOURCES if each in walk.record.event_source}
    versions = sorted({walk.software_version for walk in walks})
    flags = [] if set(versions) <= {__version__} else [_OTHER_VERSION]
    flags += [Reason("damaged_left_out", n=n_damaged)] if n_damaged else []
    return {
        "speed_m_s": float(np.mean(known)) if known else math.nan,
        "event_source": " and ".join(each for each in EVENT_SOURCES if each in used),
        "software_version": "; ".join(versions),
        "parameter_hash": parameter_hash(walks),
        "qc_flag": coded(flags),
    }


def parameter_hash(walks: Iterable[CohortWalk]) -> str:
    """Return a hash of how values were made; of nothing that belongs to one person alone."""
    ways = {
        (
            walk.record.smoothing,
            walk.record.neutral_source,
            walk.record.angle_origin,
            walk.record.event_source,
            f"{walk.record.rate_hz:.4g}",
        )
        for walk in walks
    }
    definitions = [(measure.name, measure.definition) for measure in MEASURES]
    text = json.dumps([sorted(ways), definitions])
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def _rejected(cycles: Sequence[LeftOut], side: Side) -> dict[str, Any]:
    own = [each.reasons for each in cycles if each.side == side]
    codes = Counter(code_of(reason) for reasons in own for reason in reasons)
    return {"n_cycles_rejected": len(own), "reject_reasons": counted(codes)}


def _measured(walks: Sequence[CohortWalk], measure: Measure, side: Side) -> dict[str, Any]:
    key = (measure.name, side)
    sample = sample_of(
        [walk.record.tables[key] for walk in walks if key in walk.record.tables], measure
    )
    strides = np.concatenate(sample.strides) if sample.strides else np.array([])
    reasons: Counter[str] = Counter()
    for reason, count in sample.reasons.items():
        reasons[code_of(reason)] += count
    return {
        "measure_id": measure.name,
        "unit": measure.unit,
        "n_trials": sample.n_walks,
        "n_cycles_used": sample.n_strides,
        "n_cycles_not_defined": sample.n_not_defined,
        "n_cycles_not_trusted": sample.n_not_trusted,
        "mean": sample.value,
        "sd": float(strides.std(ddof=1)) if len(strides) > 1 else math.nan,
        "median": float(np.median(strides)) if len(strides) else math.nan,
        "min": float(strides.min()) if len(strides) else math.nan,
        "max": float(strides.max()) if len(strides) else math.nan,
        "sd_between_walks": (
            float(sample.walk_values.std(ddof=1)) if sample.n_walks > 1 else math.nan
        ),
        "not_defined_reasons": counted(reasons),
        "missing_reason": _why_missing(walks, sample, reasons),
        "labels": coded(sorted(sample.labels, key=code_of)),
        "amount_flag": _amount_flag(sample),
    }


def _why_missing(walks: Sequence[CohortWalk], sample: Sample, reasons: Counter[str]) -> str:
    if sample.n_walks:
        return ""
    if not walks:
        return code_of(_NO_WALK)
    if sample.spoiled_by is not None:
        return code_of(sample.main_reason)
    return reasons.most_common(1)[0][0] if reasons else code_of(_NO_CYCLE)


def _amount_flag(sample: Sample) -> str:
    few = [FEW_WALKS] if 0 < sample.n_walks < LEAST_WALKS else []
    few += [FEW_STRIDES] if 0 < sample.n_strides < LEAST_STRIDES else []
    return BETWEEN.join(few)


def wide_table(long: pd.DataFrame) -> pd.DataFrame:
    """Return one row per person, visit, condition and side, with a column of means per measure.

    Parameters
    ----------
    long : DataFrame
        From :func:`long_table`.
    """
    keys = [
        "export_id",
        "visit_no",
        "days_since_first_visit",
        "condition_code",
        "side",
        "side_role",
    ]
    names = [measure.name for measure in MEASURES]
    if long.empty:
        return pd.DataFrame(columns=[*keys, "speed_m_s", *names])
    means = long.set_index([*LONG_KEYS])["mean"].unstack("measure_id")[names]
    first = long.drop_duplicates(LONG_KEYS[:-1])[[*keys, "speed_m_s"]]
    return first.merge(means.reset_index(), on=LONG_KEYS[:-1], validate="one_to_one")


def exclusions_table(source: CohortSource) -> pd.DataFrame:
    """Return every correction of events and strides, without who made it and their words."""
    names = {"person": "export_id", "visit": "visit_no", "condition": "condition_code"}
    table = source.exclusions.rename(columns=names)
    return table.assign(visit_no=table["visit_no"].astype(int))


def curves_table(source: CohortSource) -> pd.DataFrame:
    """Return mean curves: one row per person, visit, condition, side, joint and per cent.

    Only cycles whose curve is whole count; the mean is that of the walks' means.
    """
    rows: list[pd.DataFrame] = []
    for (person, visit, code), walks in walks_by_place(source).items():
        keys = sorted({key for walk in walks for key in walk.record.curves})
        for side, joint in keys:
            found = [walk.record.curves.get((side, joint)) for walk in walks]
            whole = [c[np.isfinite(c).all(axis=1)] for c in found if c is not None]
            kept = [curves for curves in whole if len(curves)]
            if not kept:
                continue
            strides = np.concatenate(kept)
            n_strides = len(strides)
            rows.append(
                pd.DataFrame(
                    {
                        "export_id": person,
                        "visit_no": int(visit),
                        "condition_code": code,
                        "side": side,
                        "joint": joint,
                        "percent": np.arange(strides.shape[1]),
                        "mean_deg": np.mean([curves.mean(axis=0) for curves in kept], axis=0),
                        "sd_deg": strides.std(axis=0, ddof=1) if n_strides > 1 else math.nan,
                        "n_trials": len(kept),
                        "n_cycles": n_strides,
                    }
                )
            )
    columns = ["export_id", "visit_no", "condition_code", "side", "joint", "percent", "mean_deg"]
    columns += ["sd_deg", "n_trials", "n_cycles"]
    return pd.concat(rows, ignore_index=True) if rows else pd.DataFrame(columns=columns)

"""From a measured file to the walks in it, ready to be compared.

In comes a :class:`MeasuredWalk`, out come :class:`WalkRecord` objects: one per straight pass of a
recording, one for a treadmill bout, one for a sheet (or for the part of a sheet that holds the
condition asked for). :func:`walk_record` builds each of them, also those of stored results.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace
from operator import attrgetter
from typing import Any, Final, NamedTuple

import numpy as np

from gaittrack.compare.walked.walks import WalkRecord, by_side, cut_strides
from gaittrack.cycles import Cycle
from gaittrack.errors import ComparisonError
from gaittrack.measured_walk import MeasuredWalk
from gaittrack.measures import angle_origins
from gaittrack.measures.recording import Origin
from gaittrack.readable_names import readable
from gaittrack.reasons import Reason
from gaittrack.trial import FloatArray
from gaittrack.vocabulary import EVENT_SOURCES, Joint, Side

_AS_IN_FILE: Final = "as in the file"
_MADE_OF: Final = attrgetter("measure", "side", "origins")


def match_name(name: str, available: Iterable[str]) -> str | None:
    """Return the one of several condition names that means the same as ``name``.

    Returns
    -------
    str or None
        The one with the same words, capitals and what stands between words apart; else the only
        one with the same first word (``without brace`` finds ``without-orthosis``); else None.
    """
    words = {each: re.findall(r"\w+", each.lower().replace("_", " ")) for each in available}
    wanted = re.findall(r"\w+", name.lower().replace("_", " "))
    same = [each for each, found in words.items() if found == wanted]
    if same:
        return same[0]
    first = [each for each, found in words.items() if found[:1] == wanted[:1]]
    return first[0] if len(first) == 1 else None


class StrideFacts(NamedTuple):
    """What a walk's record keeps of one stride; ``speed_m_s`` is NaN when unknown."""

    id: str
    side: Side
    contact: str
    speed_m_s: float


def walk_record(
    strides: Sequence[StrideFacts],
    curves: Iterable[tuple[Side, Joint, FloatArray]],
    *,
    measures: Sequence[str],
    values: FloatArray,
    reasons: np.ndarray[Any, Any],
    labels: np.ndarray[Any, Any],
    **facts: Any,
) -> WalkRecord:
    """Build the record of a walk, be it from a file or from a stored result.

    Parameters
    ----------
    strides : sequence of StrideFacts
        Those that were kept, in the order walked.
    curves : iterable of (side, joint, ndarray of shape (101,))
        Of the same strides; those of one side and joint in the order walked.
    values, reasons, labels : ndarray, shape (n_strides, n_measures)
        As in :class:`gaittrack.compare.walked.walks.Strides`.
    facts
        The other fields of :class:`WalkRecord`, by name.
    """
    stacks: dict[tuple[Side, Joint], list[FloatArray]] = {}
    for side, joint, points in curves:
        stacks.setdefault((side, joint), []).append(points)
    return WalkRecord(
        cycles=by_side((each.side, each.id) for each in strides),
        contacts=by_side((each.side, each.contact) for each in strides),
        tables=cut_strides(
            measures,
            [each.side for each in strides],
            values=values,
            reasons=reasons,
            labels=labels,
            speeds_m_s=np.array([each.speed_m_s for each in strides], dtype=float),
        ),
        curves={key: np.array(points) for key, points in stacks.items()},
        **facts,
    )


def walk_records(walk: MeasuredWalk, condition: str, *, session: str = "") -> list[WalkRecord]:
    """Return the walks of a file.

    Parameters
    ----------
    condition : str
        Name of the condition in the comparison. A sheet that holds several conditions gives its
        cycles of the one with the same name.
    session : str
        Day or visit, when known.

    Returns
    -------
    list of WalkRecord
        Empty when no cycle was kept.

    Raises
    ------
    ComparisonError
        The sheet holds several conditions, none of which is the one asked for.
    """
    return [
        _record(walk, condition, part, cycles, session)
        for part, cycles in kept_parts(walk, condition)
    ]


def walk_facts(walk: MeasuredWalk, condition: str) -> list[dict[str, Any]]:
    """Return what :func:`walk_records` says of each walk beside strides and curves, by name."""
    return [
        {"cycles": by_side((each.side, each.id) for each in cycles)}
        | _facts(walk, condition, part, cycles)
        for part, cycles in kept_parts(walk, condition)
    ]


def kept_parts(walk: MeasuredWalk, condition: str) -> list[tuple[str, list[Cycle]]]:
    """Return the kept cycles of each walk of a file, by the name of its part."""
    kept = [cycle for cycle in walk.cycles if cycle.is_kept]
    parts = _parts(walk, kept, condition)
    return [(part, cycles) for part, cycles in parts.items() if cycles]


def of_condition(walk: MeasuredWalk, condition: str) -> MeasuredWalk:
    """Keep the strides of one condition, where a sheet holds several; as :func:`walk_records`."""
    kept = [cycle for cycle in walk.cycles if cycle.is_kept]
    own = {cycle.id for part in _parts(walk, kept, condition).values() for cycle in part}
    cycles = tuple(
        cycle
        if cycle.id in own or not cycle.is_kept
        else replace(cycle, reject_reasons=(Reason("of_another_condition"),))
        for cycle in walk.cycles
    )
    return replace(walk, cycles=cycles, rows=tuple(row for row in walk.rows if row.cycle in own))


def _parts(walk: MeasuredWalk, kept: Sequence[Cycle], condition: str) -> dict[str, list[Cycle]]:
    """Return the cycles of each walk in the file, by the name of the part."""
    if any(curve.condition for curve in walk.trial.curves):
        return _parts_of_sheet(walk, kept, condition)
    axes = walk.motion.axes
    if axes is None or axes.is_treadmill:
        return {"": list(kept)}
    parts: dict[str, list[Cycle]] = {}
    for cycle in kept:
        middle = int((cycle.start_s + cycle.end_s) / 2 * walk.motion.rate_hz)
        parts.setdefault(f"pass {axes.pass_number[middle]}", []).append(cycle)
    return parts if len(parts) > 1 else {"": list(kept)}


def _parts_of_sheet(
    walk: MeasuredWalk, kept: Sequence[Cycle], condition: str
) -> dict[str, list[Cycle]]:
    names = list(dict.fromkeys(curve.condition for curve in walk.trial.curves))
    if len(names) == 1:
        return {"": list(kept)}
    wanted = match_name(condition, names)
    if wanted is None:
        raise ComparisonError.of(
            "condition_not_of_sheet",
            where=walk.path.name,
            condition=condition,
            names=", ".join(names),
        )
    # The cycles of curves were made in the order in which side, condition and name first occur.
    keys = dict.fromkeys((c.side, c.condition, c.cycle) for c in walk.trial.curves)
    of_curves = [cycle for cycle in walk.cycles if cycle.from_curve]
    chosen = {
        cycle.id
        for (_, found, _), cycle in zip(keys, of_curves, strict=True)
        if found == wanted and cycle.is_kept
    }
    return {f"condition {wanted}": [cycle for cycle in kept if cycle.id in chosen]}


def _record(
    walk: MeasuredWalk, condition: str, part: str, cycles: Sequence[Cycle], session: str
) -> WalkRecord:
    return walk_record(
        [StrideFacts(each.id, each.side, each.contact, each.speed_m_s) for each in cycles],
        [(each.side, *curve) for each in cycles for curve in walk.trusted_curves(each).items()],
        **_measured(walk, cycles),
        **_facts(walk, condition, part, cycles),
        session=session,
    )


def _facts(
    walk: MeasuredWalk, condition: str, part: str, cycles: Sequence[Cycle]
) -> dict[str, Any]:
    motion, trial = walk.motion, walk.trial
    speeds = np.array([cycle.speed_m_s for cycle in cycles])
    known = speeds[np.isfinite(speeds)]
    path = readable(walk.path)
    return {
        "walk_id": f"{path} {part} in {condition}" if part else f"{path} in {condition}",
        "sha256": trial.provenance.sha256,
        "condition": condition,
        "file_name": readable(walk.path.name),
        "rate_hz": trial.rate_hz,
        "event_source": _event_source(cycles),
        "neutral_source": _neutral_source(walk),
        "angle_origin": _angle_origin(walk),
        "smoothing": motion.smoothing,
        "is_treadmill": motion.axes is not None and motion.axes.is_treadmill,
        "mean_speed_m_s": float(known.mean()) if len(known) else float("nan"),
        "part": part,
        "is_part_of_sheet": part != "" and bool(trial.curves),
        "segments_m": motion.markers.segments_m,
        "noise_m": motion.markers.noise_m,
        "landmarks": motion.landmarks,
        "origins": _origins(walk, cycles),
    }


def _origins(
    walk: MeasuredWalk, cycles: Sequence[Cycle]
) -> dict[tuple[str, Side], frozenset[Origin]]:
    """Return what the values and angles of some strides of a file were made of."""
    own = {cycle.id for cycle in cycles}
    found: dict[tuple[str, Side], frozenset[Origin]] = dict(angle_origins(walk.motion).items())
    defined = [row for row in walk.rows if row.reason is None and row.cycle in own]
    for measure, side, origins in dict.fromkeys(map(_MADE_OF, defined)):
        key = measure, side
        found[key] = found[key] | origins if key in found else origins
    return found


def _event_source(cycles: Sequence[Cycle]) -> str:
    used = Counter(source for cycle in cycles for source in cycle.sources)
    return " and ".join(source for source in EVENT_SOURCES if used[source])


def _neutral_source(walk: MeasuredWalk) -> str:
    sources = {side: neutral.source for side, neutral in walk.motion.neutral.items()}
    if not sources or set(sources.values()) == {"none"}:
        return _AS_IN_FILE if _angle_origin(walk) == "file" else ""
    if len(set(sources.values())) == 1:
        return next(iter(sources.values()))
    return ", ".join(f"{source} ({side})" for side, source in sorted(sources.items()))


def _angle_origin(walk: MeasuredWalk) -> str:
    if walk.trial.curves:
        return "file"
    origins = walk.motion.angle_origin
    if len(set(origins.values())) < 2:
        return "".join(set(origins.values()))
    own = sorted(f"{side} {joint}" for (side, joint), origin in origins.items() if origin == "file")
    return f"the file ({', '.join(own)}), the others from markers"


def _measured(walk: MeasuredWalk, cycles: Sequence[Cycle]) -> dict[str, Any]:
    """Return what every measure says of every cycle."""
    measures = tuple(dict.fromkeys(row.measure for row in walk.rows))
    found = {(row.cycle, row.measure): row for row in walk.rows}
    rows = [found[cycle.id, name] for cycle in cycles for name in measures]
    shape = len(cycles), len(measures)
    return {
        "measures": measures,
        "values": np.array([row.value for row in rows], dtype=float).reshape(shape),
        "reasons": np.fromiter((row.reason for row in rows), dtype=object).reshape(shape),
        "labels": np.fromiter((row.labels for row in rows), dtype=object).reshape(shape),
    }

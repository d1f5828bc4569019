"""Results as they are stored, and back.

In comes a :class:`MeasuredWalk`, out come the rows of the tables ``result``, ``event`` and
``trial_mean``; and from a stored result the :class:`WalkRecord` objects of a comparison. Values
(cycles × measures) and then curves (101 points each) stand in one blob of float32, little-endian;
the JSON in ``layout`` says what stands where, and of which kind the blob is.
"""

from __future__ import annotations

import json
import math
from collections.abc import Collection, Hashable, Iterator, Mapping, Sequence
from itertools import chain
from typing import Any, Final, TypeVar

import numpy as np

from gaittrack import __version__
from gaittrack.compare.walked.walks import WalkRecord
from gaittrack.cycles import N_PERCENT_POINTS, Cycle
from gaittrack.errors import GaitTrackError, Problem, StudyError
from gaittrack.map_fit import names_of
from gaittrack.measured_walk import MeasuredWalk, RefusedFile, Result
from gaittrack.measures import MEASURES
from gaittrack.measures.recording import Origin
from gaittrack.reasons import as_plain, from_plain
from gaittrack.study.checksums import damaged_result, result_holds
from gaittrack.study.history import utc_now
from gaittrack.study.results.walk_means import NAMES, StrideTable, number_of
from gaittrack.trial import FloatArray
from gaittrack.vocabulary import Joint, Side
from gaittrack.walk_records import StrideFacts, walk_facts, walk_record

BLOB_VERSION: Final = 2
_F4: Final = np.dtype("<f4")
_Said = TypeVar("_Said", bound=Hashable)
_WALK_FACTS: Final = (
    "part",
    "event_source",
    "neutral_source",
    "angle_origin",
    "smoothing",
    "is_treadmill",
    "is_part_of_sheet",
)
_MARKER_FACTS: Final = ("segments_m", "noise_m", "seen_share")
_UNITS: Final = tuple(measure.unit for measure in MEASURES)
_NOTHING: Final = {"facts": "{}", "cycles": "[]", "layout": "{}", "numbers": b""}


def result_row(result: Result, settings: str, *, condition: str) -> dict[str, Any]:
    """Return the row of ``result`` without its trial.

    Parameters
    ----------
    result : MeasuredWalk or RefusedFile
        Of a refused file the reason is kept, and no number.
    settings : str
        Hash from ``sources.settings_hash``.
    condition : str
        Which condition of a sheet that holds several.
    """
    row = {
        "software_version": __version__,
        "settings_hash": settings,
        "measured_utc": utc_now(),
    }
    if isinstance(result, RefusedFile):
        problems = _plain_problems(result.error.problems)
        return row | {"refusal": _plain_refusal(result.error), "problems": problems} | _NOTHING
    layout, numbers = _packed(result)
    return row | {
        "refusal": "",
        "problems": _plain_problems(result.problems),
        "facts": json.dumps(_facts(result, walk_facts(result, condition))),
        "cycles": json.dumps([_plain_cycle(cycle) for cycle in result.cycles]),
        "layout": json.dumps(layout),
        "numbers": numbers,
    }


def event_rows(result: Result) -> list[tuple[Any, ...]]:
    """Return ``EVENT_COLUMNS`` of the rows of ``event``."""
    if isinstance(result, RefusedFile):
        return []
    return [
        (float(one.time_s), one.side, one.kind, one.source, one.contact)
        for one in result.events.events
    ]


def said_refusal(stored: str) -> str:
    """Return why a trial could not be measured, from the column ``refusal``; empty when it was."""
    if not stored:
        return ""
    refusal = json.loads(stored)
    place = f"{refusal['where']}: " if refusal["where"] else ""
    return f"{place}{refusal['text']}"


def _plain_refusal(error: GaitTrackError) -> str:
    text = f"{error.what} {error.action}".rstrip()
    return json.dumps({"code": error.code, "text": text, "where": error.where})


def _plain_problems(problems: Sequence[Problem]) -> str:
    return json.dumps(
        [{"level": p.level, "reason": as_plain(p.reason), "where": p.where} for p in problems]
    )


def _facts(walk: MeasuredWalk, told: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    return {
        "rate_hz": number_of(walk.trial.rate_hz),
        "n_frames": walk.trial.n_frames,
        "steps": list(walk.trial.provenance.steps),
        "names": [list(names_of(walk.trial)), list(walk.standing_names)],
        **{name: _known(getattr(walk.motion.markers, name)) for name in _MARKER_FACTS},
        "walks": [
            {name: own[name] for name in _WALK_FACTS}
            | {"mean_speed_m_s": number_of(own["mean_speed_m_s"])}
            | {"cycles": [cycle for side in own["cycles"].values() for cycle in side]}
            | {"landmarks": sorted(own["landmarks"]), **_plain_origins(own["origins"])}
            for own in told
        ],
    }


def _known(values: Mapping[str, float]) -> dict[str, float]:
    return {name: float(value) for name, value in values.items() if math.isfinite(value)}


def _plain_origins(origins: Mapping[tuple[str, Side], frozenset[Origin]]) -> dict[str, Any]:
    """Return what values were made of, each set once, and which of them each value has."""
    said, codes = _coded([list(origins.values())])
    return {
        "origins": [sorted(each) for each in said],
        "origin_of": [[*key, code] for key, code in zip(origins, codes[0], strict=True)],
    }


def _stored_origins(walk: Mapping[str, Any]) -> dict[tuple[str, Side], frozenset[Origin]]:
    """Return the origins of a stored walk; empty where an earlier version kept none."""
    sets = [
        frozenset((name, tuple(parts)) for name, parts in each) for each in walk.get("origins", ())
    ]
    return {(name, side): sets[code] for name, side, code in walk.get("origin_of", ())}


def _plain_cycle(cycle: Cycle) -> dict[str, Any]:
    times = ("start_s", "toe_off_s", "end_s", "speed_m_s")
    words = ("id", "side", "contact", "label", "is_mean", "from_curve")
    lists = ("reject_reasons", "review_reasons")
    return (
        {name: number_of(getattr(cycle, name)) for name in times}
        | {name: getattr(cycle, name) for name in words}
        | {"sources": list(cycle.sources)}
        | {name: [as_plain(reason) for reason in getattr(cycle, name)] for name in lists}
    )


def _packed(walk: MeasuredWalk) -> tuple[dict[str, Any], bytes]:
    kept = [cycle for cycle in walk.cycles if cycle.is_kept]
    told = StrideTable.of(walk)
    line_of = {name: line for line, name in enumerate(told.cycles)}
    lines = [line_of[cycle.id] for cycle in kept]
    trusted = {cycle.id: walk.trusted_curves(cycle) for cycle in kept}
    curves = [(name, joint) for name, own in trusted.items() for joint in own]
    points = [curve for own in trusted.values() for curve in own.values()]
    reasons, reason_of = _coded([told.reasons[line] for line in lines])
    labels, label_of = _coded([told.labels[line] for line in lines])
    layout = {
        "version": BLOB_VERSION,
        "measures": NAMES,
        "units": _UNITS,
        "cycles": [cycle.id for cycle in kept],
        "curves": curves,
        "reasons": [None if each is None else as_plain(each) for each in reasons],
        "reason_of": reason_of,
        "labels": [[as_plain(label) for label in each] for each in labels],
        "label_of": label_of,
    }
    return layout, np.concatenate([told.values[lines].ravel(), *points]).astype(_F4).tobytes()


def _coded(said: Sequence[Sequence[_Said]]) -> tuple[list[_Said], list[list[int]]]:
    """Return what is said, each once, and for each place the number of what is said there."""
    numbers = {each: n for n, each in enumerate(dict.fromkeys(chain.from_iterable(said)))}
    return list(numbers), [list(map(numbers.__getitem__, line)) for line in said]


def stored_walks(
    trial: Mapping[str, Any],
    result: Mapping[str, Any],
    *,
    condition: str,
    session: str,
    measures: Collection[str] | None = None,
    with_curves: bool = True,
) -> list[WalkRecord]:
    """Make the walks for a comparison from a stored result.

    Parameters
    ----------
    trial : mapping
        Row of ``trial``.
    result : mapping
        Row of ``result``.
    condition : str
        Name it has in the comparison.
    session : str
        Its visit.
    measures : collection of str, optional
        Names of those that are wanted; all without it.

    Returns
    -------
    list of WalkRecord
        One per pass; empty when the file was refused or no stride was kept.

    Raises
    ------
    DamagedResultError
        The result is not what was kept.
    StudyError
        The result was packed by a newer version.
    """
    if not result_holds({**result, "sha256": trial["sha256"]}):
        raise damaged_result(f"{session}, {condition}, {trial['code']}")
    if result["refusal"]:
        return []
    layout, facts = json.loads(result["layout"]), json.loads(result["facts"])
    _refuse_other_packing(layout, trial["file_name"], condition)
    values, points = _unpacked(layout, result["numbers"])
    by_id = {cycle["id"]: cycle for cycle in json.loads(result["cycles"])}
    names = [name for name in layout["measures"] if measures is None or name in measures]
    found = []
    for walk in facts["walks"]:
        lines = [line for line, name in enumerate(layout["cycles"]) if name in walk["cycles"]]
        record = walk_record(
            [_stride_facts(by_id[layout["cycles"][line]]) for line in lines],
            _curves_of(layout, points, by_id, walk["cycles"]) if with_curves else (),
            **_measured(layout, values, lines, names),
            walk_id=f"{condition} {trial['code']} {walk['part']}".rstrip(),
            sha256=trial["sha256"],
            condition=condition,
            file_name=trial["file_name"],
            rate_hz=_nan(facts["rate_hz"]),
            **{name: walk[name] for name in _WALK_FACTS},
            mean_speed_m_s=_nan(walk["mean_speed_m_s"]),
            session=session,
            segments_m=facts.get("segments_m", {}),
            noise_m=facts.get("noise_m", {}),
            landmarks=frozenset(walk.get("landmarks", ())),
            origins=_stored_origins(walk),
        )
        found.append(record)
    return found


def _refuse_other_packing(layout: Mapping[str, Any], file_name: str, condition: str) -> None:
    if layout.get("version") != BLOB_VERSION:
        raise StudyError.of("result_packed_unknown", where=condition, file_name=file_name)


def _nan(value: float | None) -> float:
    return math.nan if value is None else value


def _unpacked(layout: Mapping[str, Any], numbers: bytes) -> tuple[FloatArray, FloatArray]:
    flat = np.frombuffer(numbers, dtype=_F4).astype(float)
    shape = len(layout["cycles"]), len(layout["measures"])
    n_values = shape[0] * shape[1]
    return flat[:n_values].reshape(shape), flat[n_values:].reshape(-1, N_PERCENT_POINTS)


def _stride_facts(cycle: Mapping[str, Any]) -> StrideFacts:
    return StrideFacts(cycle["id"], cycle["side"], cycle["contact"], _nan(cycle["speed_m_s"]))


def _measured(
    layout: Mapping[str, Any], values: FloatArray, lines: Sequence[int], names: Sequence[str]
) -> dict[str, Any]:
    """Return what the named measures say of the cycles in these lines."""
    here = np.ix_(lines, [layout["measures"].index(name) for name in names])
    reasons = [None if each is None else from_plain(each) for each in layout["reasons"]]
    labels = [tuple(map(from_plain, each)) for each in layout["labels"]]
    return {
        "measures": names,
        "values": values[here],
        "reasons": _at_places(reasons, layout["reason_of"], here),
        "labels": _at_places(labels, layout["label_of"], here),
    }


def _at_places(said: Sequence[Any], codes: Sequence[Sequence[int]], here: Any) -> Any:
    return np.fromiter(said, dtype=object)[np.array(codes, dtype=int)[here]]


def _curves_of(
    layout: Mapping[str, Any],
    points: FloatArray,
    cycles: Mapping[str, Any],
    wanted: Collection[str],
) -> Iterator[tuple[Side, Joint, FloatArray]]:
    for (cycle_id, joint), curve in zip(layout["curves"], points, strict=True):
        if cycle_id in wanted:
            yield cycles[cycle_id]["side"], joint, curve

"""What comes out of measuring a file, and its plain forms: a table and JSON values.

A :class:`MeasuredWalk` keeps everything from the trial to the rows; a :class:`RefusedFile` keeps
why there is nothing. In comes one of them, out goes a table or a dict of plain values.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from gaittrack import __version__
from gaittrack.cycles import Cycle
from gaittrack.errors import GaitTrackError, Problem
from gaittrack.events import DetectedEvents
from gaittrack.kinematics import Motion
from gaittrack.late import pandas as pd
from gaittrack.measures import MEASURES, Row, walk_values
from gaittrack.measures.measure import Measure
from gaittrack.notebook_view import Shown, SmallTable
from gaittrack.notice import NOTICE
from gaittrack.readable_names import readable
from gaittrack.reasons import as_json, as_plain
from gaittrack.table_cells import cell
from gaittrack.trial import Event, FloatArray, Trial
from gaittrack.vocabulary import Joint

TABLE_COLUMNS: Final = [
    *("file", "sha256", "side", "cycle", "start_s", "contact", "measure", "value", "unit"),
    *("reason", "labels", "smoothing", "gaittrack_version"),
]
"""Columns of :meth:`MeasuredWalk.strides`."""
VALUE_COLUMNS: Final = [
    *("file", "side", "measure", "value", "unit", "n_defined", "n_not_defined", "n_not_trusted"),
    *("reason", "labels", "smoothing", "sha256", "gaittrack_version"),
]
"""Columns of :meth:`MeasuredWalk.values`."""
REFUSAL_COLUMNS: Final = ["file", "sha256", "reason", "where", "action"]
"""Columns of :meth:`RefusedFile.refusals`."""


@dataclass(frozen=True, eq=False, slots=True, repr=False)
class MeasuredWalk(Shown):
    """One file, measured.

    Attributes
    ----------
    cycles : tuple of Cycle
        Kept and rejected ones.
    rows : tuple of Row
        One per measure and kept cycle.
    problems : tuple of Problem
        Those of all stages, each once.
    spoiled_curves : frozenset of (str, Joint)
        Curves over the cycle, by cycle and joint, that a problem spoils.
    standing_names : tuple of str
        Names in the standing trial that a map may know.
    """

    path: Path
    trial: Trial
    motion: Motion
    events: DetectedEvents
    cycles: tuple[Cycle, ...]
    rows: tuple[Row, ...]
    problems: tuple[Problem, ...]
    spoiled_curves: frozenset[tuple[str, Joint]] = frozenset()
    standing_names: tuple[str, ...] = ()

    def trusted_curves(self, cycle: Cycle) -> dict[Joint, FloatArray]:
        """Return the curves of a cycle that no problem spoils, shape (101,), in degrees."""
        spoiled, curves = self.spoiled_curves, cycle.percent_curves
        return {joint: curves[joint] for joint in curves if (cycle.id, joint) not in spoiled}

    def strides(self) -> pd.DataFrame:
        """Return every measure of every kept cycle.

        Returns
        -------
        DataFrame
            One row per measure and cycle: ``file, sha256, side, cycle, start_s, contact, measure,
            value`` (NaN when not defined), ``unit, reason, labels`` (joined by ``; ``),
            ``smoothing, gaittrack_version``.
        """
        cycles = {cycle.id: cycle for cycle in self.cycles}
        return pd.DataFrame(
            [
                (
                    *(readable(self.path), self.trial.provenance.sha256),
                    *(row.side, row.cycle, cycles[row.cycle].start_s, cycles[row.cycle].contact),
                    *(row.measure, row.value, row.unit, cell(row.reason), cell(row.labels)),
                    *(self.motion.smoothing, __version__),
                )
                for row in self.rows
            ],
            columns=TABLE_COLUMNS,
        )

    def values(self) -> pd.DataFrame:
        """Return the value of the walk, by measure and side.

        Returns
        -------
        DataFrame
            ``VALUE_COLUMNS``. ``value`` is the mean of the strides, of clearances the median; NaN,
            with the reason, when no stride is defined or a sheet holds several conditions.
        """
        mixed = several_conditions(self)
        return pd.DataFrame(
            [
                (
                    *(readable(self.path), found["side"], found["measure"]),
                    *(math.nan if mixed else found["value"], found["unit"], found["n_defined"]),
                    *(
                        found["n_not_defined"],
                        found["n_not_trusted"],
                        _why_no_value(found, mixed),
                        cell(found["labels"]),
                    ),
                    *(self.motion.smoothing, self.trial.provenance.sha256, __version__),
                )
                for found in walk_values(self.rows).to_dict("records")
            ],
            columns=VALUE_COLUMNS,
        )

    def refusals(self) -> pd.DataFrame:
        """Return an empty table: nothing was refused; see :meth:`RefusedFile.refusals`."""
        return pd.DataFrame(columns=REFUSAL_COLUMNS)

    def _facts(self) -> Mapping[str, object]:
        trial = self.trial
        return {
            "path": self.path,
            "format": trial.provenance.format,
            "rate_hz": trial.rate_hz,
            "n_frames": trial.n_frames,
            "cycles_kept": f"{sum(each.is_kept for each in self.cycles)} of {len(self.cycles)}",
            "problems": [str(each) for each in self.problems if each.level != "info"],
        }

    def _small_table(self) -> SmallTable:
        values = self.values().set_index("measure")
        rows = [
            (measure.title, *found)
            for measure in MEASURES
            if measure.group == "headline" and measure.name in values.index
            for found in _headline_cells(values.loc[[measure.name]], measure)
        ]
        heads = ("measure", "unit", "side", "walk value", "n defined", "not defined because")
        return SmallTable(heads, tuple(rows), (NOTICE,))


def _headline_cells(found: pd.DataFrame, measure: Measure) -> Iterator[tuple[object, ...]]:
    for row in found.to_dict("records"):
        value = "-" if math.isnan(row["value"]) else f"{row['value']:.{measure.decimals}f}"
        yield measure.unit, row["side"], value, row["n_defined"], row["reason"]


def several_conditions(walk: MeasuredWalk) -> tuple[str, ...]:
    """Return the conditions of a sheet that holds more than one, else nothing."""
    names = tuple(dict.fromkeys(curve.condition for curve in walk.trial.curves))
    return names if len(names) > 1 else ()


def _why_no_value(found: Mapping[Any, Any], mixed: Sequence[str]) -> object:
    if mixed:
        return f"the sheet holds several conditions ({', '.join(mixed)})"
    reasons: Mapping[Any, int] = found["reasons"]
    return "" if found["n_defined"] else cell(sorted(reasons, key=lambda each: -reasons[each]))


@dataclass(frozen=True, eq=False, slots=True, repr=False)
class RefusedFile(Shown):
    """One file that could not be measured.

    Attributes
    ----------
    sha256 : str or None
        None when the file could not even be read as bytes.
    error : GaitTrackError
        Why.
    """

    path: Path
    sha256: str | None
    error: GaitTrackError

    def refusals(self) -> pd.DataFrame:
        """Return why the file was refused.

        Returns
        -------
        DataFrame
            One row for the refusal and one for each fault that was found: ``file, sha256, reason,
            where, action``.
        """
        faults: list[GaitTrackError | Problem] = [self.error, *self.error.problems]
        return pd.DataFrame(
            [
                (readable(self.path), self.sha256, cell(each.what), each.where, each.action)
                for each in faults
            ],
            columns=REFUSAL_COLUMNS,
        )

    def strides(self) -> pd.DataFrame:
        """Return an empty table with the columns of :meth:`MeasuredWalk.strides`."""
        return pd.DataFrame(columns=TABLE_COLUMNS)

    def values(self) -> pd.DataFrame:
        """Return an empty table with the columns of :meth:`MeasuredWalk.values`."""
        return pd.DataFrame(columns=VALUE_COLUMNS)

    def _facts(self) -> Mapping[str, object]:
        error = self.error
        return {
            "path": self.path,
            "reason": error.what,
            "where": error.where,
            "action": error.action,
        }


Result = MeasuredWalk | RefusedFile


def as_json_dict(result: Result) -> dict[str, Any]:
    """Return a result as plain values for JSON.

    Returns
    -------
    dict
        ``file, sha256, rate_hz, problems, events, cycles, measures``; of a refused file ``file,
        sha256, problems, error``. Times in seconds from the first stored frame; NaN is None.
    """
    if isinstance(result, RefusedFile):
        error = result.error
        return {
            "file": readable(result.path),
            "sha256": result.sha256,
            "problems": _plain_problems(error.problems),
            "error": {"what": error.what, "where": error.where, "action": error.action},
        }
    return {
        "file": readable(result.path),
        "sha256": result.trial.provenance.sha256,
        "rate_hz": _number(result.trial.rate_hz),
        "problems": _plain_problems(result.problems),
        "events": [_plain_event(event) for event in result.events.events],
        "cycles": [_plain_cycle(cycle) for cycle in result.cycles],
        "measures": [_plain_row(row) for row in result.rows],
    }


def _plain_problems(problems: Iterable[Problem]) -> list[dict[str, Any]]:
    return [
        {"level": p.level, "what": p.what, "where": p.where, "action": p.action}
        | {"reason": as_plain(p.reason)}
        for p in problems
    ]


def _plain_event(event: Event) -> dict[str, Any]:
    return {
        "time_s": _number(event.time_s),
        "side": event.side,
        "kind": event.kind,
        "source": event.source,
        "contact": event.contact,
    }


def _plain_cycle(cycle: Cycle) -> dict[str, Any]:
    return {
        "id": cycle.id,
        "side": cycle.side,
        "start_s": _number(cycle.start_s),
        "toe_off_s": _number(cycle.toe_off_s),
        "end_s": _number(cycle.end_s),
        "speed_m_s": _number(cycle.speed_m_s),
        "contact": cycle.contact,
        "reject_reasons": list(map(as_json, cycle.reject_reasons)),
    }


def _plain_row(row: Row) -> dict[str, Any]:
    return {
        "measure": row.measure,
        "side": row.side,
        "cycle": row.cycle,
        "value": _number(row.value),
        "unit": row.unit,
        "reason": None if row.reason is None else as_json(row.reason),
        "labels": list(map(as_json, row.labels)),
    }


def _number(value: float) -> float | None:
    """Return a plain float, or None for what JSON has no number for."""
    return float(value) if math.isfinite(value) else None

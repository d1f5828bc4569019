"""Cycles of a sheet of 0–100 % curves: they were cut before they came."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from gaittrack.cycles.cycle import N_PERCENT_POINTS, Cycle
from gaittrack.cycles.rejecting import reasons_against_curves
from gaittrack.trial import AngleCurve, Trial
from gaittrack.vocabulary import SIDES, Side


def cycles_of_curves(trial: Trial) -> tuple[Cycle, ...]:
    """Make a cycle of every 0-100 % curve (set of curves of one side) of a sheet.

    Returns
    -------
    tuple of Cycle
        ``from_curve`` is True, ``label`` the sheet's own name; without a cycle time ``end_s`` is
        NaN. Kept, or rejected where the hip shows that 0 % is no contact or the time is no step's.
    """
    together: dict[tuple[Side, str, str], list[AngleCurve]] = {}
    for curve in trial.curves:
        together.setdefault((curve.side, curve.condition, curve.cycle), []).append(curve)
    counts = dict.fromkeys(SIDES, 0)
    cycles = []
    for (side, _, label), curves in together.items():
        counts[side] += 1
        cycles.append(_cycle_of_curves(f"{side}-{counts[side]:02d}", side, label, curves))
    return tuple(cycles)


def _cycle_of_curves(name: str, side: Side, label: str, curves: list[AngleCurve]) -> Cycle:
    duration_s = next((c.cycle_time_s for c in curves if not math.isnan(c.cycle_time_s)), math.nan)
    off = next((c.toe_off_percent for c in curves if not math.isnan(c.toe_off_percent)), math.nan)
    percent = np.linspace(0.0, 100.0, N_PERCENT_POINTS)
    cycle = Cycle(
        id=name,
        side=side,
        start_s=0.0,
        toe_off_s=off / 100.0 * duration_s,
        end_s=duration_s,
        percent_curves={
            curve.joint: np.interp(
                percent, np.linspace(0.0, 100.0, len(curve.values_deg)), curve.values_deg
            )
            for curve in curves
        },
        sources=("file",),
        is_mean=any(curve.is_mean for curve in curves),
        from_curve=True,
        label=label,
    )
    return replace(cycle, reject_reasons=reasons_against_curves(cycle))

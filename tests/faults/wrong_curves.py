"""Sheets of curves over the cycle that were filled in wrongly, as changes to good ones."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np

from gaittrack.errors import GaitTrackError
from gaittrack.trial import AngleCurve, FloatArray, Trial
from gaittrack.vocabulary import Joint
from tests.faults.faults import Change, Fault, Refused
from tests.faults.good_recordings import SAMPLES, Good, read
from tests.faults.wrong_sheets import MIRRORED, NAMES, NO_ZERO, SWAPPED

ANGLES: tuple[Joint, ...] = ("ankle", "knee", "hip_thigh_vertical")
EACH_OWN = "each curve begins with a contact of its own leg: nothing in it tells left from right"
Curves = list[AngleCurve]


def good_curves() -> Iterator[Good]:
    """Give sheets that are right: without and with a brace."""
    for condition in ("without-brace", "with-brace"):
        path = SAMPLES / "P04" / "visit-1" / condition / "walk-2.xlsx"
        yield Good(f"P04 {condition}", read(path))


def curve_faults() -> Iterator[Fault]:
    """Give curves with names exchanged, signs turned, other units, zeros and beginnings."""
    yield _fault("sides exchanged in all curves", _sides(*ANGLES), MIRRORED)
    for joint in ANGLES:
        yield _fault(f"sides exchanged in the {joint}s", _sides(joint), EACH_OWN)
        yield _fault(f"sign of the {joint}s turned", _values(joint, np.negative))
    yield _fault("hip and knee exchanged", _renamed("knee", "hip_thigh_vertical"))
    yield _fault("ankle and hip exchanged", _renamed("ankle", "hip_thigh_vertical"))
    yield _fault("ankles at 90", _values("ankle", lambda deg: deg + 90.0))
    yield _fault("ankles 10 deg off", _values("ankle", lambda deg: deg + 10.0), NO_ZERO)
    yield _fault("knees from 180 down", _values("knee", lambda deg: 180.0 - deg))
    yield _fault("in radians, said to be degrees", _values("", np.radians))
    yield _fault("from 100 % back", _values("", lambda deg: deg[::-1]))
    for percent in (10, 40, 64):
        turned = _values("", lambda deg, n=percent: np.r_[deg[n:-1], deg[: n + 1]])
        yield _fault(f"begun {percent} % late", turned)
    yield _fault("cycle time in ms", _facts(cycle_time=1000.0))
    yield _fault("cycle time halved", _facts(cycle_time=0.5))
    yield _fault("toe-off as a share", _facts(toe_off=0.01))
    yield _fault("swing in the place of toe-off", _facts(toe_off=-1.0))


def _fault(name: str, change: Callable[[Curves], Curves], why: str = "") -> Fault:
    return Fault("curves", name, _read_again(change), unknowable=why)


def _read_again(change: Callable[[Curves], Curves]) -> Change:
    def changed(good: Good) -> Trial | None:
        curves = change(list(good.trial.curves))
        names = [f"{c.side} {NAMES[c.joint]} (deg) cycle {c.cycle}" for c in curves]
        lines = [
            ["percent of cycle", *names],
            ["cycle time (s)", *(f"{c.cycle_time_s:.3f}" for c in curves)],
            ["toe-off (%)", *(f"{c.toe_off_percent:.3f}" for c in curves)],
        ]
        for percent, *row in zip(range(101), *(c.values_deg for c in curves), strict=True):
            lines.append([f"{percent}", *(f"{value:.4f}" for value in row)])
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "walk.csv"
            path.write_text("\n".join(map(",".join, lines)) + "\n", encoding="utf-8")
            try:
                return read(path)
            except GaitTrackError as error:
                raise Refused from error

    return changed


def _sides(*joints: Joint) -> Callable[[Curves], Curves]:
    return lambda curves: [
        replace(c, side=SWAPPED[c.side]) if c.joint in joints else c for c in curves
    ]


def _renamed(one: Joint, two: Joint) -> Callable[[Curves], Curves]:
    names = {one: two, two: one}
    return lambda curves: [replace(c, joint=names.get(c.joint, c.joint)) for c in curves]


def _values(joint: str, change: Callable[[FloatArray], FloatArray]) -> Callable[[Curves], Curves]:
    return lambda curves: [
        replace(c, values_deg=change(c.values_deg)) if joint in c.joint else c for c in curves
    ]


def _facts(*, cycle_time: float = 1.0, toe_off: float = 1.0) -> Callable[[Curves], Curves]:
    def told(percent: float) -> float:
        return 100.0 - percent if toe_off < 0 else percent * toe_off

    return lambda curves: [
        replace(
            c,
            cycle_time_s=c.cycle_time_s * cycle_time,
            toe_off_percent=told(c.toe_off_percent),
        )
        for c in curves
    ]

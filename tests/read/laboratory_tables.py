"""Tables as laboratories write them, each of one walk whose truth is known from how it was made."""

from __future__ import annotations

import numpy as np

from gaittrack.simulate.recipe import WalkRecipe
from gaittrack.simulate.walk import simulate_walk

RATE_HZ, N = 100.0, 150
WALK = simulate_walk(WalkRecipe(speed_m_s=1.2), seed=3)
_SPAN = slice(150, 150 + N)
TIME_S = np.arange(N) / RATE_HZ
MARKERS = {
    label.replace(" ", "_"): xyz[_SPAN]
    for label, xyz in WALK.trial.markers.items()
    if not label.endswith(("hip", "5"))
}
"""Metres, by landmark."""
JOINTS = {"ankle": "Ankle", "knee": "Knee", "hip_pelvis_thigh": "Hip"}
ANGLES = {
    (side, joint): np.asarray(WALK.truth.angles_deg[side, joint])[_SPAN]
    for side in ("left", "right")
    for joint in JOINTS
}
LABELS = {
    f"{side}_{name}": side[0].upper() + short
    for side in ("left", "right")
    for name, short in {"asis": "ASI", "psis": "PSI", "knee": "KNE", "ankle": "ANK",
                        "heel": "HEE", "toe": "TOE"}.items()
}  # fmt: skip


def cell(value, digits=3, decimal="."):
    """Write a number."""
    return f"{value:.{digits}f}".replace(".", decimal)


def seconds(decimal="."):
    """Return what writes the time of a frame."""
    return lambda i: cell(TIME_S[i], decimal=decimal)


def frames(i):
    """Write the number of a frame, from 1."""
    return str(i + 1)


def clock(i):
    """Write a time of day."""
    return f"10:59:{59 + TIME_S[i]:06.3f}" if TIME_S[i] < 1 else f"11:00:{TIME_S[i] - 1:06.3f}"


def marker_table(name, *, names=None, lead=("Time", None), delimiter=",", decimal=".", scale=1000,
                 by_axis=False, above=(), below=(), foot=(), write=cell):  # fmt: skip
    """Write coordinates; ``name`` makes a column's name of a label and an axis."""
    names = names or LABELS
    columns = [(key, axis) for key in names for axis in range(3)]
    if by_axis:
        columns.sort(key=lambda each: each[1])
    first, moment = lead[0], lead[1] or seconds(decimal)
    heads = [first, *(name(names[key], "XYZ"[axis]) for key, axis in columns)]
    body = [
        [moment(i), *(write(scale * MARKERS[k][i, a], decimal=decimal) for k, a in columns)]
        for i in range(N)
    ]
    rows = [*above, delimiter.join(heads), *below, *map(delimiter.join, body), *foot]
    return "\n".join(rows) + "\n"


def angle_table(name, *, lead=("Time (s)", None), delimiter=",", decimal=".", above=(), below=(),
                foot=(), keys=tuple(ANGLES), write=None):  # fmt: skip
    """Write angles over time; ``name`` makes a column's name of a side and a joint."""
    first, moment = lead[0], lead[1] or seconds(decimal)
    write = write or (lambda key, value: cell(value, decimal=decimal))
    heads = [first, *(name(*key) for key in keys)]
    body = [[moment(i), *(write(key, ANGLES[key][i]) for key in keys)] for i in range(N)]
    rows = [*above, delimiter.join(heads), *below, *map(delimiter.join, body), *foot]
    return "\n".join(rows) + "\n"


def plain(side, joint):
    """Call a column by side and joint."""
    return f"{side.title()} {JOINTS[joint]}"


def plantarflexion_up(key, value):
    """Write an angle with the ankle's sign turned."""
    return cell(-value if key[1] == "ankle" else value)


def cycle(side, joint, number=0):
    """Return one true cycle on 101 points."""
    values = np.asarray(WALK.truth.angles_deg[side, joint])
    one = WALK.truth.of(side)[number]
    ends = np.linspace(one.start_s, one.end_s, 101)
    return np.interp(ends, np.arange(len(values)) / RATE_HZ, values)


def cycle_table(heads, cells, *, delimiter=",", foot=()):
    """Write curves over a cycle; ``heads`` are rows above, ``cells`` writes a value."""
    curves = [cycle(*key) for key in CYCLES]
    body = [delimiter.join([str(i), *(cells(curve[i]) for curve in curves)]) for i in range(101)]
    return "\n".join([*heads, *body, *foot]) + "\n"


CYCLES = [(side, joint, n) for side in ("left", "right") for joint in JOINTS for n in (0, 1)]

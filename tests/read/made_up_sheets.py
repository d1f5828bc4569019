"""Small joint-angle sheets made by hand: curves of a made-up walk, written in many ways."""

from pathlib import Path

import numpy as np

from gaittrack.lab_map import LabMap
from gaittrack.read.marker_texts import marker_text
from gaittrack.read.sheets import angle_sheet

PERCENT = {
    "ankle": ([0, 8, 45, 63, 80, 100], [0, -6, 12, -18, 2, 0]),
    "knee": ([0, 15, 40, 72, 100], [3, 18, 4, 62, 3]),
    "hip": ([0, 50, 85, 100], [30, -10, 33, 30]),
}
"""Corner points of one made-up cycle, per cent and degrees, our signs."""


def curve(joint, n_points=101):
    """Return one cycle of a made-up joint angle on ``n_points`` points."""
    return np.interp(np.linspace(0, 100, n_points), *PERCENT[joint])


def walk(joint, n_frames=200):
    """Return made-up cycles of 100 frames, one after the other."""
    one = curve(joint)[:-1]
    return np.tile(one, n_frames // 100 + 1)[:n_frames]


def written(columns, *, delimiter=",", decimal=".", digits=4):
    """Write columns (name → numbers) as text with a header row."""
    n_rows = max(map(len, columns.values()))
    lines = [delimiter.join(columns)]
    for row in range(n_rows):
        cells = (_cell(values, row, decimal, digits) for values in columns.values())
        lines.append(delimiter.join(cells))
    return "\n".join(lines) + "\n"


def _cell(values, row, decimal, digits):
    if row >= len(values) or values[row] is None:
        return ""
    value = values[row]
    if isinstance(value, str):
        return value
    return f"{value:.{digits}f}".replace(".", decimal)


def series(**changes):
    """Return the columns of a sheet over time: both ankles and knees at 100 Hz."""
    columns = {
        "Time (s)": np.arange(200) / 100,
        "Left Ankle": walk("ankle"),
        "Right Ankle": walk("ankle"),
        "Left Knee": walk("knee"),
        "Right Knee": walk("knee"),
    }
    return columns | changes


def read_sheet(text, *, lab_map=None, rate_hz=None, name="sheet.csv"):
    """Read text or bytes as a joint-angle sheet."""
    content = text if isinstance(text, bytes) else text.encode()
    return angle_sheet.read(
        Path(name), content, "0" * 64, lab_map=lab_map or LabMap(), rate_hz=rate_hz
    )


def read_markers(text, *, lab_map=None, rate_hz=None, name="markers.txt"):
    """Read text or bytes as a marker text table."""
    content = text if isinstance(text, bytes) else text.encode()
    return marker_text.read(
        Path(name), content, "0" * 64, lab_map=lab_map or LabMap(), rate_hz=rate_hz
    )


def messages(trial):
    """Return all problems of a trial as one text."""
    return "\n".join(map(str, trial.problems))


def motion_columns():
    """Return the columns of a motion table: both legs in degrees, and what is no sagittal angle."""
    left = {joint: np.roll(walk(joint), 50) for joint in ("ankle", "knee", "hip")}
    return {
        "time": np.arange(200) / 100,
        "pelvis_tx": np.arange(200) / 90,
        "hip_flexion_r": walk("hip"),
        "hip_rotation_r": 0.1 * walk("hip"),
        "knee_angle_r": walk("knee"),
        "ankle_angle_r": walk("ankle"),
        "hip_flexion_l": left["hip"],
        "knee_angle_l": left["knee"],
        "ankle_angle_l": left["ankle"],
    }


def motion_table(columns, *, n_rows=None, in_degrees="yes"):
    """Write a motion table: keys and values, ``endheader``, then columns parted by tabs."""
    n_rows = len(columns["time"]) if n_rows is None else n_rows
    head = f"walk\nversion=1\nnRows={n_rows}\nnColumns={len(columns)}\ninDegrees={in_degrees}\n"
    return f"{head}\nendheader\n" + written(columns, delimiter="\t", digits=8)

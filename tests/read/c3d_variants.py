"""A small made-up recording and what the reading tests do to its files."""

from __future__ import annotations

import warnings
from pathlib import Path

import c3d
import numpy as np

from gaittrack.simulate.c3d_writer import write_c3d
from gaittrack.trial import ForcePlate

RATE_HZ = 100.0
N_FRAMES = 60
PERSON = "Zachariah Quill"
"""A made-up name that must not come out of the reading room."""
CORNERS_M = np.array([[0.6, 0.0, 0.0], [0.0, 0.0, 0.0], [0.0, 0.4, 0.0], [0.6, 0.4, 0.0]])
HEIGHTS_M = {
    "left heel": 0.05,
    "left toe": 0.04,
    "left knee": 0.5,
    "left asis": 1.0,
    "right asis": 1.02,
    "neck": 1.45,
}
SIDEWAYS_M = {"left asis": 0.12, "right asis": -0.12}


def body_markers(n_frames: int = N_FRAMES) -> dict[str, np.ndarray]:
    """Return six markers of a body that moves forward at 1 m/s, one of them with a gap."""
    time_s = np.arange(n_frames)[:, None] / RATE_HZ
    markers = {}
    for number, (label, height_m) in enumerate(HEIGHTS_M.items()):
        place = np.array([0.03 * number, SIDEWAYS_M.get(label, 0.1), height_m])
        wobble = 0.02 * np.sin(2 * np.pi * time_s + number + np.array([0.0, 1.0, 2.0]))
        markers[label] = place + np.array([1.0, 0.0, 0.0]) * time_s + wobble
    markers["left toe"][n_frames // 3 : n_frames // 3 + 5] = np.nan
    return markers


def loaded_plate(n_frames: int = N_FRAMES, samples_per_frame: int = 10) -> ForcePlate:
    """Return a plate with one contact, 700 N upwards, pressure moving along x."""
    n_samples = n_frames * samples_per_frame
    force_n, pressure_m = np.zeros((n_samples, 3)), np.full((n_samples, 3), np.nan)
    on = slice(n_samples // 4, n_samples // 2)
    force_n[on] = 40.0, -15.0, 700.0
    pressure_m[on] = 0.0, 0.22, 0.0
    pressure_m[on, 0] = np.linspace(0.2, 0.4, len(pressure_m[on]))
    rate_hz = RATE_HZ * samples_per_frame
    return ForcePlate(force_n, pressure_m, CORNERS_M, rate_hz, "plate 1")


def write_variant(path: Path, **options) -> dict[str, np.ndarray]:
    """Write the recording as C3D and return its markers."""
    markers = options.pop("markers", None) or body_markers()
    write_c3d(path, rate_hz=RATE_HZ, markers=markers, **options)
    return markers


def second_reading(path: Path) -> np.ndarray:
    """Return the points as the c3d package reads them, stored unit, NaN where it says missing."""
    with path.open("rb") as file, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        frames = [points.copy() for _, points, _ in c3d.Reader(file).read_frames()]
    points = np.array(frames)[..., :4]
    points[points[..., 3] < 0] = np.nan
    return points[..., :3]


def stacked(markers) -> np.ndarray:
    """Return markers as one array, shape (n_frames, n_markers, 3)."""
    return np.stack(list(markers.values()), axis=1)

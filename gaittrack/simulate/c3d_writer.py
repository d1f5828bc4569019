"""Write made-up walks as C3D files, in every variant of the format that readers must survive.

In come markers in metres, angles in degrees, force plates and events; out goes one file, the same
bytes each time. Byte order, number storage, units, missing-point code, first frame number and any
parameter can be chosen, also wrongly, so that the reading room can be tested. The layout follows
the public C3D user guide (c3d.org): header, parameters and data in blocks of 512 bytes.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Literal

import numpy as np

from gaittrack.simulate.c3d_encoding import (
    BLOCK,
    ByteOrder,
    Content,
    Encoder,
    Groups,
    Missing,
    Value,
    padded,
)
from gaittrack.trial import FloatArray, ForcePlate

Storage = Literal["float", "integer"]
Parameters = Mapping[str, Mapping[str, Value | None]]

UNITS_PER_M = {"m": 1.0, "cm": 100.0, "mm": 1000.0}
EVENT_WORDS = {"initial_contact": "Initial Contact", "toe_off": "Toe Off"}
LABELS_PER_LIST = 255
FULL_SCALE_COUNTS = 32000.0
"""Largest stored integer; a little under the 16-bit limit, so that rounding cannot overflow."""
PLATE_DEPTH_M = 0.04
"""Depth of the plates' sensor below their surface, m."""


def write_c3d(
    path: Path,
    *,
    rate_hz: float,
    markers: Mapping[str, FloatArray],
    angles: Mapping[str, FloatArray] | None = None,
    events: Sequence[tuple[float, str, str]] = (),
    header_events: Sequence[tuple[float, str]] = (),
    plates: Sequence[ForcePlate] = (),
    analog: Mapping[str, FloatArray] | None = None,
    samples_per_frame: int = 10,
    unit: str = "mm",
    units_per_m: float | None = None,
    byte_order: ByteOrder = "intel",
    storage: Storage = "float",
    missing: Missing = "negative",
    first_frame: int = 1,
    subject: str = "",
    parameters: Parameters | None = None,
) -> None:
    """Write one C3D file.

    Parameters
    ----------
    rate_hz : float
        Frames per second.
    markers : mapping of label to ndarray, shape (n_frames, 3)
        Metres; a frame with NaN is missing. Labels are written as they are, in this order; the
        same label twice needs a trailing blank in the key, which the file does not show.
    angles : mapping of label to ndarray, shape (n_frames, 3), optional
        Degrees, stored among the points and listed under POINT:ANGLES.
    events : sequence of (time_s, side, kind)
        Seconds from the first stored frame; written to the EVENT group on the recording's clock.
        An unknown kind is written as its own label; a side other than left or right as General.
    header_events : sequence of (time_s, label of up to 4 characters)
        Events of the header block, seconds from the first stored frame, 18 at most.
    plates : sequence of ForcePlate
        Written as type 2: forces and moments about a sensor below the surface.
    analog : mapping of label to ndarray, shape (n_frames * samples_per_frame,), optional
        Further analog channels, after those of the plates.
    samples_per_frame : int
        Analog samples in each frame; plates must have this multiple of ``rate_hz``.
    unit : str
        POINT:UNITS as written; "m", "cm" and "mm" also set the scale.
    units_per_m : float, optional
        Scale of the stored coordinates when ``unit`` is to say something else or nothing.
    storage : {"float", "integer"}
        Integer storage rounds to 1/32000 of the largest stored value.
    missing : {"negative", "nan", "zero"}
        Code of a missing point: negative fourth word, NaN (Intel floats only), or 0 0 0.
    first_frame : int
        Number of the first stored frame, from 1 for an uncropped recording.
    subject : str
        Written to SUBJECTS:NAMES and as the prefix of every label.
    parameters : mapping of group to mapping of name to value, optional
        Added to or put in place of what would be written; None leaves the parameter out.

    Raises
    ------
    ValueError
        Lengths differ, or the variant cannot be written.
    """
    scale = units_per_m or UNITS_PER_M.get(unit.strip().lower(), 1000.0)
    if missing == "nan" and (byte_order, storage) != ("intel", "float"):
        raise ValueError("missing='nan' needs byte_order='intel' and storage='float'")
    content = _gather(markers, angles or {}, plates, analog or {}, scale, samples_per_frame)
    samples_per_frame = len(content.analog) // max(len(content.points), 1)
    groups = content.groups
    groups["POINT"] |= {"RATE": float(rate_hz), "UNITS": unit}
    groups["ANALOG"]["RATE"] = float(rate_hz * samples_per_frame)
    groups |= _subject_and_labels(content.labels, groups["POINT"], subject)
    groups |= _frame_count(groups["POINT"], len(content.points), first_frame)
    if events:
        groups["EVENT"] = _event_group(events, (first_frame - 1) / rate_hz)
    point_scale = _stored_scales(content, groups, storage)
    groups |= _overruled(groups, parameters or {})
    encoder = Encoder(byte_order)
    blocks = math.ceil(len(encoder.parameter_section(groups, 0)) / BLOCK)
    section = encoder.parameter_section(groups, 2 + blocks)
    header = encoder.header(content, groups, point_scale, 2 + blocks, first_frame, header_events)
    data = encoder.frames(content, groups, point_scale, missing)
    path.write_bytes(b"".join(map(padded, (header, section, data))))


def _gather(
    markers: Mapping[str, FloatArray],
    angles: Mapping[str, FloatArray],
    plates: Sequence[ForcePlate],
    analog: Mapping[str, FloatArray],
    scale: float,
    samples_per_frame: int,
) -> Content:
    arrays = [np.asarray(xyz) * scale for xyz in markers.values()]
    arrays += [np.asarray(xyz) for xyz in angles.values()]
    n_frames = len(arrays[0]) if arrays else len(next(iter(analog.values()))) // samples_per_frame
    points = np.stack(arrays, axis=1) if arrays else np.empty((n_frames, 0, 3))
    groups: Groups = {"POINT": {"USED": len(arrays)}, "ANALOG": {}}
    if angles:
        groups["POINT"]["ANGLES"] = list(angles)
    channels, plate_group = _plate_channels(plates, scale)
    channels |= {label: np.asarray(values, dtype=np.float64) for label, values in analog.items()}
    if plates:
        groups["FORCE_PLATFORM"] = plate_group
    shape = (n_frames * (samples_per_frame if channels else 1), len(channels))
    table = np.column_stack(list(channels.values())) if channels else np.empty(shape)
    if table.shape != shape:
        raise ValueError(f"analog data must have {shape[0]} samples, got {table.shape[0]}")
    moments = "Nmm" if scale > UNITS_PER_M["cm"] else "Nm"
    groups["ANALOG"] = {
        "USED": len(channels),
        "LABELS": list(channels),
        "GEN_SCALE": 1.0,
        "OFFSET": np.zeros(len(channels), dtype=np.int16),
        "UNITS": ["N" if i % 6 < 3 else moments for i in range(6 * len(plates))]
        + ["V"] * (len(channels) - 6 * len(plates)),
    }
    missing = np.asarray(~np.isfinite(points).all(axis=2))
    return Content(points, missing, [*markers, *angles], table, groups)


def _plate_channels(
    plates: Sequence[ForcePlate], scale: float
) -> tuple[dict[str, FloatArray], dict[str, Value]]:
    """Return force and moment per plate in the plate's own axes, and FORCE_PLATFORM."""
    channels: dict[str, FloatArray] = {}
    moment_scale = 1000.0 if scale > UNITS_PER_M["cm"] else 1.0
    corners, origins = [], []
    for number, plate in enumerate(plates, 1):
        axes = _plate_axes(plate.corners_m)
        up = math.copysign(PLATE_DEPTH_M, float(np.nansum(plate.force_n @ axes[:, 2])) or 1.0)
        origin = np.array([0.0, 0.0, up])
        force = np.nan_to_num(plate.force_n) @ axes
        arm = (plate.centre_of_pressure_m - plate.corners_m.mean(axis=0)) @ axes
        moment = np.cross(np.nan_to_num(arm) + origin, force) * moment_scale
        for axis, letter in enumerate("xyz"):
            channels[f"F{letter}{number}"] = force[:, axis]
        for axis, letter in enumerate("xyz"):
            channels[f"M{letter}{number}"] = moment[:, axis]
        corners.append(plate.corners_m.T * scale)
        origins.append(origin * scale)
    count = len(plates)
    return channels, {
        "USED": count,
        "TYPE": np.full(count, 2, dtype=np.int16),
        "ZERO": np.zeros(2, dtype=np.int16),
        "CORNERS": np.stack(corners, axis=-1) if plates else np.empty((3, 4, 0)),
        "ORIGIN": np.stack(origins, axis=-1) if plates else np.empty((3, 0)),
        "CHANNEL": np.arange(1, 6 * count + 1, dtype=np.int16).reshape(6, count, order="F"),
    }


def _plate_axes(corners_m: FloatArray) -> FloatArray:
    """Return the plate's x, y, z as columns, from corners in the guide's order."""
    along = corners_m[0] + corners_m[3] - corners_m[1] - corners_m[2]
    across = corners_m[0] + corners_m[1] - corners_m[2] - corners_m[3]
    normal = np.cross(along, across)
    axes = np.column_stack([along, np.cross(normal, along), normal])
    return np.asarray(axes / np.linalg.norm(axes, axis=0))


def _frame_count(point: dict[str, Value], n_frames: int, first_frame: int) -> Groups:
    """Set POINT:FRAMES; past 16 bits also LONG_FRAMES and the TRIAL group."""
    point["FRAMES"] = min(n_frames, 65535)
    last = first_frame + n_frames - 1
    if last <= 65535:
        return {}
    if n_frames >= 65535:
        point["LONG_FRAMES"] = float(n_frames)
    words = {"ACTUAL_START_FIELD": first_frame, "ACTUAL_END_FIELD": last}
    return {
        "TRIAL": {
            name: np.array([value % 65536, value // 65536], dtype=np.uint16).astype(np.int16)
            for name, value in words.items()
        }
    }


def _overruled(groups: Groups, parameters: Parameters) -> Groups:
    """Return the groups that are asked for otherwise; None leaves a parameter out."""
    return {
        group: {
            key: value
            for key, value in {**groups.get(group, {}), **values}.items()
            if value is not None
        }
        for group, values in parameters.items()
    }


def _subject_and_labels(labels: list[str], point: dict[str, Value], subject: str) -> Groups:
    """Set the lists of labels; with a subject also their prefix and the SUBJECTS group."""
    prefix = f"{subject}:" if subject else ""
    point |= _label_lists([prefix + label.rstrip() for label in labels])
    if not subject:
        return {}
    return {"SUBJECTS": {"USED": 1, "NAMES": [subject], "USES_PREFIXES": 1}}


def _label_lists(labels: list[str]) -> dict[str, Value]:
    lists = [labels[i : i + LABELS_PER_LIST] for i in range(0, len(labels), LABELS_PER_LIST)]
    return {f"LABELS{i + 1 if i else ''}": part for i, part in enumerate(lists or [[]])}


def _event_group(events: Sequence[tuple[float, str, str]], offset_s: float) -> dict[str, Value]:
    minutes = [divmod(time_s + offset_s, 60.0) for time_s, _, _ in events]
    sides = [side.title() if side in ("left", "right") else "General" for _, side, _ in events]
    return {
        "USED": len(events),
        "CONTEXTS": sides,
        "LABELS": [EVENT_WORDS.get(kind, kind) for _, _, kind in events],
        "TIMES": np.array(minutes).T,
    }


def _stored_scales(content: Content, groups: Groups, storage: Storage) -> float:
    """Set POINT:SCALE (negative means floats) and ANALOG:SCALE."""
    point_peak = float(np.nanmax(np.abs(content.points), initial=0.0)) or 1.0
    analog_peak = np.abs(content.analog).max(axis=0, initial=0.0)
    point_scale = float(np.float32(point_peak / FULL_SCALE_COUNTS))
    is_float = storage == "float"
    scales = np.ones_like(analog_peak) if is_float else analog_peak / FULL_SCALE_COUNTS
    groups["ANALOG"]["SCALE"] = np.where(scales > 0, scales, 1.0).astype(np.float32)
    groups["POINT"]["SCALE"] = -point_scale if is_float else point_scale
    return -point_scale if is_float else point_scale

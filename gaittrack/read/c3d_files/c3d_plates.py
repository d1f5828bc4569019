"""Turn the analog channels of force plates into force and centre of pressure.

In come the bytes and their layout; out go force plates in the axes of the file, newtons and metres,
baseline removed, the force of the floor on the foot positive upwards. Plate types 1 to 4 of the
public C3D user guide (c3d.org). What cannot be known of a plate (rubbish corners, a channel that is
not there) costs that plate, with a problem, and never the trial.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from gaittrack.errors import Problem
from gaittrack.read.c3d_files.c3d_guard import Layout
from gaittrack.read.c3d_files.c3d_words import analog_channels
from gaittrack.reasons import Reason
from gaittrack.trial import BoolArray, FloatArray, ForcePlate

N_CHANNELS = {1: 6, 2: 6, 3: 8, 4: 6}
"""Channels of each type read here."""
CALIBRATED = 4
"""The type whose channels become newtons by CAL_MATRIX."""
UNLOADED_N = 20.0
"""Below this vertical force there is no centre of pressure; common practice, no source."""
LARGEST_PLATE_M = (0.1, 4.0)
"""Sides of a force plate that can be believed, m; our choice."""
QUIET_N = 3.0
"""Half width of the band around the baseline, N; our choice."""
OFF_THE_PLATE_M = 0.15
"""Centres of pressure further outside speak against the unit of moments; our choice."""
STANDING_STILL_M = 0.001
"""A centre of pressure that travels less speaks against the unit of moments; our choice."""


@dataclass(frozen=True, slots=True)
class _Wrench:
    """Force, moment about the sensor, and the surface's centre from there, in the plate's axes."""

    force_n: FloatArray
    moment_nm: FloatArray
    surface_m: FloatArray


def read_plates(
    content: bytes, layout: Layout, rate_hz: float, metres: float, body_centre_m: FloatArray
) -> tuple[tuple[ForcePlate, ...], tuple[Problem, ...]]:
    """Return the force plates of a file.

    Parameters
    ----------
    rate_hz : float
        Frames per second.
    metres : float
        Factor from POINT:UNITS to metres, which corners and origins use.
    body_centre_m : ndarray, shape (3,)
        Mean of all markers: it is above the plates, which tells up. NaN without markers.
    """
    problems: list[Problem] = []
    plates: list[ForcePlate] = []
    used = layout.parameters.number("FORCE_PLATFORM", "USED", unsigned=True)
    count = 0 if math.isnan(used) or not layout.n_channels else int(used)
    for index in range(min(count, layout.n_channels)):
        plate, found = _read_plate(content, layout, index, rate_hz, metres, body_centre_m)
        problems += found
        if plate is not None:
            plates.append(plate)
    describes_plates = any(name == "CORNERS" for _, name in layout.parameters.values)
    if math.isnan(used) and layout.n_channels and describes_plates:
        problems.append(Problem("warning", Reason("plates_not_counted"), "FORCE_PLATFORM:USED"))
    return tuple(plates), tuple(problems)


def _read_plate(
    content: bytes,
    layout: Layout,
    index: int,
    rate_hz: float,
    metres: float,
    body_centre_m: FloatArray,
) -> tuple[ForcePlate | None, list[Problem]]:
    name = f"plate {index + 1}"
    kind = _entry(layout, "TYPE", index)
    corners = _corners_m(layout, index, metres)
    channels = _channels(layout, index, int(kind.flat[0]) if kind is not None else 0)
    if kind is None or int(kind.flat[0]) not in N_CHANNELS or channels is None:
        return None, [_left_out(name, "plate_of_unknown_type")]
    if not np.isfinite(corners).all():
        return None, [_left_out(name, "plate_without_corners")]
    raw = analog_channels(content, layout, channels)
    if not np.isfinite(raw).all():
        return None, [_left_out(name, "plate_without_numbers")]
    raw = raw - _baseline(raw, layout, int(kind.flat[0]))
    axes = _plate_axes(corners)
    up = _up_sign(axes, corners, body_centre_m)
    wrench, problems = _wrench(raw, layout, index, metres, axes, up)
    problems += _odd_calibration(layout, index, name)
    force_n, pressure_m, found = _on_the_foot(wrench, axes, corners, up, name)
    samples_hz = rate_hz * layout.samples_per_frame
    return ForcePlate(force_n, pressure_m, corners, samples_hz, name), [*problems, *found]


def _entry(layout: Layout, name: str, index: int) -> FloatArray | None:
    """Return what a FORCE_PLATFORM parameter says of one plate; the plate is the last index."""
    values = layout.parameters.numbers("FORCE_PLATFORM", name)
    if values is None:
        return None
    if values.ndim == 0 or values.shape[-1] <= index:
        return values if index == 0 and values.ndim == 0 else None
    return np.asarray(values[..., index])


def _corners_m(layout: Layout, index: int, metres: float) -> FloatArray:
    """Return four corners in the guide's order, or NaN when they make no plate."""
    stored = _entry(layout, "CORNERS", index)
    nothing = np.full((4, 3), math.nan)
    if stored is None or stored.shape != (3, 4) or not np.isfinite(stored).all():
        return nothing
    corners = stored.T * metres
    sides = np.linalg.norm(corners - np.roll(corners, 1, axis=0), axis=1)
    low, high = LARGEST_PLATE_M
    return corners if (sides > low).all() and (sides < high).all() else nothing


def _channels(layout: Layout, index: int, kind: int) -> list[int] | None:
    stored = _entry(layout, "CHANNEL", index)
    needed = N_CHANNELS.get(kind, 0)
    if stored is None or stored.size < needed or not needed:
        return None
    channels = [int(number) - 1 for number in stored.ravel()[:needed]]
    return channels if all(0 <= number < layout.n_channels for number in channels) else None


def _baseline(raw: FloatArray, layout: Layout, kind: int) -> FloatArray:
    """Return the unloaded level of each channel.

    From the frames that FORCE_PLATFORM:ZERO names, if they are quiet; else from the samples whose
    vertical force is nearest to its lowest sustained magnitude; 0 for a plate that is never free.
    """
    zero = layout.parameters.numbers("FORCE_PLATFORM", "ZERO")
    vertical = raw[:, 4:8].sum(axis=1) if kind == 3 else raw[:, 2]
    if zero is not None and zero.size >= 2 and 0 < zero.flat[0] < zero.flat[1]:
        first, last = (int(number) for number in zero.flat[:2])
        window = slice((first - 1) * layout.samples_per_frame, last * layout.samples_per_frame)
        part = raw[window]
        if len(part) and np.ptp(vertical[window]) < UNLOADED_N * 2:
            return np.asarray(part.mean(axis=0))
    quiet = _quiet_samples(vertical)
    level = np.median(raw[quiet], axis=0) if quiet.any() else np.zeros(raw.shape[1])
    if kind == 1:
        level[3:5] = 0.0
    return np.asarray(level)


def _quiet_samples(vertical: FloatArray) -> BoolArray:
    """Return which samples are unloaded: a band around the commonest level, if it is near 0."""
    edges = np.arange(-60.0, 60.0 + QUIET_N, QUIET_N)
    counts, _ = np.histogram(vertical, bins=edges)
    if counts.max() < 0.02 * len(vertical):
        return np.zeros(len(vertical), dtype=bool)
    middle = edges[int(counts.argmax())] + QUIET_N / 2
    return np.asarray(np.abs(vertical - middle) <= QUIET_N)


def _plate_axes(corners: FloatArray) -> FloatArray:
    """Return the plate's x, y, z as columns in the axes of the file."""
    along = corners[0] + corners[3] - corners[1] - corners[2]
    across = corners[0] + corners[1] - corners[2] - corners[3]
    normal = np.cross(along, across)
    axes = np.column_stack([along, np.cross(normal, along), normal])
    return np.asarray(axes / np.linalg.norm(axes, axis=0))


def _up_sign(axes: FloatArray, corners: FloatArray, body_centre_m: FloatArray) -> float:
    """Return +1 when the plate's z points up, -1 when down: the body is above the plate."""
    height = float(axes[:, 2] @ (body_centre_m - corners.mean(axis=0)))
    if math.isnan(height):
        height = float(axes[np.abs(axes[:, 2]).argmax(), 2])
    return math.copysign(1.0, height)


def _wrench(
    raw: FloatArray, layout: Layout, index: int, metres: float, axes: FloatArray, up: float
) -> tuple[_Wrench, list[Problem]]:
    kind = int(_entry_number(layout, "TYPE", index))
    origin = _entry(layout, "ORIGIN", index)
    offset = np.zeros(3) if origin is None or origin.size < 3 else origin.ravel()[:3] * metres
    scale = 0.001 if metres == 0.001 else 1.0
    if kind == 1:
        arm = np.column_stack([raw[:, 3:5] * metres, np.zeros(len(raw))])
        free = np.column_stack([np.zeros((len(raw), 2)), raw[:, 5] * scale])
        return _Wrench(raw[:, :3], np.cross(arm, raw[:, :3]) + free, np.zeros(3)), []
    if kind == 3:
        force, moment = _eight_sensors(raw, np.abs(offset[:2]))
        offset = np.array([0.0, 0.0, offset[2]])
    else:
        matrix = _calibration(layout, index) if kind == CALIBRATED else None
        loads = raw if matrix is None else raw @ matrix.T
        force, moment = loads[:, :3], loads[:, 3:]
        moment = moment * _moment_factor(layout, index, scale)
    problems = []
    if offset[2] * up < 0:
        offset = -offset
        problems.append(
            Problem(
                "info", Reason("plate_origin_turned"), f"FORCE_PLATFORM:ORIGIN of plate {index + 1}"
            )
        )
    return _Wrench(force, moment, offset), problems


def _eight_sensors(raw: FloatArray, arms_m: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return force and moment of a type 3 plate: x12 x34 y14 y23 z1 z2 z3 z4."""
    x12, x34, y14, y23, z1, z2, z3, z4 = raw.T
    a, b = arms_m
    force = np.column_stack([x12 + x34, y14 + y23, z1 + z2 + z3 + z4])
    moment = np.column_stack(
        [b * (z1 + z2 - z3 - z4), a * (-z1 + z2 + z3 - z4), b * (x34 - x12) + a * (y14 - y23)]
    )
    return force, moment


def _calibration(layout: Layout, index: int) -> FloatArray | None:
    stored = _entry(layout, "CAL_MATRIX", index)
    if stored is None or stored.shape != (6, 6) or not np.isfinite(stored).all():
        return None
    return stored


def _odd_calibration(layout: Layout, index: int, name: str) -> list[Problem]:
    """Return a warning where the type asks for a matrix that is not there, or the other way.

    The other way only beside a plate whose matrix is used: elsewhere one is kept for the record.
    """
    kind, matrix = int(_entry_number(layout, "TYPE", index)), _calibration(layout, index)
    if kind == CALIBRATED:
        code = "" if matrix is not None else "plate_without_calibration"
    else:
        types = layout.parameters.numbers("FORCE_PLATFORM", "TYPE")
        is_used = types is not None and CALIBRATED in types
        is_one = matrix is not None and matrix.any() and not np.array_equal(matrix, np.eye(6))
        code = "plate_calibration_unused" if is_used and is_one else ""
    return [Problem("warning", Reason(code, kind=kind), name)] if code else []


def _moment_factor(layout: Layout, index: int, fallback: float) -> float:
    """Return the factor of moments to N.m, from ANALOG:UNITS of the first moment channel."""
    channel = _entry(layout, "CHANNEL", index)
    units = layout.parameters.texts("ANALOG", "UNITS")
    if channel is None or channel.size < 4 or int(channel.flat[3]) > len(units):
        return fallback
    unit = "".join(letter for letter in units[int(channel.flat[3]) - 1].lower() if letter.isalpha())
    return {"nmm": 0.001, "ncm": 0.01, "nm": 1.0}.get(unit, fallback)


def _entry_number(layout: Layout, name: str, index: int) -> float:
    value = _entry(layout, name, index)
    return math.nan if value is None else float(value.flat[0])


def _on_the_foot(
    wrench: _Wrench, axes: FloatArray, corners: FloatArray, up: float, name: str
) -> tuple[FloatArray, FloatArray, list[Problem]]:
    """Return force up-positive and centre of pressure, both in the axes of the file."""
    problems: list[Problem] = []
    vertical = wrench.force_n[:, 2] * up
    loaded = np.abs(vertical) >= UNLOADED_N
    turned = loaded.any() and float(np.median(vertical[loaded])) < 0
    force_n = (wrench.force_n * (-1.0 if turned else 1.0)) @ axes.T
    moment, factor = _plausible_moment(wrench, corners, loaded)
    if factor != 1.0:
        problems.append(Problem("warning", Reason("moments_scaled", factor=float(factor)), name))
    pressure = np.full(wrench.force_n.shape, math.nan)
    with np.errstate(divide="ignore", invalid="ignore"):
        local = np.column_stack([-moment[:, 1], moment[:, 0]]) / wrench.force_n[:, 2:3]
    pressure[loaded] = corners.mean(axis=0) + local[loaded] @ axes[:, :2].T
    if not loaded.any():
        problems.append(Problem("info", Reason("plate_never_loaded"), name))
    return force_n, pressure, problems


def _plausible_moment(
    wrench: _Wrench, corners: FloatArray, loaded: BoolArray
) -> tuple[FloatArray, float]:
    """Return moments scaled so that pressure falls on the plate; the factor is 1 when it does."""
    half = np.linalg.norm(corners - np.roll(corners, 1, axis=0), axis=1).max() / 2
    shift = np.cross(wrench.force_n, wrench.surface_m)
    if not loaded.any():
        return wrench.moment_nm + shift, 1.0
    for factor in (1.0, 0.001, 1000.0):
        moment = wrench.moment_nm * factor + shift
        arms_m = moment[loaded, :2] / wrench.force_n[loaded, 2:3]
        low, high = np.percentile(arms_m, (10, 90), axis=0)
        is_on_plate = np.median(np.abs(arms_m).max(axis=1)) <= half + OFF_THE_PLATE_M
        if is_on_plate and (high - low).max() >= STANDING_STILL_M:
            return moment, factor
    return wrench.moment_nm + shift, 1.0


def _left_out(name: str, code: str) -> Problem:
    return Problem("warning", Reason("plate_left_out", why=Reason(code)), name)

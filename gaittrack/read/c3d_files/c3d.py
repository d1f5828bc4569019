"""Read a C3D file.

In come the path and the bytes of one file; out goes a :class:`~gaittrack.trial.Trial`. The guard
checks the layout; then the frames are one block of numbers, taken in one step. ezc3d reads the
frames a second time, and any difference refuses the file, where the layout leaves a doubt (see
``Layout.doubt``). Elsewhere its reading would only repeat what header, parameters and length of
the file say alike, at several times the cost of all the rest.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import ezc3d
import numpy as np

from gaittrack.errors import DataError, EmptyFileError, HeaderError, Problem
from gaittrack.lab_map import LabMap
from gaittrack.part_names import person_key
from gaittrack.read.c3d_files.c3d_angles import settle_file_angles
from gaittrack.read.c3d_files.c3d_events import Clock, read_events
from gaittrack.read.c3d_files.c3d_guard import RATES_DIFFER, Layout, read_layout
from gaittrack.read.c3d_files.c3d_labels import PointNames, name_points, personal_texts
from gaittrack.read.c3d_files.c3d_plates import read_plates
from gaittrack.read.c3d_files.c3d_records import BLOCK, KEY, MIPS, PROCESSORS, ParameterSet
from gaittrack.read.c3d_files.c3d_still_points import without_still_points
from gaittrack.read.c3d_files.c3d_units import metres_per_unit
from gaittrack.read.c3d_files.c3d_words import stored_points
from gaittrack.read.tables.preamble import names_day
from gaittrack.reasons import Reason
from gaittrack.said_days import said_day
from gaittrack.trial import BoolArray, FloatArray, Provenance, Trial

SUFFIXES = frozenset((".c3d",))
LARGEST_COORDINATE = 1e7
"""Stored coordinates past this are rubbish in any unit (10 km in mm); our choice."""
RELATIVE_ROUNDING = 1e-5
"""Difference by which two decodings of one 32-bit number may differ."""


def looks_like(content: bytes, suffix: str) -> bool:
    """Whether the bytes are a C3D file's, by its key and byte order; suffix second.

    Parameters
    ----------
    suffix : str
        Of the file's name, lower case, with the dot.
    """
    if len(content) < 2 or content[1] != KEY or content[0] == 0:
        return False
    processor = (content[0] - 1) * BLOCK + 3
    is_known = len(content) > processor and content[processor] in (*PROCESSORS, MIPS)
    return is_known or suffix == ".c3d"


def read(
    path: Path, content: bytes, sha256: str, *, lab_map: LabMap, rate_hz: float | None
) -> Trial:
    """Read one C3D file.

    Parameters
    ----------
    content : bytes
        The file's bytes.
    sha256 : str
        Their hash.
    lab_map : LabMap
        Not used here: labels are matched later.
    rate_hz : float or None
        Frames per second in place of the file's; events keep their frames.

    Returns
    -------
    Trial
        Coordinates in metres, axes of the file. Coordinates whose size fits another unit than the
        one written are read in the unit that fits, with a step and a warning.

    Raises
    ------
    BadFileError
        A subclass: cut short, contradictory, without frames or without points.
    """
    where = path.name
    layout = read_layout(content, where)
    names = _checked_names(layout, where)
    rate, steps, problems = _rate(layout, rate_hz, where)
    words, how = _points(path, content, layout, where)
    problems += _still_open(layout.problems, rate_hz) + names.problems
    points = words[..., :3]
    missing, found = _missing(points, words[..., 3])
    problems += found
    points[missing] = np.nan
    markers = _marker_block(points, names)
    factor, unit_step, found = _unit(markers, layout, where)
    problems += found
    markers = markers * factor
    labels, markers, found = without_still_points(list(names.markers.values()), markers)
    problems += found
    events, event_problems = read_events(content, layout.parameters, _clock(layout, rate))
    plates, plate_problems = read_plates(content, layout, rate, factor, _centre(markers))
    angle_unit = " ".join(layout.parameters.texts("POINT", "ANGLE_UNITS")[:1])
    stored = {key: points[:, index, 0] for index, key in names.angles.items()}
    angles, angle_problems = settle_file_angles(stored, rate, angle_unit)
    problems += event_problems + plate_problems + angle_problems + _others(names)
    return Trial(
        rate_hz=rate,
        n_frames=layout.counts.n_frames,
        first_frame=layout.first_frame,
        provenance=Provenance(
            *(where, sha256, "C3D", (how, *steps, unit_step)),
            **_said_of_recording(layout.parameters),
        ),
        markers={label: markers[:, i] for i, label in enumerate(labels)},
        angles=angles,
        plates=plates,
        events=events,
        problems=tuple(problems),
    )


def _said_of_recording(parameters: ParameterSet) -> dict[str, Any]:
    """Return what parameters say for the provenance: the day, the device, who."""
    return {
        "day": _day(parameters),
        "device": _device(parameters),
        "people": frozenset(map(person_key, personal_texts(parameters))) - {""},
    }


def _day(parameters: ParameterSet) -> str:
    """Return the day that a parameter says; no standard has one, some writers do."""
    values = (value for (_, name), value in parameters.values.items() if names_day(name))
    said = (value if isinstance(value, list) else [_as_day(value)] for value in values)
    found = {said_day(text) for texts in said for text in texts[:1]} - {""}
    return found.pop() if len(found) == 1 else ""


def _device(parameters: ParameterSet) -> tuple[str, ...]:
    """Return the words of the group that says who made what recorded it, by common practice.

    A version is left out: the next one records as this one.
    """
    named = parameters.values.items()
    own = (v for (group, name), v in named if group == "MANUFACTURER" and "VERSION" not in name)
    said = (" ".join(text.split()) for texts in own if isinstance(texts, list) for text in texts)
    return tuple(dict.fromkeys(text for text in said if text))


def _as_day(numbers: np.ndarray[Any, Any]) -> str:
    """Return year, month and day given as three numbers in words, as they stand."""
    return "-".join(f"{number:g}" for number in numbers.ravel()[:3])


def _clock(layout: Layout, rate_hz: float) -> Clock:
    return Clock(
        file_rate_hz=rate_hz if math.isnan(layout.rate_hz) else layout.rate_hz,
        rate_hz=rate_hz,
        first_frame=layout.first_frame,
        n_frames=layout.counts.n_frames,
    )


def _checked_names(layout: Layout, where: str) -> PointNames:
    counts = layout.counts
    if counts.n_points == 0:
        has_rotations = layout.parameters.number("ROTATION", "USED") > 0
        raise EmptyFileError(
            "The file holds segment rotations but no points."
            if has_rotations
            else "The file holds no points.",
            where=where,
            action="Export the recording with marker coordinates.",
        )
    names = name_points(layout.parameters, counts.n_points)
    if not names.markers and not names.angles:
        raise EmptyFileError.of("file_holds_neither_markers_nor", where=where)
    return names


def _rate(
    layout: Layout, override_hz: float | None, where: str
) -> tuple[float, tuple[str, ...], tuple[Problem, ...]]:
    if override_hz is None:
        if math.isnan(layout.rate_hz):
            raise HeaderError.of("file_gives_no_frame_rate", where=where)
        return layout.rate_hz, (), ()
    if math.isclose(override_hz, layout.rate_hz, rel_tol=1e-6):
        return layout.rate_hz, (), ()
    step = f"frame rate {override_hz:g} Hz given in place of the file's {layout.rate_hz:g} Hz"
    return override_hz, (step,), ()


def _still_open(problems: tuple[Problem, ...], told_hz: float | None) -> tuple[Problem, ...]:
    """Return the problems that are left once the frame rate is told, or not."""
    return tuple(p for p in problems if told_hz is None or p.reason.code != RATES_DIFFER)


def _points(path: Path, content: bytes, layout: Layout, where: str) -> tuple[FloatArray, str]:
    """Return coordinates and fourth words (n_frames, n_points, 4), and the step."""
    words = stored_points(content, layout)
    if layout.parser_trap:
        return words, f"frames decoded without ezc3d ({layout.parser_trap})"
    if not layout.doubt:
        return words, "frames decoded"
    _compare(words, _parsed_points(path, layout, where), where)
    return words, f"frames decoded, the same as by ezc3d (read twice for: {layout.doubt})"


def _parsed_points(path: Path, layout: Layout, where: str) -> FloatArray:
    """Return the coordinates as ezc3d reads them, shape (n_frames, n_points, 3)."""
    try:
        parsed = ezc3d.ezc3d.c3d(str(path))
        points = np.asarray(parsed.get_points(), dtype=np.float64)[:3].transpose(2, 1, 0)
    except (OSError, ValueError, RuntimeError, IndexError, MemoryError) as error:
        raise HeaderError.of(
            "parser_refused_file", where=where, name=type(error).__name__
        ) from error
    counts = layout.counts
    if points.shape[1] != counts.n_points or points.shape[0] < counts.n_frames:
        raise DataError.of(
            "counts_differ_from_header",
            where=where,
            n_found_frames=points.shape[0],
            n_found_points=points.shape[1],
            n_frames=counts.n_frames,
            n_points=counts.n_points,
        )
    return points[: counts.n_frames]


def _compare(own: FloatArray, theirs: FloatArray, where: str) -> None:
    """Refuse the file where the parser's frames differ from those decoded here."""
    seen = np.isfinite(own).all(axis=2) & (own[..., 3] > -1)
    both = seen & np.isfinite(theirs).all(axis=2)
    size = np.abs(own[both][:, :3]).max(initial=0.0)
    differs = np.abs(own[both][:, :3] - theirs[both]).max(initial=0.0) > RELATIVE_ROUNDING * size
    lost = seen & ~both & (own[..., :3] != 0).any(axis=2)
    if differs or lost.any():
        raise DataError.of("two_readings_coordinates_differ", where=where)


def _missing(points: FloatArray, fourth: FloatArray) -> tuple[BoolArray, tuple[Problem, ...]]:
    """Return which points are missing: NaN, negative fourth word, or exactly 0 0 0.

    When every fourth word is negative although the coordinates vary, the words say nothing and the
    coordinates are kept.
    """
    sizes = np.abs(points)
    largest = np.maximum(np.maximum(sizes[..., 0], sizes[..., 1]), sizes[..., 2])
    not_a_number = ~np.isfinite(largest)
    zero = largest == 0
    rubbish = largest > LARGEST_COORDINATE
    negative = fourth <= -1
    problems: list[Problem] = []
    solid = ~(not_a_number | zero | rubbish)
    if negative.all() and solid.any() and np.ptp(points[solid], axis=0).max() > 0:
        negative[:] = False
        problems.append(Problem("warning", Reason("all_marked_missing"), "points"))
    unmarked = {"zero_samples": zero & ~negative, "impossible_samples": rubbish & ~negative}
    counts = {code: int(samples.sum()) for code, samples in unmarked.items()}
    for code, count in counts.items():
        if count:
            problems.append(
                Problem(
                    "info" if code == "zero_samples" else "warning",
                    Reason(code, n=count, n_all=int(zero.size)),
                    "points",
                )
            )
    return not_a_number | zero | rubbish | negative, tuple(problems)


def _marker_block(points: FloatArray, names: PointNames) -> FloatArray:
    """Return the markers' coordinates, shape (n_frames, n_markers, 3)."""
    return np.asarray(points[:, list(names.markers)])


def _unit(
    markers: FloatArray, layout: Layout, where: str
) -> tuple[float, str, tuple[Problem, ...]]:
    unit = " ".join(layout.parameters.texts("POINT", "UNITS")[:1])
    if not np.isfinite(markers).any():
        return 1.0, "no coordinates", ()
    return metres_per_unit(markers, unit, where)


def _centre(markers: FloatArray) -> FloatArray:
    """Return the middle of the markers over some frames, enough to tell above from below."""
    some = markers[:: max(len(markers) // 100, 1)]
    seen = some[np.isfinite(some).all(axis=2)]
    return np.asarray(np.median(seen, axis=0)) if len(seen) else np.full(3, math.nan)


def _others(names: PointNames) -> tuple[Problem, ...]:
    if not names.others:
        return ()
    shown = (*names.others[:12], *(("…",) if len(names.others) > 12 else ()))
    return (
        Problem("info", Reason("model_outputs", n=len(names.others), names=shown), "POINT:LABELS"),
    )

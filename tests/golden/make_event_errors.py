"""Remake ``event_errors.csv``: how far events from markers lie from the truth.

Run ``python -m tests.golden.make_event_errors`` from the checkout; nothing else writes the table.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from gaittrack import __version__
from gaittrack.cycles import cut_cycles
from gaittrack.events import detect_events
from gaittrack.kinematics import describe_motion
from gaittrack.read import read_trial
from gaittrack.simulate.recipe import FootRecipe, WalkRecipe
from gaittrack.simulate.walk import SimulatedWalk, simulate_walk
from gaittrack.trial import Event
from tests.event_truth import SAME_S, Errors, compare_events, detection_errors

TABLE = Path(__file__).with_name("event_errors.csv")
REFERENCE = Path(__file__).parents[1] / "reference"
COMMAND = "python -m tests.golden.make_event_errors"
SEED = 20260217
COLUMNS = (
    *("truth", "walk", "left_foot", "speed_m_s", "rate_hz", "event", "n"),
    *("median_ms", "largest_ms", "missed", "extra"),
)

LIMP = FootRecipe(
    contact_pitch_deg=-9.0,
    swing_pitch_deg=-24.0,
    toe_off_pitch_deg=-35.0,
    clearance_m=0.014,
    minimum_share=0.0,
    early_lift_m=0.01,
    touch_down_speed_m_s=0.1,
    reach_hold_s=0.2,
)
FEET: dict[str, FootRecipe | None] = {
    "unimpaired": None,
    "slap": FootRecipe(contact_pitch_deg=12.0, lowering_time_s=0.05),
    "flat": FootRecipe(
        contact_pitch_deg=0.0,
        toe_off_pitch_deg=-35.0,
        swing_pitch_deg=-18.0,
        touch_down_speed_m_s=0.1,
        lowering_time_s=0.05,
    ),
    "forefoot": FootRecipe(
        contact_pitch_deg=-10.0, swing_pitch_deg=-22.0, toe_off_pitch_deg=-45.0, clearance_m=0.018
    ),
    "steppage": FootRecipe(
        contact_pitch_deg=-8.0,
        swing_pitch_deg=-28.0,
        clearance_m=0.06,
        early_lift_m=0.03,
        toe_off_pitch_deg=-55.0,
    ),
    "limp, hangs 0.2 s": LIMP,
    "limp, hangs 0.1 s": replace(LIMP, reach_hold_s=0.1),
}
SPEEDS_M_S = (0.2, 0.3, 0.5, 0.8, 1.2, 1.6)
FASTEST_HANGING_M_S = {"limp, hangs 0.2 s": 0.8, "limp, hangs 0.1 s": 0.8}
"""A foot cannot hang still for long in the short swing of a brisk walk."""
RATES_HZ = (60.0, 100.0, 200.0)
PLAIN = WalkRecipe(speed_m_s=1.1, n_strides=4)
LABORATORIES = {
    "against the axis": replace(PLAIN, direction="-"),
    "Y up": replace(PLAIN, up_axis="Y"),
    "Y up, against the axis": replace(PLAIN, up_axis="Y", direction="-"),
    "treadmill": replace(PLAIN, belt_speed_m_s=1.1),
    "treadmill, Y up, against the axis": replace(
        PLAIN, belt_speed_m_s=1.1, up_axis="Y", direction="-"
    ),
    "slow treadmill": replace(PLAIN, speed_m_s=0.3, belt_speed_m_s=0.3),
    "tilted floor": replace(PLAIN, floor_tilt=0.002),
    "noise of 1 mm": replace(PLAIN, marker_noise_m=0.001),
}
PARTLY_STRAIGHT = {
    "there and back, kept cycles": replace(PLAIN, n_strides=10, turn_after_m=5.0),
    "starts and stops, kept cycles": replace(
        PLAIN, n_strides=8, starts_inside=True, stops_inside=True
    ),
}


@dataclass(frozen=True)
class Case:
    """One made-up walk of the table."""

    walk: str
    left_foot: str
    recipe: WalkRecipe

    def rows(self) -> list[tuple[str, ...]]:
        """Return the table's two rows of this walk."""
        walk = simulate_walk(self.recipe, seed=SEED)
        kept_only = self.walk in PARTLY_STRAIGHT
        errors = _errors_of_kept_cycles(walk) if kept_only else detection_errors(walk)
        speed, rate = f"{self.recipe.speed_m_s:g}", f"{self.recipe.rate_hz:g}"
        return [
            ("simulated", self.walk, self.left_foot, speed, rate, *_cells(item))
            for item in errors.values()
        ]


def cases() -> list[Case]:
    """Return every made-up walk of the table."""
    straight = [
        Case(
            "straight",
            name,
            WalkRecipe(speed_m_s=speed, rate_hz=rate, n_strides=4, left=foot),
        )
        for name, foot in FEET.items()
        for speed in SPEEDS_M_S
        for rate in RATES_HZ
        if speed <= FASTEST_HANGING_M_S.get(name, 9.0)
    ]
    others = {**LABORATORIES, **PARTLY_STRAIGHT}
    return straight + [Case(name, "unimpaired", recipe) for name, recipe in others.items()]


def _errors_of_kept_cycles(walk: SimulatedWalk) -> dict[str, Errors]:
    """Compare only the events that bound kept cycles; none of them is missed by definition."""
    motion = describe_motion(walk.trial)
    events = [
        Event(time_s, cycle.side, kind, "markers")
        for cycle in cut_cycles(motion, detect_events(motion))
        if cycle.is_kept
        for time_s, kind in (
            (cycle.start_s, "initial_contact"),
            (cycle.end_s, "initial_contact"),
            (cycle.toe_off_s, "toe_off"),
        )
    ]
    once = list({(e.time_s, e.side, e.kind): e for e in events}.values())
    errors = compare_events(once, walk.truth.events, seen_s=(0.0, walk.trial.duration_s))
    return {kind: replace(item, missed_s=()) for kind, item in errors.items()}


def _cells(errors: Errors) -> tuple[str, ...]:
    numbers = (f"{errors.median_ms:.1f}", f"{errors.largest_ms:.1f}")
    counts = (str(len(errors.missed_s)), str(len(errors.extra_s)))
    return (errors.kind, str(len(errors.error_ms)), *numbers, *counts)


def recorded_rows() -> list[tuple[str, ...]]:
    """Return the rows of the recordings: against 20 N on plates, or the handbook's frames."""
    return [row for name in _RECORDED for row in _rows_of_recording(name)]


_RECORDED = {
    "walk_two_plates_100hz.c3d": "1.46",
    "walk_right_leg_with_force_a_150hz.txt": "1.2",
    "walk_right_leg_with_force_b_150hz.txt": "1.2",
    "handbook_walk_2d_coordinates_70hz.txt": "1.42",
}
_HANDBOOK_S = {"initial_contact": (28, 97), "toe_off": (70,)}


def _rows_of_recording(name: str) -> Iterator[tuple[str, ...]]:
    """Compare markers with the events of one recording that have a truth; edges count here."""
    trial = read_trial(REFERENCE / name)
    detected = detect_events(describe_motion(trial)).by_source
    truth, source = list(detected["force"]), "plates at 20 N"
    if not truth:
        source = "handbook's frames"
        truth = [
            Event((frame - 1) * 0.0143, "right", kind, "corrected")
            for kind, frames in _HANDBOOK_S.items()
            for frame in frames
        ]
    near = [
        event
        for event in detected["markers"]
        if any(
            (event.side, event.kind) == (other.side, other.kind)
            and abs(event.time_s - other.time_s) < SAME_S
            for other in truth
        )
    ]
    errors = compare_events(near, truth, seen_s=(0.0, trial.duration_s))
    for item in errors.values():
        yield (source, name, "recorded", _RECORDED[name], f"{trial.rate_hz:.4g}", *_cells(item))


def table_text() -> str:
    """Return the whole table with its header comments."""
    text = io.StringIO()
    text.write(
        f"# Made by: {COMMAND}\n"
        f"# gaittrack {__version__}, numpy {np.__version__}, seed {SEED}; noise is 0.4 mm\n"
        "# unless said. Events found from markers minus the truth in ms; late is positive.\n"
        "# Counted when the foot is seen for 0.1 s before and after. Recorded walks: only events\n"
        "# whose truth is known. The right foot of made-up walks is unimpaired.\n"
    )
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(COLUMNS)
    writer.writerows(recorded_rows())
    writer.writerows(row for case in cases() for row in case.rows())
    return text.getvalue()


if __name__ == "__main__":
    TABLE.write_text(table_text(), encoding="utf-8", newline="\n")

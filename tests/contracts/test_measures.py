"""Promises that every measure keeps."""

import math
from dataclasses import replace

import numpy as np
import pytest

from gaittrack.compare.typical_values.typical import POPULATIONS, typical_ranges
from gaittrack.cycles import Cycle
from gaittrack.kinematics.motion import FootNeutral, Motion
from gaittrack.measures import MEASURES, measure_cycles
from gaittrack.trial import AngleCurve, Provenance, Trial
from gaittrack.vocabulary import JOINTS, SIDES, opposite
from tests.motions import (
    ANGLE_KNOTS,
    Walk,
    angles_only,
    eased,
    swapped,
    with_filled,
    with_gap,
)

SUFFIX = {
    "deg": "_deg",
    "deg/s": "_deg_s",
    "mm": "_mm",
    "m": "_m",
    "m/s": "_m_s",
    "s": "_s",
    "ms": "_ms",
    "%": "_percent",
    "{steps}/min": "_steps_min",
}
"""UCUM code and the ending of a name."""

each_measure = pytest.mark.parametrize("measure", MEASURES, ids=lambda m: m.name)


def values_of(motion, cycles, measure):
    rows = measure_cycles(motion, cycles, measures=[measure])
    return {(row.side, row.cycle[-2:]): row for row in rows}


def nothing_known(rate_hz=100.0):
    """Return a motion in which nothing was found, and one cycle of it."""
    trial = Trial(rate_hz, 200, Provenance("made_up.c3d", "", "C3D"))
    none = FootNeutral(math.nan, math.nan, math.nan, "none", "never flat")
    empty = {}
    motion = Motion(
        trial, None, empty, empty, empty, empty, empty, empty, empty, empty, empty,
        {side: none for side in SIDES}, empty, empty, empty, "none", (),
    )  # fmt: skip
    return motion, Cycle("right-01", "right", 0.2, 0.8, 1.2)


def curve_cycles(*, cycle_s, toe_off_percent, joints=JOINTS):
    """Return a sheet of curves as a motion and its cycles, both sides."""
    percent = np.linspace(0, 1, 101)
    data = {joint: eased(ANGLE_KNOTS[joint], percent) for joint in joints}
    curves = tuple(
        AngleCurve(side, joint, "1", values, cycle_s, toe_off_percent)
        for side in SIDES
        for joint, values in data.items()
    )
    trial = Trial(math.nan, 0, Provenance("made_up.csv", "", "joint-angle sheet"), curves=curves)
    motion = replace(angles_only(Walk().motion()), trial=trial, angles={}, angle_origin={})
    cycles = [
        Cycle(
            f"{side}-01",
            side,
            0.0,
            toe_off_percent / 100 * cycle_s,
            cycle_s,
            percent_curves=data,
            from_curve=True,
            label="1",
        )
        for side in SIDES
    ]
    return motion, cycles


def check_row(row):
    assert row.reason if math.isnan(row.value) else math.isfinite(row.value) and not row.reason


@each_measure
def test_unit_and_name_agree(measure):
    """A name ends in its unit."""
    assert measure.name.endswith(SUFFIX[measure.unit])


@each_measure
def test_words_are_complete(measure):
    """Definition, sign, source and decimals are declared."""
    assert measure.definition.endswith(".")
    assert measure.title and measure.positive and measure.source
    ranges = {name for each in POPULATIONS for name in typical_ranges(each)}
    assert measure.toward_typical == "none" or measure.name in ranges
    assert 0 <= measure.decimals <= 3


def test_names_are_unique():
    """One name, one measure."""
    assert len({measure.name for measure in MEASURES}) == len(MEASURES)


@each_measure
def test_measure_is_defined_on_a_one_cycle_walk(measure):
    """One cycle of each side suffices for everything."""
    walk = Walk(n_cycles=1)
    rows = values_of(walk.motion(), walk.cycles(), measure)
    assert rows
    for row in rows.values():
        assert row.reason is None
        assert math.isfinite(row.value)


@each_measure
def test_measure_gives_a_reason_where_nothing_is_known(measure):
    """Whatever needs a signal says which one is missing; times need none."""
    motion, cycle = nothing_known()
    for row in values_of(motion, [cycle], measure).values():
        check_row(row)
        if measure.group != "walking":
            assert row.reason


@each_measure
def test_inputs_stay_as_they_were(measure):
    """Measuring writes to nothing."""
    walk = Walk(n_cycles=1)
    motion = walk.motion()
    arrays = [*motion.points.values(), *motion.filled.values(), *motion.foot_flat.values()]
    arrays += [signal.values for signal in motion.angles.values()]
    copies = [array.copy() for array in arrays]
    values_of(motion, walk.cycles(), measure)
    assert all(np.array_equal(a, b) for a, b in zip(arrays, copies, strict=True))


def troubled_walk():
    """Return a walk with gaps, filled samples, a foot that is not always flat, and odd cycles."""
    walk = Walk(n_cycles=6)
    motion = with_filled(walk.motion(), "right_heel", 1.52, 1.6)
    motion = with_filled(motion, "left_toe_point", 2.7, 2.8)
    motion = with_gap(motion, "right", "ankle", 2.6, 2.65)
    hip = motion.points["right_hip_centre"].copy()
    hip[320:330] = np.nan
    flat = {side: mask & (walk.time_s > 2.4) for side, mask in motion.foot_flat.items()}
    points = {**motion.points, "right_hip_centre": hip}
    cycles = list(walk.cycles())
    for place, name in enumerate(("toe_off_s", "opposite_toe_off_s", "opposite_contact_s")):
        cycles[3 * place] = replace(cycles[3 * place], **{name: math.nan})
    cycles[2] = replace(cycles[2], contact="flat")
    cycles[7] = replace(cycles[7], contact="unknown", sources=("file",))
    return replace(motion, points=points, foot_flat=flat), cycles


def unlike_legs():
    """Return a walk whose left leg lacks points and angles, has a knee of the file and no zero."""
    motion, cycles = troubled_walk()
    lost = ("left_hip_centre", "left_forefoot", "left_toe_point")
    fast = {key: each for key, each in motion.fast_marker_angles.items() if key[0] == "right"}
    angles = {key: each for key, each in motion.angles.items() if key != ("left", "ankle")}
    return replace(
        motion,
        points={key: xyz for key, xyz in motion.points.items() if key not in lost},
        filled={key: mask for key, mask in motion.filled.items() if key not in lost},
        angles=angles,
        angle_origin={key: "file" if key == ("left", "knee") else "markers" for key in angles},
        fast_marker_angles=fast,
        neutral={"right": motion.neutral["right"]},
        foot_flat={"right": motion.foot_flat["right"]},
    ), cycles


@pytest.mark.parametrize("walk", [troubled_walk, unlike_legs])
def test_cycles_measured_together_are_what_each_is_alone(walk):
    """Value, reason, labels and all that was read: the others change nothing."""
    motion, cycles = walk()
    together = measure_cycles(motion, cycles)
    alone = [row for cycle in cycles for row in measure_cycles(motion, [cycle])]
    assert [row[:3] for row in together] == [row[:3] for row in alone]
    for one, other in zip(together, alone, strict=True):
        assert one._replace(value=0.0) == other._replace(value=0.0)
        assert one.value == other.value or math.isnan(one.value) and math.isnan(other.value)
    assert len({row.reason.code for row in together if row.reason}) >= 7


@each_measure
def test_value_is_unchanged_by_a_time_shift(measure):
    """The same walk recorded 0.37 s later gives the same numbers."""
    early, late = Walk(start_s=0.5), Walk(start_s=0.87)
    first = values_of(early.motion(), early.cycles(), measure)
    second = values_of(late.motion(), late.cycles(), measure)
    for key, row in first.items():
        assert second[key].value == pytest.approx(row.value, abs=1e-6)


@each_measure
def test_swapping_sides_swaps_rows(measure):
    """A mirrored walk gives each side the other's numbers."""
    walk = uneven_walk()
    motion, cycles = walk.motion(), walk.cycles()
    mirrored = [replace(c, side=opposite(c.side)) for c in cycles]
    first = values_of(motion, cycles, measure)
    second = values_of(swapped(motion), mirrored, measure)
    for (side, number), row in first.items():
        other = second[opposite(side), number]
        assert other.value == pytest.approx(row.value, abs=1e-9, nan_ok=True)
        assert other.reason == row.reason


def uneven_walk():
    """Return a walk whose left side differs from its right."""

    class Uneven(Walk):
        def motion(self):
            motion = super().motion()
            angles = {
                key: replace(s, values=s.values * (0.8 if key[0] == "left" else 1.0))
                for key, s in motion.angles.items()
            }
            fast = {key: angles[key] for key in motion.fast_marker_angles}
            points = {
                key: xyz * [1, 1, 0.9] if key.startswith("left") else xyz
                for key, xyz in motion.points.items()
            }
            falling = {key: angles[key] for key in motion.falling_angles}
            return replace(
                motion,
                angles=angles,
                fast_marker_angles=fast,
                falling_angles=falling,
                points=points,
            )

    return Uneven(n_cycles=2)


@each_measure
def test_value_is_stable_from_100_to_200_hz(measure):
    """Twice the frames change no value by more than 4 %, or 0.3 of its unit, 3 ms."""
    slow, fast = Walk(rate_hz=100), Walk(rate_hz=200)
    first = values_of(slow.motion(), slow.cycles(), measure)
    second = values_of(fast.motion(), fast.cycles(), measure)
    for key, row in first.items():
        tolerance = 3.0 if measure.unit == "ms" else 0.3
        assert second[key].value == pytest.approx(row.value, rel=0.04, abs=tolerance)


@pytest.mark.parametrize("cycle_s", [1.1, math.nan])
@pytest.mark.parametrize("toe_off_percent", [62.0, math.nan])
@pytest.mark.parametrize("joints", [JOINTS, ("knee",), ()])
def test_curves_of_a_sheet_never_crash(cycle_s, toe_off_percent, joints):
    """Each value is a number or has a reason, whatever the sheet leaves out."""
    motion, cycles = curve_cycles(cycle_s=cycle_s, toe_off_percent=toe_off_percent, joints=joints)
    rows = {(r.measure, r.side): r for r in measure_cycles(motion, cycles)}
    assert len(rows) == 2 * len(MEASURES)
    for row in rows.values():
        check_row(row)
    peak = rows["peak_swing_dorsiflexion_deg", "left"]
    if joints == JOINTS and not math.isnan(toe_off_percent):
        assert peak.value == pytest.approx(4.0, abs=0.01)
    else:
        assert peak.reason


@pytest.mark.parametrize("event", ["toe_off_s", "opposite_toe_off_s", "opposite_contact_s"])
def test_missing_events_never_crash(event):
    """A cycle that lacks an event gives numbers or reasons."""
    walk = Walk()
    cycles = [replace(c, **{event: math.nan}) for c in walk.cycles()]
    for row in measure_cycles(walk.motion(), cycles):
        check_row(row)


def test_cycle_outside_the_recording_gives_reasons():
    """Events before the first or after the last frame are no numbers."""
    walk = Walk()
    cycle = walk.cycles()[0]
    for shift in (-3.0, 30.0):
        times = {
            key: getattr(cycle, key) + shift
            for key in ("start_s", "toe_off_s", "end_s", "opposite_toe_off_s", "opposite_contact_s")
        }
        for row in measure_cycles(walk.motion(), [replace(cycle, **times)]):
            check_row(row)

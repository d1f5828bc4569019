"""A value knows what it was read from, and is not trusted where a problem spoils that."""

import math

import pytest

from gaittrack.errors import Problem, Spoiled
from gaittrack.ingredients import (
    EVERYTHING,
    HEIGHTS,
    LENGTHS,
    SIDEWAYS,
    TIMES,
    UPRIGHT,
    angle_of,
    events_of,
    leg_of,
    zero_of,
)
from gaittrack.measures import MEASURES, measure_cycles
from gaittrack.measures.recording import NOT_TRUSTED
from gaittrack.measures.trust import spoiled_curves, trusted_cycles, without_spoiled
from gaittrack.pipeline import measure_file
from gaittrack.reasons import Reason
from tests.made_up_files import write_walk

WHY = Reason("sides_crossed")
ANKLE, KNEE = "peak_swing_dorsiflexion_deg", "peak_swing_knee_flexion_deg"
CLEARANCE, SPEED = "minimum_toe_clearance_mm", "walking_speed_m_s"
WIDTH, HIKE = "step_width_mm", "peak_pelvic_hike_deg"
CADENCE, HIP = "cadence_steps_min", "peak_hip_flexion_pelvis_thigh_deg"
AT_CLEARANCE, RANGE = "dorsiflexion_at_toe_clearance_deg", "push_off_range_deg"


@pytest.fixture(scope="module")
def walk(tmp_path_factory):
    path = tmp_path_factory.mktemp("walk") / "walk.c3d"
    write_walk(path)
    return measure_file(path)


def trusted(walk, *spoiled):
    problem = Problem("warning", WHY, "here", spoiled)
    rows = measure_cycles(walk.motion, walk.cycles)
    return without_spoiled(rows, [problem], walk.cycles, rate_hz=walk.trial.rate_hz)


def lost(walk, *spoiled, side="left"):
    return {
        row.measure
        for row in trusted(walk, *spoiled)
        if row.side == side and row.reason == Reason(NOT_TRUSTED, why=WHY)
    }


@pytest.mark.parametrize(
    ("ingredient", "gone", "kept"),
    [
        ("left_toe", {CLEARANCE, AT_CLEARANCE}, {KNEE, SPEED, HIP, CADENCE}),
        ("left_knee", {ANKLE, KNEE, HIP, RANGE}, {CLEARANCE, SPEED, WIDTH}),
        ("right_asis", {HIP, HIKE}, {ANKLE, CLEARANCE, CADENCE}),
        ("right_heel", {WIDTH, "step_length_m"}, {ANKLE, KNEE, CLEARANCE, HIP}),
        (angle_of("left", "ankle"), {ANKLE, RANGE, AT_CLEARANCE}, {KNEE, CLEARANCE}),
        (zero_of("left"), {ANKLE, CLEARANCE, "heel_contact_share_percent"}, {KNEE, HIP, SPEED}),
        (leg_of("right"), {WIDTH, "step_time_s"}, {ANKLE, KNEE}),
        (events_of("left"), {ANKLE, KNEE, SPEED, CADENCE}, set()),
        (SIDEWAYS, {WIDTH, HIKE, "circumduction_mm"}, {ANKLE, "step_time_s"}),
        (UPRIGHT, {ANKLE, "peak_hip_flexion_thigh_vertical_deg"}, {KNEE, HIP, SPEED}),
        (HEIGHTS, {CLEARANCE}, {KNEE, SPEED}),
        (LENGTHS, {CLEARANCE, SPEED, WIDTH}, {ANKLE, KNEE, CADENCE}),
        (TIMES, {SPEED, CADENCE}, set()),
    ],
)
def test_what_rests_on_a_thing_goes_with_it_and_nothing_else(walk, ingredient, gone, kept):
    """Also where two measures share a search: the second has read what the first one read."""
    told = {
        row.measure
        for row in measure_cycles(walk.motion, walk.cycles)
        if row.side == "left" and row.reason is None
    }
    found = lost(walk, Spoiled(ingredient))
    assert gone & told <= found
    assert not kept & found
    assert gone & told


def test_nothing_is_left_where_everything_is_spoiled(walk):
    """Each value that was there has the problem in its place; what was not there keeps its why."""
    before = measure_cycles(walk.motion, walk.cycles)
    for row, was in zip(trusted(walk, Spoiled(EVERYTHING)), before, strict=True):
        assert math.isnan(row.value)
        assert row.reason == (was.reason or Reason(NOT_TRUSTED, why=WHY))
        assert not row.origins


def test_frames_spoil_the_strides_they_touch(walk):
    """The last frame of a stride, or the first: that stride; a frame between two: neither other."""
    cycle = [each for each in walk.cycles if each.is_kept and each.side == "left"][1]
    middle = round((cycle.start_s + cycle.end_s) / 2 * walk.trial.rate_hz)
    rows = trusted(walk, Spoiled("left_knee", frames=(middle, middle)))
    touched = {row.cycle for row in rows if row.measure == KNEE and row.reason is not None}
    assert cycle.id in touched
    assert len([name for name in touched if name.startswith("left")]) == 1
    only = trusted(walk, Spoiled("left_knee", cycles=(cycle.id,)))
    assert {row.cycle for row in only if row.measure == KNEE and row.reason} == {cycle.id}


def test_every_measure_reads_something(walk):
    """No value from markers without a point, an angle or a clock behind it."""
    for row in measure_cycles(walk.motion, walk.cycles):
        assert events_of(row.side) in row.made_of
    assert {row.measure for row in walk.rows} == {measure.name for measure in MEASURES}


def test_curves_speed_and_contact_go_with_their_values(walk):
    """A curve of a spoiled angle is no curve; speed and contact are not told."""
    problem = Problem("warning", WHY, "here", (Spoiled("left_knee"),))
    gone = spoiled_curves(walk.motion, [problem], walk.cycles)
    assert {joint for name, joint in gone if name.startswith("left")} >= {"knee", "ankle"}
    assert not {joint for name, joint in gone if name.startswith("right")}
    cycles = trusted_cycles(walk.cycles, trusted(walk, Spoiled(EVERYTHING)))
    kept = [cycle for cycle in cycles if cycle.is_kept]
    assert all(math.isnan(cycle.speed_m_s) and cycle.contact == "unknown" for cycle in kept)


def test_a_walk_without_problems_keeps_its_rows(walk):
    """The very same, without a look at any of them."""
    rows = measure_cycles(walk.motion, walk.cycles)
    assert without_spoiled(rows, [], walk.cycles, rate_hz=100.0) == tuple(rows)

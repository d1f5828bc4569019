"""What must not matter, does not; what must change, changes as predicted and nothing else does.

Each test measures one made-up walk twice, the second time with one thing about the recording
changed: sides swapped, axes turned or mirrored, clock shifted, unit or rate changed.
"""

from dataclasses import replace

import numpy as np
import pytest

from gaittrack.cycles import cut_cycles
from gaittrack.events import detect_events
from gaittrack.kinematics import describe_motion
from gaittrack.measures import measure_cycles
from gaittrack.pipeline import measure_file
from gaittrack.simulate.c3d_writer import write_c3d
from gaittrack.simulate.recipe import FootRecipe, WalkRecipe
from gaittrack.simulate.walk import simulate_walk
from gaittrack.vocabulary import opposite

LIMP = FootRecipe(contact_pitch_deg=10.0, swing_pitch_deg=-22.0, lowering_time_s=0.06)
RECIPE = WalkRecipe(speed_m_s=1.0, n_strides=3, left=LIMP)


@pytest.fixture(scope="module")
def trial():
    """Give a walk whose sides differ."""
    return simulate_walk(RECIPE, seed=11).trial


def measured(trial):
    """Return (cycle id, side, measure) → value, and the events."""
    motion = describe_motion(trial)
    found = detect_events(motion)
    rows = measure_cycles(motion, cut_cycles(motion, found))
    return {(row.cycle, row.side, row.measure): row.value for row in rows}, found.events


def moved(trial, change):
    return replace(trial, markers={key: change(xyz) for key, xyz in trial.markers.items()})


def same_events(one, other, *, within_s=1e-6):
    assert [(e.side, e.kind, e.contact) for e in one] == [
        (e.side, e.kind, e.contact) for e in other
    ]
    assert [e.time_s for e in one] == pytest.approx([e.time_s for e in other], abs=within_s)


def same_values(one, other, *, rel=1e-4, abs_=1e-3):
    assert one.keys() == other.keys() and len(one) > 50
    wrong = {
        key: (one[key], other[key])
        for key in one
        if one[key] != pytest.approx(other[key], rel=rel, abs=abs_, nan_ok=True)
    }
    assert not wrong


@pytest.mark.parametrize(
    "change",
    [
        lambda xyz: xyz * [-1.0, -1.0, 1.0],
        lambda xyz: xyz[:, [1, 0, 2]] * [-1.0, 1.0, 1.0],
        lambda xyz: xyz[:, [0, 2, 1]] * [1.0, 1.0, -1.0],
        lambda xyz: xyz + [30.0, -7.0, 0.0],
        lambda xyz: xyz * [1.0, -1.0, -1.0],
    ],
    ids=["other direction", "along Y", "Y up", "origin elsewhere", "Z down"],
)
def test_axes_of_the_laboratory_do_not_matter(trial, change):
    """Turned or shifted axes (right-handed): same events, same measures."""
    values, events = measured(trial)
    others, other_events = measured(moved(trial, change))
    same_events(events, other_events)
    same_values(values, others)


def test_mirror_with_sides_renamed_swaps_the_sides_only(trial):
    """Left and right exchanged in space and in the labels: the same walk of the other leg."""
    rename = {"left": "right", "right": "left"}
    markers = {
        " ".join(rename.get(word, word) for word in key.split(" ")): xyz * [1.0, -1.0, 1.0]
        for key, xyz in trial.markers.items()
    }
    values, events = measured(trial)
    others, other_events = measured(replace(trial, markers=markers))
    swapped = [replace(event, side=opposite(event.side)) for event in other_events]
    same_events(events, swapped)
    back = {
        (f"{opposite(side)}-{cycle.split('-')[1]}", opposite(side), measure): value
        for (cycle, side, measure), value in others.items()
    }
    same_values(values, back)


def test_swapped_labels_swap_the_timing_of_the_sides(trial):
    """Labels exchanged without a mirror: each event goes to the other side at the same time."""
    rename = {"left": "right", "right": "left"}
    markers = {
        " ".join(rename.get(word, word) for word in key.split(" ")): xyz
        for key, xyz in trial.markers.items()
    }
    _, events = measured(trial)
    _, others = measured(replace(trial, markers=markers))
    found = [(e.time_s, opposite(e.side), e.kind) for e in events]
    assert [(e.side, e.kind) for e in others] == [(side, kind) for _, side, kind in found]
    assert [e.time_s for e in others] == pytest.approx([t for t, _, _ in found], abs=0.02)


def test_negated_axis_keeps_events_and_knee_and_is_told(trial):
    """Left-handed axes: what lies in the sagittal plane stays, sideways is warned of."""
    mirrored = moved(trial, lambda xyz: xyz * [1.0, -1.0, 1.0])
    values, events = measured(trial)
    others, other_events = measured(mirrored)
    same_events(events, other_events)
    for key, value in values.items():
        if key[2] in ("walking_speed_m_s", "minimum_toe_clearance_mm", "stance_percent"):
            assert others[key] == pytest.approx(value, rel=1e-3, abs=0.1, nan_ok=True)
    assert any(p.where == "sides" for p in describe_motion(mirrored).problems)


def test_first_frame_number_changes_nothing(trial):
    """Times count from the first stored frame, whatever number it bears."""
    values, events = measured(trial)
    others, other_events = measured(replace(trial, first_frame=704))
    assert events == other_events
    same_values(values, others, rel=0, abs_=0)


def test_recording_that_starts_later_shifts_the_times_only(trial):
    """37 frames cut off before the first counted event: everything 0.37 s earlier."""
    cut = 37
    later = replace(
        trial,
        n_frames=trial.n_frames - cut,
        markers={key: xyz[cut:] for key, xyz in trial.markers.items()},
    )
    _, events = measured(trial)
    _, others = measured(later)
    inside = [e for e in events if e.time_s > cut / 100 + 0.1]
    assert [(e.side, e.kind) for e in others][-len(inside) :] == [(e.side, e.kind) for e in inside]
    shifted = [e.time_s - cut / 100 for e in inside]
    assert [e.time_s for e in others][-len(inside) :] == pytest.approx(shifted, abs=0.003)


def test_same_frames_at_half_the_rate_are_a_walk_at_half_the_speed(trial):
    """The same frames called 50 Hz instead of 100: seconds double, so the speed halves."""
    slow = replace(trial, rate_hz=50.0)
    values, _ = measured(trial)
    others, _ = measured(slow)
    for side in ("left", "right"):
        pick = [
            np.median(
                [v for (_, s, m), v in table.items() if (s, m) == (side, "walking_speed_m_s")]
            )
            for table in (values, others)
        ]
        assert pick[1] == pytest.approx(pick[0] / 2, rel=0.02)


@pytest.mark.parametrize("rate_hz", [200.0])
def test_twice_the_frame_rate_gives_the_same_measures(rate_hz):
    """Angles within 1 deg, lengths within 5 mm, times within 25 ms of the 100 Hz recording."""
    quiet = replace(RECIPE, marker_noise_m=0.0)
    one, _ = measured(simulate_walk(quiet, seed=11).trial)
    two, _ = measured(simulate_walk(replace(quiet, rate_hz=rate_hz), seed=11).trial)
    assert one.keys() == two.keys()
    for key in one:
        if key[2] in ("peak_swing_dorsiflexion_deg", "peak_hip_flexion_thigh_vertical_deg"):
            assert one[key] == pytest.approx(two[key], abs=1.0), key
        if key[2] == "minimum_toe_clearance_mm":
            assert one[key] == pytest.approx(two[key], abs=5.0, nan_ok=True), key
        if key[2] == "stride_time_s":
            assert one[key] == pytest.approx(two[key], abs=0.025), key


@pytest.mark.parametrize("unit", ["m", "mm", "cm"])
def test_unit_of_the_file_does_not_matter(trial, unit, tmp_path):
    """Written in metres, centimetres or millimetres, read back: the same measures."""
    path = tmp_path / f"{unit}.c3d"
    factor = {"m": 1.0, "cm": 100.0, "mm": 1000.0}[unit]
    write_c3d(path, rate_hz=100.0, markers=trial.markers, unit=unit, units_per_m=factor)
    result = measure_file(path)
    read = {(row.cycle, row.side, row.measure): row.value for row in result.rows}
    same_values(measured(trial)[0], read, rel=0.01, abs_=0.2)

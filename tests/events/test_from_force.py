"""Plates give events only from clean hits: one foot, well inside, loaded and left again."""

from dataclasses import replace

import numpy as np
import pytest

from gaittrack.events import from_force
from gaittrack.events.from_force import _Foot, _stands_on, detect_from_force
from gaittrack.kinematics import describe_motion
from gaittrack.simulate.recipe import WalkRecipe
from gaittrack.simulate.walk import simulate_walk
from gaittrack.trial import ForcePlate
from gaittrack.vocabulary import opposite

RECIPE = WalkRecipe(speed_m_s=1.2, n_strides=3, with_plates=True)


@pytest.fixture(scope="module")
def walk():
    """Give a walk over two plates, one step of each foot."""
    return simulate_walk(RECIPE, seed=5)


def events_of(walk, *plates):
    """Return events and problems with other plates."""
    return detect_from_force(describe_motion(replace(walk.trial, plates=plates)))


def changed(plate, **changes):
    values = {name: getattr(plate, name) for name in ForcePlate.__dataclass_fields__}
    return ForcePlate(**{**values, **changes})


def hit_slice(plate):
    loaded = np.flatnonzero(plate.force_n[:, 2] > 20)
    return slice(int(loaded[0]), int(loaded[-1]) + 1)


def test_clean_hits_give_contact_and_toe_off_at_the_true_times(walk):
    """Within 20 ms of the planned instants: force needs some time to reach 20 N."""
    events, problems = detect_from_force(describe_motion(walk.trial))
    assert len(events) == 4 and problems == ()
    assert {event.side for event in events} == {"left", "right"}
    for event in events:
        truth = [
            e.time_s for e in walk.truth.events if (e.side, e.kind) == (event.side, event.kind)
        ]
        assert min(abs(time - event.time_s) for time in truth) < 0.020


@pytest.mark.parametrize("up_axis", ["Z", "Y"])
@pytest.mark.parametrize("direction", ["+", "-"])
def test_plates_are_read_in_any_laboratory(up_axis, direction):
    """Same events whichever axis points up and whichever way the walk goes."""
    walk = simulate_walk(replace(RECIPE, up_axis=up_axis, direction=direction), seed=5)
    events, _ = detect_from_force(describe_motion(walk.trial))
    assert [event.kind for event in events].count("toe_off") == 2


def test_crossing_of_20_n_lies_between_the_samples(walk):
    """A ramp of 10 N a sample crosses 20 N midway between 15 and 25 N."""
    plate = walk.trial.plates[0]
    hit = hit_slice(plate)
    force = plate.force_n.copy()
    force[:, 2] = 0.0
    force[hit, 2] = 400.0
    ramp = np.arange(5.0, 400.0, 10.0)
    force[hit.start : hit.start + len(ramp), 2] = ramp
    events, _ = events_of(walk, changed(plate, force_n=force))
    assert events[0].time_s * plate.rate_hz == pytest.approx(hit.start + 1.5, abs=1e-6)


@pytest.mark.parametrize(("peak_n", "n_events"), [(95.0, 0), (110.0, 2)])
def test_a_load_that_is_no_person_is_no_hit(walk, peak_n, n_events):
    """A cane, or a hand on a rail: it never carries 100 N."""
    plate = walk.trial.plates[0]
    force = plate.force_n * (peak_n / plate.force_n[:, 2].max())
    events, _ = events_of(walk, changed(plate, force_n=force))
    assert len(events) == n_events


@pytest.mark.parametrize(("n_still", "is_on"), [(0, False), (2, False), (3, True), (40, True)])
def test_a_foot_is_on_a_plate_that_stands_over_it_for_more_than_a_fiftieth_of_a_hit(n_still, is_on):
    """Swinging over a plate, a foot is never that long slow over it."""
    points = np.zeros((100, 1, 3))
    speed = np.full((100, 1), 2.0)
    speed[:n_still] = 0.1
    corners = np.array([[-1.0, -1], [1, -1], [1, 1], [-1, 1]])
    assert _stands_on(_Foot("left", points, speed), corners, slice(0, 100), [0, 1]) == is_on


def test_plate_that_is_never_loaded_says_nothing(walk):
    """No event, no problem, with or without a centre of pressure."""
    plate = walk.trial.plates[0]
    silent = changed(plate, force_n=np.zeros_like(plate.force_n))
    assert events_of(walk, silent) == ((), ())


def test_centre_of_pressure_at_the_edge_is_no_clean_hit(walk):
    """Half the foot beside the plate: told, not used."""
    plate = walk.trial.plates[0]
    hit = hit_slice(plate)
    middle = np.nanmean(plate.centre_of_pressure_m[hit], axis=0)
    beside = plate.corners_m - plate.corners_m.mean(axis=0) + middle + [0.0, 0.0, 0.0]
    beside[:, 0] += 0.98 * np.ptp(plate.corners_m[:, 0]) / 2
    events, problems = events_of(walk, changed(plate, corners_m=beside))
    assert events == () and "edge" in problems[0].what


def test_two_feet_on_one_plate_are_no_clean_hit(walk):
    """A plate as long as the walkway is loaded by both feet."""
    plate = walk.trial.plates[0]
    middle = plate.corners_m.mean(axis=0)
    huge = middle + (plate.corners_m - middle) * [20.0, 5.0, 1.0]
    events, problems = events_of(walk, changed(plate, corners_m=huge))
    assert events == () and "both feet" in problems[0].what


def test_load_without_a_foot_on_the_plate_is_no_hit(walk):
    """A plate elsewhere in the room that shows a load."""
    plate = walk.trial.plates[0]
    away = [0.0, 5.0, 0.0]
    moved = changed(
        plate,
        corners_m=plate.corners_m + away,
        centre_of_pressure_m=plate.centre_of_pressure_m + away,
    )
    events, problems = events_of(walk, moved)
    assert events == () and "no foot" in problems[0].what


@pytest.mark.parametrize(("gap_s", "n_hits"), [(0.029, 1), (0.031, 2)])
def test_a_load_that_drops_out_for_less_than_30_ms_is_one_hit(gap_s, n_hits):
    """At 1000 Hz, on either side of the limit."""
    step, clear = np.full(400, 500.0), np.zeros(200)
    load = np.concatenate([clear, step, np.zeros(round(gap_s * 1000)), step, clear])
    assert len(from_force._loaded(load, 1000.0)) == n_hits


@pytest.mark.parametrize("kind", ["light", "short", "from the first sample"])
def test_what_is_no_step_of_a_person_is_left_out(walk, kind):
    """Under 100 N, under 150 ms, or already loaded when the recording starts."""
    plate = walk.trial.plates[0]
    hit = hit_slice(plate)
    force = plate.force_n.copy()
    if kind == "light":
        force *= 90.0 / force[:, 2].max()
    elif kind == "short":
        force[hit.start + round(0.14 * plate.rate_hz) :] = 0.0
    else:
        force[: hit.stop, 2] = 500.0
    assert events_of(walk, changed(plate, force_n=force))[0] == ()


@pytest.mark.parametrize(
    ("load_n", "lasts_s", "before_s", "is_hit"),
    [
        *((500, 3.9, 0.2, True), (500, 4.1, 0.2, False)),  # who stands there makes no step
        *((500, 0.16, 0.2, True), (500, 0.14, 0.2, False)),
        *((101, 0.6, 0.2, True), (99, 0.6, 0.2, False)),
        *((500, 0.6, 0.06, True), (500, 0.6, 0.04, False)),  # it was not clear before
    ],
)
def test_a_load_is_a_hit_by_time_weight_and_a_clear_plate(load_n, lasts_s, before_s, is_hit):
    """At 1000 Hz, on either side of each limit; so is what is not clear after it."""
    clear = np.zeros(round(before_s * 1000))
    load = np.concatenate([clear, np.full(round(lasts_s * 1000), float(load_n)), np.zeros(500)])
    for given in (load, load[::-1]):
        found = from_force._loaded(given, 1000.0)
        assert len(found) == is_hit
        assert all(stop - begin == pytest.approx(lasts_s, abs=0.002) for begin, stop in found)


def test_plate_of_unknown_place_is_given_to_the_one_foot_near_its_centre_of_pressure(walk):
    """No corners in the file, or not all: side from the foot within 0.35 m."""
    plate = walk.trial.plates[0]
    whole, _ = events_of(walk, plate)
    for n_unknown in (4, 1):
        corners = plate.corners_m.copy()
        corners[:n_unknown] = np.nan
        events, problems = events_of(walk, changed(plate, corners_m=corners))
        assert [(e.side, e.kind) for e in events] == [(e.side, e.kind) for e in whole]
        assert len(events) == 2 and problems == ()


def test_a_centre_of_pressure_that_lacks_a_coordinate_is_left_out(walk):
    """The rest of the hit tells whose it is; when all lack one, that is the reason."""
    plate = walk.trial.plates[0]
    whole, _ = events_of(walk, plate)
    cop = plate.centre_of_pressure_m.copy()
    cop[::2, 0] = np.nan
    assert events_of(walk, changed(plate, centre_of_pressure_m=cop)) == (whole, ())
    cop[:, 1] = np.nan
    events, (problem,) = events_of(walk, changed(plate, centre_of_pressure_m=cop))
    assert events == () and "centre of pressure" in problem.what


def test_trial_without_plates_has_no_force_events(walk):
    """Nothing, in silence: most trials have no plates."""
    assert events_of(walk) == ((), ())


@pytest.mark.parametrize(("speed_m_s", "is_clean"), [(0.7, True), (0.3, False)])
def test_a_foot_that_moves_over_the_plate_does_not_stand_on_it(walk, speed_m_s, is_clean):
    """The other foot slides through at 0.7 m/s: a clean hit; at 0.3 m/s it may carry load."""
    plate = walk.trial.plates[0]
    hit = hit_slice(plate)
    (whole, _), middle = events_of(walk, plate), plate.corners_m.mean(axis=0)
    other = opposite(whole[0].side)
    time_s = np.arange(walk.trial.n_frames) / walk.trial.rate_hz
    passed_m = speed_m_s * (time_s - (hit.start + hit.stop) / 2 / plate.rate_hz)
    heel = walk.trial.markers[f"{other} heel"]
    path = np.stack([middle[0] + passed_m, np.full_like(passed_m, middle[1]), 0 * passed_m], axis=1)
    own = {name: xyz for name, xyz in walk.trial.markers.items() if name.startswith(other)}
    rigid = {name: path + (xyz - heel)[0] for name, xyz in own.items()}
    markers = {**walk.trial.markers, **rigid}
    trial = replace(walk.trial, markers=markers, plates=(plate,))
    events, problems = detect_from_force(describe_motion(trial))
    assert (len(events), len(problems)) == ((2, 0) if is_clean else (0, 1))
    assert all("both feet" in problem.what for problem in problems)

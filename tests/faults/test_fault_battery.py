"""What is wrong with a recording in an ordinary way never stands as a number unseen."""

import csv
import struct
from dataclasses import replace
from itertools import chain, islice

import numpy as np
import pytest

from gaittrack.measured_walk import MeasuredWalk
from gaittrack.pipeline import measure_file
from gaittrack.simulate.c3d_writer import write_c3d
from gaittrack.simulate.walk import simulate_walk, stand
from tests.faults.battery import run
from tests.faults.comparing import Halves, Person, simulated
from tests.faults.faults import JUMP_POINTS, Fault, _jump, _tilted, axes, exchanges, faults
from tests.faults.good_recordings import RECIPES, Good, good_recordings, measured, random_recipes
from tests.faults.wrong_companions import others_walks, standings, with_standing
from tests.faults.wrong_curves import curve_faults, good_curves
from tests.faults.wrong_sheets import good_sheets, sheet_faults
from tests.golden.make_fault_battery import N_GOOD, TABLE, doubts_on_good_walks
from tests.sweeps import SWEEP


@pytest.fixture(scope="module")
def good():
    """Give a walk that is right."""
    recipe = RECIPES["simulated, drop foot"]
    return Good("simulated", simulate_walk(recipe, seed=12).trial, stand(recipe, seed=12))


def test_a_frame_of_any_marker_that_jumps_changes_no_headline_value(good):
    """A single frame moved by 0.1 or 1 m: every value is the same within its error, or none."""
    planted = [
        Fault("jump", f"{name} {size_m} {share}", _jump(name, size_m, share))
        for name in JUMP_POINTS
        for size_m, share in ((0.1, 0.35), (1.0, 0.61))
    ]
    found = list(run(good, planted))
    assert len(found) > 100
    assert {case.outcome for case in found} <= {"same", "not defined", "not trusted"}
    assert all("marker_jumps" in case.says for case in found)


def test_exchanged_names_print_no_wrong_value(good):
    """From half of the walk on, for a third of it, all along: of one landmark or a whole leg."""
    planted = [fault for fault in exchanges() if "toe" in fault.name or "both" in fault.name]
    found = list(run(good, planted))
    assert not [case for case in found if case.outcome in ("told", "SILENT")]
    assert any(case.outcome == "not trusted" for case in found)


def test_turned_axes_change_nothing(good):
    """A quarter of the 24 ways to turn the axes of a laboratory."""
    found = list(run(good, list(axes())[1:24:4]))
    assert {case.outcome for case in found} == {"same"}


def test_lost_strides_are_told(good):
    """Heel and toe gone for half a walk: how many strides that cost, and who is to blame."""
    (half,) = [fault for fault in faults() if fault.name == "heel and toe half the walk"]
    result = measured(half.change(good))
    (told,) = [p for p in result.problems if p.reason.code == "strides_lost"]
    assert told.reason["side"] == "left" and told.reason["n"] >= 1
    assert "left_heel" in told.reason["names"]


@pytest.mark.parametrize("factor", [0.5, 1.25])
def test_scale_against_the_header_spoils_every_length(tmp_path, good, factor):
    """The parameters' scale is not the header's: no clearance and no speed, but the angles."""
    path = tmp_path / "walk.c3d"
    write_c3d(path, rate_hz=100.0, markers=good.trial.markers, storage="integer")
    content = bytearray(path.read_bytes())
    (scale,) = struct.unpack_from("<f", content, 12)
    struct.pack_into("<f", content, 12, scale * factor)
    path.write_bytes(bytes(content))
    walk = measure_file(path)
    assert "scales_differ" in {p.reason.code for p in walk.problems}
    table = walk.values().set_index("measure")["value"]
    assert table[["minimum_toe_clearance_mm", "walking_speed_m_s"]].isna().all()
    assert table["peak_hip_flexion_pelvis_thigh_deg"].notna().all()


def test_a_standing_trial_of_another_body_is_told_and_gives_no_ankle(good):
    """Its shank is 70 mm shorter: the ankle is not trusted."""
    recipe = RECIPES["simulated, drop foot"]
    other = stand(recipe, seed=3)
    shorter = {
        label: xyz - [0.0, 0.0, 0.07] if "knee" in label else xyz
        for label, xyz in other.markers.items()
    }
    fault = Fault("standing", "other body", lambda _: good.trial)
    plain = measured(good.trial, good.standing)
    wrong = measured(
        fault.change(good),
        type(other)(other.rate_hz, other.n_frames, other.provenance, markers=shorter),
    )
    assert not {"standing_of_another", "moves_in_standing"} & {
        p.reason.code for p in plain.problems
    }
    assert "standing_of_another" in {p.reason.code for p in wrong.problems}
    values = wrong.values().set_index("measure")["value"]
    assert values["peak_swing_dorsiflexion_deg"].isna().all()


@pytest.mark.parametrize("n_walks", [12, pytest.param(40, marks=SWEEP)])
def test_good_walks_raise_no_doubt(n_walks):
    """At most one doubt in a hundred walks drawn over all that patients show; none in these."""
    assert not doubts_on_good_walks(n_walks)


def test_noise_of_markers_is_known(good):
    """The noise that was put on is estimated to a fifth, and kept."""
    walk = measured(simulate_walk(random_recipes(1, 3)[0], seed=1).trial)
    assert isinstance(walk, MeasuredWalk)
    noise = np.median(list(measured(good.trial).motion.markers.noise_m.values()))
    assert noise == pytest.approx(0.0004, rel=0.2)


@pytest.mark.parametrize(("step_m", "least_m"), [(0.001, 0.00028), (0.01, 0.0028)])
def test_coordinates_that_are_written_coarsely_tremble_by_it(good, step_m, least_m):
    """A foot that stands hides it: metres with two decimals move a rate by 90 deg/s."""
    coarse = {label: np.round(xyz / step_m) * step_m for label, xyz in good.trial.markers.items()}
    noise = measured(replace(good.trial, markers=coarse)).motion.markers.noise_m
    assert min(noise.values()) >= least_m


@pytest.mark.parametrize("degrees", [1.5, 5.0])
def test_a_tilt_that_one_stride_shows_gives_no_height(degrees):
    """Of one leg and one stride: where the foot comes down next is all that shows the floor."""
    (flat,) = [each for each in good_recordings() if "handbook" in each.name]
    before, after = measured(flat.trial), measured(_tilted(degrees)(flat))
    assert "strides_rise" not in {p.reason.code for p in before.problems}
    assert "strides_rise" in {p.reason.code for p in after.problems}
    values = [each.values().set_index("measure")["value"] for each in (before, after)]
    names = ["minimum_toe_clearance_mm", "peak_swing_dorsiflexion_deg"]
    assert values[0][names].notna().all()
    assert values[1][names].isna().all()


of_some = pytest.mark.parametrize("n", [1, pytest.param(2, marks=SWEEP)])


@of_some
def test_sheets_filled_in_wrongly_print_no_wrong_value(n):
    """Columns, sides, signs, marks and rows exchanged: not trusted, or one that nobody can know."""
    cases = [case for good in islice(good_sheets(), n) for case in run(good, sheet_faults())]
    assert {case.fault.name for case in cases if case.outcome == "not knowable"} == {
        "ankles 10 deg off"
    }
    assert not [case for case in cases if case.outcome in ("told", "SILENT", "other points")]


@of_some
def test_curves_filled_in_wrongly_print_no_wrong_value(n):
    """Names, signs, beginnings, toe-off and time: not trusted, or what nobody can know of them."""
    cases = [case for good in islice(good_curves(), n) for case in run(good, curve_faults())]
    assert {case.fault.name for case in cases if case.outcome == "not knowable"} == {
        "sides exchanged in all curves",
        "sides exchanged in the knees",
        "sides exchanged in the hip_thigh_verticals",
        "ankles 10 deg off",
    }
    assert not [case for case in cases if case.outcome in ("told", "SILENT", "other points")]
    untrusted = {case.fault.name for case in cases if case.outcome == "not trusted"}
    assert {"hip and knee exchanged", "from 100 % back", "begun 10 % late"} <= untrusted


def test_a_standing_trial_that_is_not_the_walks_gives_no_zero():
    """Of another moment, body, person or unit, turned, walked: nothing is made of it unseen."""
    (good,) = [each for each in with_standing() if each.name.startswith("simulated")]
    cases = list(run(good, standings()))
    assert {case.outcome for case in cases} <= {"same", "not trusted", "not defined", "refused"}
    wrong = {case.fault.name for case in cases if case.outcome != "same"}
    assert len(wrong) >= 7


@pytest.fixture(scope="module")
def halves():
    """Give walks of one person, of which one half will go wrong."""
    walks = simulated(RECIPES["simulated, drop foot"], seed=40, n=4)
    return Halves(Person("drop foot", walks))


@pytest.mark.parametrize(
    ("kind", "name"),
    [
        ("scale", "x0.8"),
        ("scale", "x1.25"),
        ("rate written wrong", "x0.5"),
        ("rate written wrong", "x2"),
        ("noise", "2 mm"),
        ("volume tilted", "1.5 deg"),
        ("another person", "smaller by a seventh, one walk"),
    ],
)
def test_a_fault_in_one_condition_claims_no_change(halves, kind, name):
    """What one walk cannot show, the person's other walks do: nothing is called larger."""
    (fault,) = [f for f in chain(faults(), others_walks()) if (f.kind, f.name) == (kind, name)]
    found = halves.run(fault)
    assert found["told"] == found["SILENT"] == 0
    if kind in ("scale", "another person", "rate written wrong"):
        assert found["no claim"] == 0


def test_the_kept_table_has_no_silent_value():
    """As the command made it: neither of one walk nor in a comparison; doubts in 1 of 100."""
    with TABLE.open(newline="", encoding="utf-8") as stream:
        *lines, doubts = csv.DictReader(stream)
    assert len(lines) > 140
    assert not [line for line in lines if int(line["SILENT"]) or int(line["compared: SILENT"])]
    unknown = [line for line in lines if int(line["not knowable"])]
    assert all(line["why one walk cannot show it"] for line in unknown)
    assert int(doubts["same"]) <= N_GOOD / 100

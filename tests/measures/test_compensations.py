"""Hip hiking, circumduction and vaulting."""

import math
from dataclasses import replace

import numpy as np
import pytest

from gaittrack.trial import Trial
from tests.motions import ANGLE_KNOTS, Walk, one_cycle

HIKE = "peak_pelvic_hike_deg"
ASIDE = "circumduction_mm"
VAULT = "opposite_vaulting_plantarflexion_deg"
HEEL = "opposite_heel_rise_at_mid_swing_mm"


def test_hike_is_the_peak_in_swing(measured):
    """The own side of the made-up pelvis goes 5 deg up in swing."""
    walk = Walk()
    assert measured(HIKE, walk.motion(), one_cycle(walk)).value == pytest.approx(5, abs=0.01)


def test_circumduction_is_the_outward_bow_of_the_ankle(measured):
    """The made-up ankle bows 30 mm outward on both sides."""
    walk = Walk()
    right, left = (next(c for c in walk.cycles() if c.side == s) for s in ("right", "left"))
    assert measured(ASIDE, walk.motion(), right).value == pytest.approx(30, abs=0.2)
    assert measured(ASIDE, walk.motion(), left).value == pytest.approx(30, abs=0.2)


def test_circumduction_is_measured_from_the_line_that_the_foot_goes(measured):
    """Going 0.2 m aside per metre: the bow of 30 mm is seen across that line."""
    walk = Walk()
    motion = walk.motion()
    key = "right_ankle_centre"
    xyz = motion.points[key].copy()
    xyz[:, 1] += 0.2 * xyz[:, 0]
    found = measured(ASIDE, replace(motion, points={**motion.points, key: xyz}), one_cycle(walk))
    assert found.value == pytest.approx(30 / math.hypot(1, 0.2), abs=0.2)


def test_side_view_has_no_sideways_measures(measured):
    """A two-dimensional recording says nothing about left and right."""
    walk = Walk()
    motion = walk.motion()
    flat = Trial(
        rate_hz=100, n_frames=motion.n_frames, provenance=motion.trial.provenance, n_dimensions=2
    )
    motion = replace(motion, trial=flat)
    for name in (HIKE, ASIDE, "step_width_mm"):
        assert measured(name, motion, one_cycle(walk)).reason.code == "nothing_sideways"
    assert measured("step_length_m", motion, one_cycle(walk)).is_defined


def test_ankle_that_only_dorsiflexes_in_single_support_does_not_vault(measured):
    """Healthy single support gives 0."""
    walk = Walk()
    assert measured(VAULT, walk.motion(), one_cycle(walk)).value == pytest.approx(0, abs=1e-9)


def test_early_plantarflexion_of_the_other_ankle_is_vaulting(measured):
    """The left ankle falls from 5 to -4 deg between 15 and 28 % of its own cycle."""
    knots = ((0, 0), (0.08, -6), (0.15, 5), (0.28, -4), (0.45, 10), (0.62, -15), (1, 0))
    walk = Walk(knots={**ANGLE_KNOTS, "ankle": knots})
    found = measured(VAULT, walk.motion(), one_cycle(walk))
    assert found.value == pytest.approx(9, abs=0.01)


def test_vaulting_needs_the_other_foots_contact(measured):
    """Without it the other foot's cycle is not known."""
    walk = Walk()
    cycle = one_cycle(walk, opposite_contact_s=math.nan)
    assert measured(VAULT, walk.motion(), cycle).reason.code == "no_other_contact"


def test_height_of_the_other_heel_is_over_that_of_its_foot_flat(measured):
    """The other foot stands 20 mm up and flat to 25 % of its cycle, its heel then 15 mm higher."""
    walk = Walk()
    motion = walk.motion()
    _, u = walk.phase("left")
    flat = {**motion.foot_flat, "left": motion.foot_flat["left"] & (u <= 0.25)}
    raised = motion.points["left_heel"].copy()
    raised[:, 2] += np.where((u > 0.26) & (u < 0.5), 0.035, 0.02)
    motion = replace(motion, foot_flat=flat, points={**motion.points, "left_heel": raised})
    assert measured(HEEL, motion, one_cycle(walk)).value == pytest.approx(15, abs=0.01)
    never = replace(motion, foot_flat={})
    assert measured(HEEL, never, one_cycle(walk)).value == pytest.approx(35, abs=0.01)
    unknown = replace(never, neutral={})
    assert measured(HEEL, unknown, one_cycle(walk)).reason.code == "no_standing_height"

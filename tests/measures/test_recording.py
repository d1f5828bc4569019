"""Which series a measure is given, and what stands beside it."""

from dataclasses import replace

import numpy as np
import pytest

from gaittrack.kinematics.motion import FootNeutral
from gaittrack.measures.recording import PreparedMotion, gradient
from gaittrack.reasons import Reason
from gaittrack.trial import Signal
from tests.motions import Walk, angles_only, with_filled


def test_rate_comes_from_markers_also_when_the_file_has_angles():
    """The file's own ankle angle serves the angle, the 15 Hz markers serve the rate."""
    motion = Walk().motion()
    own = Signal(np.full(motion.n_frames, 7.0), "deg", "ankle")
    motion = replace(
        motion,
        angles={**motion.angles, ("right", "ankle"): own},
        angle_origin={**motion.angle_origin, ("right", "ankle"): "file"},
    )
    recording = PreparedMotion(motion)
    assert recording.angle("right", "ankle").values[0] == 7.0
    assert recording.angle("right", "ankle").labels == (Reason("from_file"),)
    assert recording.fast_angle("right", "ankle").labels == (Reason("low_passed", cutoff_hz=15.0),)
    assert np.ptp(recording.fast_angle("right", "ankle").values) > 10


def test_rate_from_file_angles_says_that_smoothing_is_unknown():
    """Without markers the rate comes from the file, with a label."""
    labels = PreparedMotion(angles_only(Walk().motion())).fast_angle("left", "ankle").labels
    assert labels == (Reason("from_file_rate"),)


def test_rate_below_100_hz_is_a_lower_bound():
    """60 Hz blunts peaks of speed."""
    labels = PreparedMotion(Walk(rate_hz=60).motion()).fast_angle("left", "ankle").labels
    assert labels == (Reason("low_passed", cutoff_hz=15.0), Reason("lower_bound", rate_hz=60))


def test_missing_zero_of_the_foot_is_the_reason():
    """Without a neutral there is no ankle angle, and the reason asks for what is needed."""
    motion = Walk().motion()
    nothing = Signal(np.full(motion.n_frames, np.nan), "deg", "ankle")
    none = FootNeutral(np.nan, np.nan, np.nan, "none", Reason("foot_never_flat"))
    motion = replace(
        motion,
        angles={**motion.angles, ("right", "ankle"): nothing},
        neutral={**motion.neutral, "right": none},
    )
    assert PreparedMotion(motion).angle("right", "ankle").missing == (
        Reason("no_angle_because", angle="ankle", why=Reason("foot_never_flat"))
    )


def test_angle_is_filled_where_any_of_its_points_is():
    """A filled heel makes the ankle angle filled, not the knee angle."""
    recording = PreparedMotion(with_filled(Walk().motion(), "right_heel", 1.0, 1.1))
    mask = recording.angle("right", "ankle").filled
    assert mask is not None
    assert np.flatnonzero(mask).tolist() == list(range(100, 111))
    assert recording.angle("right", "knee").filled is None


def test_what_events_and_zeros_rest_on_is_named():
    """Contacts told from markers rest on the foot's own; by other means on none of them."""
    motion = Walk().motion()
    motion = replace(motion, parts={"left_heel": ("left ankle marker",), "left_toe_point": ("x",)})
    recording = PreparedMotion(motion)
    plain = {"right events", "right side", "times"}
    assert recording.events("right", from_markers=False) == plain
    assert recording.events("right", from_markers=True) == plain | {"right_heel", "right_forefoot"}
    assert "left ankle marker" in recording.events("left", from_markers=True)
    assert recording.origins_of("left_heel", "right_heel") == {
        ("left_heel", ("left ankle marker",))
    }
    assert recording.toe_off_origins("left") == {("left toe-offs", ("x",))}
    assert recording.toe_off_origins("right") == frozenset()
    assert recording.event_origins("right") == {("right events", ("right_heel", "right_knee"))}
    unseen = replace(
        motion, fast_points={}, points={**motion.points, "left_asis": motion.points["pelvis"]}
    )
    assert PreparedMotion(unseen).event_origins("left") == {
        ("left events", ("left_ankle", "pelvis")),
    }
    (zero,) = {source for name, source in recording.zero("right")[1]}
    assert zero == (motion.neutral["right"].source,)
    assert {"right_heel", "right_forefoot"} <= recording.zero("right")[0]


def test_points_of_a_foot_that_turned_are_not_trusted_and_others_are():
    """Its heel and toe; not its knee, and not the other foot."""
    turned = PreparedMotion(replace(Walk().motion(), turned_feet=("left",)))
    for side, name in (("left", "heel"), ("left", "toe_point")):
        assert turned.point(side, name, 2).missing.code == "not_trusted"
    for side, name in (("right", "heel"), ("left", "hip_centre")):
        assert turned.point(side, name, 2).missing is None


def test_gradient_is_exact_on_a_parabola():
    """Central differences of t squared are 2 t; at either end it is the step to the neighbour."""
    assert gradient(np.arange(6.0) ** 2) == pytest.approx([1, 2, 4, 6, 8, 9])
    assert gradient(np.array([1.0, 3.0])) == pytest.approx([2, 2])
    assert np.isnan(gradient(np.array([1.0]))).tolist() == [True]


def test_gradient_is_exact_on_a_fourth_power_inside():
    """Five points follow t to the fourth, 4 t cubed, where three would be off by 4 t."""
    change = gradient(np.arange(7.0) ** 4)
    assert change[2:-2] == pytest.approx(4 * np.arange(2.0, 5.0) ** 3)
    assert change[1] == pytest.approx((2**4 - 0) / 2)

"""Cycles whose feet are out of order are rejected, never measured."""

from dataclasses import replace

import pytest

from gaittrack.cycles import Cycle, cut_cycles
from gaittrack.cycles.order import OUT_OF_ORDER, order_reasons
from gaittrack.events import detect_events
from gaittrack.kinematics import describe_motion
from gaittrack.plausibility import doubts
from gaittrack.reasons import Reason
from gaittrack.simulate.recipe import WalkRecipe
from gaittrack.simulate.walk import simulate_walk
from gaittrack.trial import Event

TOLD = "strides_out_of_order"
WALKED = Cycle("left-01", "left", 1.0, 1.7, 2.1)
OTHER = (0.45, "initial_contact"), (1.13, "toe_off"), (1.55, "initial_contact"), (2.22, "toe_off")


def events(times):
    """Return events of the right foot."""
    return [Event(time_s, "right", kind, "markers") for time_s, kind in times]


@pytest.mark.parametrize(
    ("number", "time_s"),
    [
        (1, 0.95),  # the other foot left before this one was down
        (2, 1.75),  # this foot leaves before the other is down
    ],
)
def test_an_impossible_order_is_a_reason(number, time_s):
    """Double support would be negative, or longer than the cycle."""
    other = list(OTHER)
    other[number] = (time_s, other[number][1])
    assert order_reasons(WALKED, events(other)) == [Reason(OUT_OF_ORDER)]


def test_the_other_foot_in_the_air_at_the_end_is_a_reason():
    """The contact that ends the cycle is no contact then."""
    other = [*OTHER[:3], (2.05, "toe_off"), (2.5, "initial_contact")]
    assert order_reasons(WALKED, events(other)) == [Reason(OUT_OF_ORDER)]


@pytest.mark.parametrize("unseen", range(4))
def test_an_order_that_is_right_or_not_seen_is_none(unseen):
    """An event that was not seen speaks against nothing."""
    assert order_reasons(WALKED, events(OTHER)) == []
    seen = [each for number, each in enumerate(OTHER) if number != unseen]
    assert order_reasons(WALKED, events(seen)) == []


def test_a_toe_off_given_before_the_other_contact_rejects_both_strides():
    """The events of a table are checked like all others, and how many it costs is told."""
    walk = simulate_walk(WalkRecipe(n_strides=3), seed=6)
    given = list(walk.truth.events)
    number = [n for n, e in enumerate(given) if (e.side, e.kind) == ("left", "toe_off")][2]
    given[number] = replace(given[number], time_s=given[number].time_s - 0.2)
    motion = describe_motion(replace(walk.trial, events=tuple(given)))
    cycles = cut_cycles(motion, detect_events(motion))
    against = [cycle.id for cycle in cycles if Reason(OUT_OF_ORDER) in cycle.reject_reasons]
    assert len(against) >= 2 and {name.split("-")[0] for name in against} == {"left", "right"}
    (told,) = [p.reason for p in doubts(cycles, "walk") if p.reason.code == TOLD]
    assert (told["n"], told["n_all"]) == (len(against), len(cycles))


def test_walks_as_they_are_keep_their_strides():
    """Nothing of it is said of plain walking."""
    motion = describe_motion(simulate_walk(WalkRecipe(n_strides=3), seed=6).trial)
    cycles = cut_cycles(motion, detect_events(motion))
    assert TOLD not in [problem.reason.code for problem in doubts(cycles, "walk")]
    assert cycles and all(Reason(OUT_OF_ORDER) not in cycle.reject_reasons for cycle in cycles)

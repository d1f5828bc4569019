"""More made-up patients are alike on paper and walk each in their own way."""

from collections import Counter

import numpy as np

from gaittrack.simulate.more_patients import more_patients
from gaittrack.simulate.walk import simulate_walk


def test_forty_patients_are_five_of_each_kind():
    """Cause, sex and side, what a k-anonymity report counts, come in eight groups of five."""
    kinds = Counter(
        (one.about["cause"], one.about["sex"], one.about["affected_side"])
        for one in more_patients(40)
    )
    assert len(kinds) == 8 and set(kinds.values()) == {5}


def test_the_first_do_not_depend_on_how_many():
    """Same number, same patient: code, words and recipe."""
    few, many = more_patients(3), more_patients(5)[:3]
    assert [one.code for one in few] == ["P05", "P06", "P07"]
    assert [one.about for one in few] == [one.about for one in many]
    recipes = [[one.recipe(0, "with-brace") for one in group] for group in (few, many)]
    assert recipes[0] == recipes[1]


def test_no_two_walk_alike_and_the_brace_helps_unequally():
    """Swing pitch on the affected side differs between people, and so does the brace's part."""
    bare, gains = set(), []
    for one in more_patients(16):
        side = one.about["affected_side"]
        without, braced = (
            one.recipe(0, wear).foot(side).swing_pitch_deg
            for wear in ("without-brace", "with-brace")
        )
        bare.add(without)
        gains.append(braced - without)
    assert len(bare) == 16
    assert max(gains) - min(gains) > 3.0


def test_the_widest_differences_still_walk():
    """Each of forty patients gives full strides of both feet, the toe above the floor."""
    for one in more_patients(40):
        for wear in ("without-brace", "with-brace"):
            walk = simulate_walk(one.recipe(0, wear), seed=1)
            assert Counter(cycle.side for cycle in walk.truth.cycles) == {"left": 3, "right": 3}
            heights_m = [walk.trial.markers[f"{side} toe"][:, 2] for side in ("left", "right")]
            assert np.nanmin(heights_m) > 0.0

"""What laboratories do to a recording without knowing stands beside its numbers; a sample."""

import pytest

from gaittrack.simulate.walk import simulate_walk
from tests.faults.battery import HEADLINES, run
from tests.faults.good_recordings import RECIPES, Good
from tests.faults.wild_walks import wild_faults

NAMES = {measure.name for measure in HEADLINES}
PLANTED = {
    ("drifts", "heel 5 cm ahead"),
    ("slips in 0.2 s", "heel 2 cm up"),
    ("slips in 0.2 s", "toe 5 cm up"),
    ("slips in 0.2 s", "ankle 5 cm ahead"),
    ("slips in 0.2 s", "knee 5 cm ahead"),
    ("slips in 0.2 s", "asis 5 cm up"),
    ("slips in 0.2 s", "psis 5 cm up"),
    ("late", "heel 2 frames"),
    ("late", "knee 3 frames"),
    ("late", "hip 3 frames"),
    ("filled by spline", "heel, every swing 0.3 s"),
    ("filled by spline", "toe, every swing 0.2 s"),
    ("smoothed", "all at 8 Hz"),
    ("smoothed", "metatarsal_5 at 4 Hz"),
    ("stretched", "up x1.15"),
    ("exchanged", "left_toe and left_metatarsal_5 0.3 s"),
    ("frames lost", "20 once"),
    ("frames doubled", "every other"),
}


@pytest.fixture(scope="module")
def cases():
    """Plant the sample in a walk with a drop foot."""
    good = Good("simulated", simulate_walk(RECIPES["simulated, drop foot"], seed=12).trial)
    planted = [fault for fault in wild_faults() if (fault.kind, fault.name) in PLANTED]
    assert len(planted) == len(PLANTED)
    return [case for case in run(good, planted) if case.measure in NAMES]


def test_no_headline_value_moves_unseen(cases):
    """By more than its error: it is labelled then, or there is none."""
    assert not [case for case in cases if case.outcome == "SILENT"]


def test_the_sample_moves_values(cases):
    """What is planted is not harmless: some values are labelled, some not trusted."""
    outcomes = {case.outcome for case in cases}
    assert {"not trusted", "told", "same"} <= outcomes

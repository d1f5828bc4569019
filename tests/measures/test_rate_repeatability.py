"""What the chosen way to take the rate does to whole walks."""

import numpy as np
import pytest

from gaittrack.read import read_trial
from tests.golden.rate_estimators import ESTIMATORS, peak_at
from tests.golden.rate_repeatability import (
    COLUMNS,
    JOINTS,
    RECORDED,
    REFERENCE,
    heel_contacts,
    made_up_rows,
    noisy,
    strides_of,
)

CHOSEN = "20 Hz, when 8 Hz is highest"
LOWER = "peak, 15 Hz"


@pytest.fixture(scope="module")
def made_up():
    """Give what both ways do to walks with 0.5 mm of noise, by foot and way."""
    rows = [dict(zip(COLUMNS, row, strict=True)) for row in made_up_rows((0.5,), (CHOSEN, LOWER))]
    return {(row["walks"].removeprefix("made up, "), row["estimator"]): row for row in rows}


@pytest.mark.parametrize("joint", JOINTS)
def test_a_recorded_stride_repeats_under_noise(joint):
    """0.5 mm of noise scatters one and the same stride by 15 deg/s at most, its mean by 6 %."""
    trial = read_trial(REFERENCE / RECORDED[0])
    cycles, rng = heel_contacts(trial), np.random.default_rng(6)
    clean = [stride.peak(joint, peak_at(25.0)) for stride in strides_of(trial, cycles)]
    runs = np.array(
        [
            [s.peak(joint, ESTIMATORS[CHOSEN]) for s in strides_of(noisy(trial, 0.5, rng), cycles)]
            for _ in range(6)
        ]
    )
    assert runs.std(axis=0, ddof=1).max() < 15
    assert runs.mean() == pytest.approx(np.mean(clean), rel=0.06)


@pytest.mark.parametrize("foot", ["slap", "braced"])
def test_scatter_of_a_made_up_walker_is_the_walker_s_own(made_up, foot):
    """The estimator adds no more than a tenth to what lies between strides and between walks."""
    told = made_up[foot, CHOSEN]
    assert float(told["sd_strides"]) <= 1.1 * float(told["own_sd_strides"])
    assert float(told["sd_walks"]) <= 1.1 * float(told["own_sd_walks"])


def test_chosen_way_shows_three_quarters_of_what_a_brace_does(made_up):
    """At 15 Hz less than a third is left of it, for a slap is cut and a slower fall is not."""
    for way, least, most in ((CHOSEN, 0.75, 1.0), (LOWER, 0.0, 0.33)):
        slap, braced = (made_up[foot, way] for foot in ("slap", "braced"))
        true = [float(each["reference_deg_s"]) for each in (slap, braced)]
        seen = [float(each["kept_percent"]) / 100 for each in (slap, braced)]
        share = (true[0] * seen[0] - true[1] * seen[1]) / (true[0] - true[1])
        assert least <= share <= most

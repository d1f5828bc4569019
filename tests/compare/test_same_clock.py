"""Walks of one condition that are those of the other, played faster."""

import pytest

from gaittrack.compare.walked.same_body import why_paces_contradict
from gaittrack.reasons import Reason
from tests.compare.made_up_walks import walks


@pytest.mark.parametrize(
    ("cadence", "step", "own_rate_hz", "is_told"),
    [
        *((1.49, 1.0, 100, False), (1.51, 1.0, 100, True), (1 / 1.51, 1.0, 100, True)),
        *((1.6, 1.11, 100, True), (1.6, 1.13, 100, False), (1.6, 1 / 1.13, 100, False)),
        *((1.14, 1.0, 114, False), (1.16, 1.0, 116, True)),  # as far apart as the frame rates
        *((1.2 * 1.07, 1.0, 120, True), (1.2 * 1.09, 1.0, 120, False)),
    ],
)
def test_steps_that_are_quicker_and_no_longer_contradict(cadence, step, own_rate_hz, is_told):
    """On either side of each limit; with both cadences."""
    before = {"cadence_steps_min": 100.0, "stride_length_m": 1.2}
    after = {"cadence_steps_min": 100.0 * cadence, "stride_length_m": 1.2 * step}
    reference = walks("shoe", before, scatter=0.0, rate_hz=100.0)
    own = walks("brace", after, scatter=0.0, rate_hz=float(own_rate_hz))
    told = Reason("paces_contradict", reference=100, own=round(100 * cadence))
    assert why_paces_contradict(own, reference) == (told if is_told else None)

"""The filter is scipy's to the last digit, by either way of running it."""

import numpy as np
import pytest
from scipy import signal

from gaittrack.kinematics import butterworth, smoothing

RATES_HZ = (50.0, 59.94, 70.0, 100.0, 149.95857497928748, 250.0, 1000.0)
CUTOFFS_HZ = (1.0, 6.0, 8.0, 12.0, 15.0, 20.0)
CASES = [
    (cutoff_hz, rate_hz)
    for cutoff_hz in CUTOFFS_HZ
    for rate_hz in RATES_HZ
    if smoothing.can_filter(cutoff_hz, rate_hz)
]


@pytest.mark.parametrize("run", [butterworth.run, butterworth._run_by_package])
def test_rows_are_filtered_as_scipy_filters_them(monkeypatch, run):
    """Every cut-off and rate, short and long rows, one and many: the same bits."""
    assert butterworth.run is not butterworth._run_by_package  # the kernel lies where it did
    monkeypatch.setattr(smoothing, "run", run)
    rng = np.random.default_rng(3)
    for cutoff_hz, rate_hz in CASES:
        design_hz = smoothing._design_hz(cutoff_hz, rate_hz)
        sections = signal.butter(2, design_hz, fs=rate_hz, output="sos")
        for n_rows, n_frames in ((1, 4), (3, 11), (7, 400)):
            rows = rng.normal(size=(n_rows, n_frames)).cumsum(axis=1)
            pad = min(n_frames - 1, round(2 * rate_hz / cutoff_hz))
            expected = signal.sosfiltfilt(sections, rows, axis=1, padlen=pad)
            found = smoothing.low_pass(rows.T, cutoff_hz=cutoff_hz, rate_hz=rate_hz).T
            assert np.array_equal(found, expected), (cutoff_hz, rate_hz, n_frames)


@pytest.mark.parametrize(
    "other",
    [lambda section, rows: None, lambda section, rows, state: None],
    ids=["takes other things", "does something else"],
)
def test_a_kernel_of_another_kind_is_not_taken(other, monkeypatch):
    """A scipy in which it takes or does something else is asked by its public function."""
    assert butterworth._filters(butterworth.run) and not butterworth._filters(other)
    monkeypatch.setattr(butterworth, "_filters", lambda kernel: False)
    assert butterworth._scipys_kernel() is butterworth._run_by_package

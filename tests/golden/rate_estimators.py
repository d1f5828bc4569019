"""What ways to take the first-rocker rate keep of it: ``python -m tests.golden.rate_estimators``.

Falls are made up: a raised cosine of the ankle angle, from heel and forefoot markers 180 mm apart
and shank markers 400 mm apart with noise, so that the true peak, pi/2 of angle over time, is known.
Kept is per cent of the true peak, cv the scatter between falls that are alike, from noise and
sampling alone.
"""

from __future__ import annotations

import csv
import itertools
import sys
from collections.abc import Callable

import numpy as np
from scipy import interpolate, optimize, signal

from gaittrack.kinematics.smoothing import can_filter, low_pass
from gaittrack.measures import peaks
from gaittrack.measures.recording import gradient
from gaittrack.trial import FloatArray

SEED, REPEATS = 20260301, 60
CONTACT_S, LENGTH_S = 0.5, 1.2
FALLS = ((3.0, 0.10), (6.0, 0.08), (12.0, 0.07), (15.0, 0.05))
RATES_HZ = (60.0, 100.0, 200.0)
NOISES_MM = (0.3, 0.5, 2.0)
COLUMNS = ("estimator", "fall_deg", "fall_ms", "rate_hz", "noise_mm", "kept_percent", "cv_percent")

Estimator = Callable[[FloatArray, float, float], float]


def angle_noise_deg(noise_mm: float) -> float:
    """Return the noise of the ankle angle: the foot's slope and the shank's lean, two ends each."""
    return float(np.degrees(np.hypot(np.sqrt(2) / 180, np.sqrt(2) / 400)) * noise_mm)


def fall(
    drop_deg: float, fall_s: float, rate_hz: float, noise_mm: float, rng: np.random.Generator
) -> FloatArray:
    """Return an ankle angle that is still, falls from contact on and rises slowly after it."""
    since = np.arange(0.0, LENGTH_S, 1 / rate_hz) - CONTACT_S + rng.uniform(-0.5, 0.5) / rate_hz
    share = np.clip(since / fall_s, 0.0, 1.0)
    angle = -drop_deg * (1 - np.cos(np.pi * share)) / 2
    angle += 30.0 * np.clip(since - fall_s, 0.0, None)
    return angle + angle_noise_deg(noise_mm) * rng.standard_normal(len(angle))


def _window(rate_hz: float, fall_s: float) -> slice:
    return slice(int(CONTACT_S * rate_hz), int((CONTACT_S + fall_s + 0.03) * rate_hz) + 2)


def _speed(angle: FloatArray, rate_hz: float, cutoff_hz: float) -> FloatArray:
    return -gradient(low_pass(angle, cutoff_hz=cutoff_hz, rate_hz=rate_hz)) * rate_hz


def between_samples_highest(values: FloatArray) -> float:
    """Return the highest of one row of samples."""
    return float(peaks.between_samples_highest(values[None], np.array([len(values)]))[0])


def at_highest_of(timing: FloatArray, values: FloatArray) -> float:
    """Return the value at the instant at which the other row is highest."""
    return float(peaks.at_highest_of(timing[None], values[None], np.array([len(values)]))[0])


def peak_at(cutoff_hz: float) -> Estimator:
    """Return the peak speed after a low-pass."""

    def estimate(angle: FloatArray, rate_hz: float, fall_s: float) -> float:
        if not can_filter(cutoff_hz, rate_hz):
            return float("nan")
        return between_samples_highest(_speed(angle, rate_hz, cutoff_hz)[_window(rate_hz, fall_s)])

    return estimate


def timed(timing_hz: float, cutoff_hz: float) -> Estimator:
    """Return the speed after a low-pass when that after a lower one is highest."""

    def estimate(angle: FloatArray, rate_hz: float, fall_s: float) -> float:
        window = _window(rate_hz, fall_s)
        timing, speed = (_speed(angle, rate_hz, each)[window] for each in (timing_hz, cutoff_hz))
        return at_highest_of(timing, speed)

    return estimate


def quantile_90(angle: FloatArray, rate_hz: float, fall_s: float) -> float:
    """Return the 90 % quantile of speed at 15 Hz."""
    return float(np.quantile(_speed(angle, rate_hz, 15.0)[_window(rate_hz, fall_s)], 0.9))


def central_part(angle: FloatArray, rate_hz: float, fall_s: float) -> float:
    """Return the mean speed from 25 to 75 % of the fall at 15 Hz."""
    window = low_pass(angle, cutoff_hz=15.0, rate_hz=rate_hz)[_window(rate_hz, fall_s)]
    lowest = int(np.argmin(window))
    down = -window[: lowest + 1]
    if lowest < 2:
        return float("nan")
    levels = down[0] + np.array([0.25, 0.75]) * (down[-1] - down[0])
    at = np.interp(levels, np.maximum.accumulate(down), np.arange(len(down)))
    return float((levels[1] - levels[0]) / max(at[1] - at[0], 0.1) * rate_hz)


def local_polynomial(angle: FloatArray, rate_hz: float, fall_s: float) -> float:
    """Return the peak of the slope of cubics over 90 ms."""
    n_frames = max(2 * round(0.045 * rate_hz) + 1, 5)
    slope = signal.savgol_filter(angle, n_frames, 3, deriv=1, delta=1 / rate_hz)
    return between_samples_highest(-slope[_window(rate_hz, fall_s)])


def spline(angle: FloatArray, rate_hz: float, fall_s: float) -> float:
    """Return the peak of the slope of a smoothing spline chosen by cross-validation."""
    times = np.arange(len(angle)) / rate_hz
    smooth = interpolate.make_smoothing_spline(times, angle)
    return between_samples_highest(-smooth.derivative()(times)[_window(rate_hz, fall_s)])


def raised_cosine(angle: FloatArray, rate_hz: float, fall_s: float) -> float:
    """Return the peak of a raised cosine fitted to the unfiltered angle."""
    around = slice(int((CONTACT_S - 0.1) * rate_hz), int((CONTACT_S + fall_s + 0.08) * rate_hz))
    times = np.arange(len(angle))[around] / rate_hz

    def misfit(found: FloatArray) -> FloatArray:
        level, drop, start, length, rise = found
        share = np.clip((times - start) / max(length, 0.01), 0, 1)
        after = rise * np.clip(times - start - length, 0, None)
        return level - drop * (1 - np.cos(np.pi * share)) / 2 + after - angle[around]

    guess = [0.0, max(np.ptp(angle[around]), 0.5), CONTACT_S, 0.08, 0.0]
    found = optimize.least_squares(misfit, guess, max_nfev=200).x
    return float(np.pi / 2 * found[1] / max(found[3], 0.01))


ESTIMATORS: dict[str, Estimator] = {
    **{f"peak, {cutoff:g} Hz": peak_at(cutoff) for cutoff in (6.0, 10.0, 12.0, 15.0, 18.0, 20.0)},
    **{f"20 Hz, when {timing:g} Hz is highest": timed(timing, 20.0) for timing in (6.0, 8.0, 10.0)},
    "90 % quantile, 15 Hz": quantile_90,
    "central part of the fall, 15 Hz": central_part,
    "local cubics, 90 ms": local_polynomial,
    "smoothing spline": spline,
    "raised cosine fitted": raised_cosine,
}


def row(name: str, at: tuple[float, float], rate_hz: float, noise_mm: float) -> tuple[str, ...]:
    """Return one row: mean of the true peak that is kept, and scatter about that mean."""
    drop_deg, fall_s = at
    slow = name in ("smoothing spline", "raised cosine fitted")
    rng = np.random.default_rng(SEED)
    runs = [fall(drop_deg, fall_s, rate_hz, noise_mm, rng) for _ in range(REPEATS)]
    runs = runs[: REPEATS // 5] if slow else runs
    found = np.array([ESTIMATORS[name](run, rate_hz, fall_s) for run in runs])
    kept = 100 * found.mean() / (np.pi / 2 * drop_deg / fall_s)
    scatter = 100 * found.std(ddof=1) / found.mean()
    given = (f"{drop_deg:g}", f"{1000 * fall_s:g}", f"{rate_hz:g}", f"{noise_mm:g}")
    return (name, *given, f"{kept:.0f}", f"{scatter:.0f}")


if __name__ == "__main__":
    writer = csv.writer(sys.stdout, lineterminator="\n")
    writer.writerow(COLUMNS)
    for each in itertools.product(ESTIMATORS, FALLS, RATES_HZ, NOISES_MM):
        writer.writerow(row(*each))

"""A second-order Butterworth low-pass: its section, the state it rests in, and what runs it.

In come a cut-off and a frame rate, out come the numbers that ``scipy.signal.butter`` and
``sosfilt_zi`` give, to the last digit. The recursion is scipy's compiled one. It is loaded without
the package around it, which loads half of scipy for a quarter of a second of every start; where it
does not lie where it did, or does not reckon what it did, the package is loaded.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final, cast

import numpy as np

from gaittrack.late import signal, without_package
from gaittrack.trial import FloatArray

_KERNEL: Final = "_sosfilt"
_POLES: Final = -np.exp(1j * np.pi * np.array([-1.0, 1.0]) / 4)
"""Of the analog filter with a cut-off of 1 rad/s."""
_TWICE_RATE: Final = 4.0
"""Of a filter designed at 2 samples per second."""

Run = Callable[[FloatArray, FloatArray, FloatArray], None]


def _scipys_kernel() -> Run:
    module = without_package("scipy.signal", _KERNEL)
    kernel = cast(Run, getattr(module, _KERNEL, _run_by_package))
    return kernel if _filters(kernel) else _run_by_package


def _filters(kernel: Run) -> bool:
    """Tell whether it answers a pulse as a filter known by heart does: it is no public function."""
    pulse = np.array([[1.0, 0.0, 0.0]])
    try:
        kernel(np.array([[0.5, 0.25, 0.0, 1.0, -0.5, 0.0]]), pulse, np.zeros((1, 1, 2)))
    except (TypeError, ValueError):
        return False
    return bool((pulse == [[0.5, 0.5, 0.25]]).all())


def _run_by_package(section: FloatArray, rows: FloatArray, state: FloatArray) -> None:
    rows[:], _ = signal.sosfilt(section, rows, axis=1, zi=state.swapaxes(0, 1))


run: Final = _scipys_kernel()
"""``run(section, rows, state)`` filters rows (n, n_frames) in place, from a state (n, 1, 2)."""


def low_pass_section(cutoff_hz: float, rate_hz: float) -> tuple[FloatArray, FloatArray]:
    """Return the filter of one pass, and the state it rests in at a steady value of 1.

    Returns
    -------
    section : ndarray, shape (1, 6)
    steady : ndarray, shape (1, 1, 2)
    """
    warped = _TWICE_RATE * np.tan(np.pi * (cutoff_hz / (rate_hz / 2)) / 2)
    poles = warped * _POLES
    gain = warped**2 * np.real(1.0 / np.prod(_TWICE_RATE - poles))
    pole = ((_TWICE_RATE + poles) / (_TWICE_RATE - poles))[1]
    a_1, a_2 = -(pole.real + pole.real), pole.real * pole.real + pole.imag * pole.imag
    section = np.array([[gain, 2.0 * gain, gain, 1.0, a_1, a_2]])
    b = section[0, :3]
    steady = np.linalg.solve(
        np.array([[1.0 + a_1, -1.0], [a_2, 1.0]]), b[1:] - section[0, 4:] * b[0]
    )
    return section, steady.reshape(1, 1, 2)

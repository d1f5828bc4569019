from collections.abc import Callable
from typing import NamedTuple

import numpy as np
import pytest

from gaittrack.cycles import Cycle
from gaittrack.kinematics.motion import Motion
from gaittrack.measures import MEASURES
from gaittrack.measures.cycles_view import CyclesView
from gaittrack.measures.measure import compute_values
from gaittrack.measures.recording import PreparedMotion
from gaittrack.reasons import Reason


class Found(NamedTuple):
    """What a measure finds in one cycle."""

    value: float
    reason: Reason | None
    labels: tuple[Reason, ...]

    @property
    def is_defined(self) -> bool:
        """Whether there is a number."""
        return self.reason is None


Measured = Callable[[str, Motion, Cycle], Found]


@pytest.fixture
def measured() -> Measured:
    """Return a function: the value of a measure, by name, for one cycle of a motion."""
    by_name = {measure.name: measure for measure in MEASURES}

    def value(name: str, motion: Motion, cycle: Cycle) -> Found:
        view = CyclesView(PreparedMotion(motion), [cycle])
        view.start_reading()
        with np.errstate(all="ignore"):
            values, labels = compute_values(by_name[name], view)
        return Found(float(values[0]), view.reasons()[0], labels[0])

    return value

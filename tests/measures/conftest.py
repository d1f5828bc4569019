from collections.abc import Callable

import pytest

from gaittrack.cycles import Cycle
from gaittrack.kinematics.motion import Motion
from gaittrack.measures import MEASURES
from gaittrack.measures.cycle_view import CycleView
from gaittrack.measures.measure import Value, compute_value
from gaittrack.measures.recording import PreparedMotion

Measured = Callable[[str, Motion, Cycle], Value]


@pytest.fixture
def measured() -> Measured:
    """Return a function: the value of a measure, by name, for one cycle of a motion."""
    by_name = {measure.name: measure for measure in MEASURES}

    def value(name: str, motion: Motion, cycle: Cycle) -> Value:
        return compute_value(by_name[name], CycleView(PreparedMotion(motion), cycle))

    return value

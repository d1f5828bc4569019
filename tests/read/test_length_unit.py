"""The unit of coordinates that do not say it: by body size, or a refusal that says why."""

import numpy as np
import pytest

from gaittrack.errors import DataError
from gaittrack.read.tables.length_unit import find_length_unit


def markers(scale, seen=1.0):
    """Return a body of 1.7 m in some unit, of which a share of the markers is seen."""
    heights = np.linspace(0.0, 1.7, 20)
    xyz = np.zeros((20, 50, 3))
    xyz[:, :, 2] = heights[:, None] * scale
    xyz[round(20 * seen) :] = np.nan
    return {f"m{number}": each for number, each in enumerate(xyz)}


@pytest.mark.parametrize(("scale", "unit"), [(1.0, "m"), (100.0, "cm"), (1000.0, "mm")])
def test_a_silent_header_is_answered_by_the_size_of_a_body(scale, unit):
    """Told as a problem, so that somebody looks."""
    found = find_length_unit(markers(scale), said="", told=None, where="file")
    assert found.unit == unit
    assert len(found.problems) == 1


def test_no_size_is_told_where_too_few_markers_are_seen():
    """The refusal says so in words; never by a size that is no number."""
    with pytest.raises(DataError, match="half of the markers") as refused:
        find_length_unit(markers(1000.0, seen=0.3), said="", told=None, where="file")
    assert "nan" not in str(refused.value)
    told = find_length_unit(markers(1000.0, seen=0.3), said="mm", told=None, where="file")
    assert told.unit == "mm"

"""The unit of coordinates that do not say it: by body size, or a refusal that says why."""

import numpy as np
import pytest

from gaittrack.errors import DataError
from gaittrack.read.c3d_files.c3d_units import metres_per_unit
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


@pytest.mark.parametrize(("word", "per_m"), [("in", 39.3701), ("ft", 3.28084), ("dm", 10.0)])
def test_units_that_only_a_header_tells_are_believed_where_they_make_a_body(word, per_m):
    """Taken for centimetres, a body of inches has 0.4 of its size, in tables as in C3D."""
    found = find_length_unit(markers(per_m), said=word, told=None, where="file")
    assert (found.unit, found.problems) == (word, ())
    stack = np.stack(list(markers(per_m).values()), axis=1)
    factor, _, problems = metres_per_unit(stack, word, "file")
    assert (factor, problems) == (pytest.approx(1 / per_m, rel=1e-4), ())
    assert find_length_unit(markers(1000.0), said=word, told=None, where="file").unit == "mm"


def test_no_size_is_told_where_too_few_markers_are_seen():
    """The refusal says so in words; never by a size that is no number."""
    with pytest.raises(DataError, match="half of the markers") as refused:
        find_length_unit(markers(1000.0, seen=0.3), said="", told=None, where="file")
    assert "nan" not in str(refused.value)
    told = find_length_unit(markers(1000.0, seen=0.3), said="mm", told=None, where="file")
    assert told.unit == "mm"

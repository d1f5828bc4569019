"""The step table says everything that stands beside its numbers."""

from dataclasses import replace
from pathlib import Path

import numpy as np

from gaittrack.commands.walk_text import number, walk_text
from gaittrack.measured_walk import MeasuredWalk
from gaittrack.measures import measure_cycles
from gaittrack.trial import AngleCurve
from tests.motions import Walk


def measured(cycles=None, **changes):
    """Return a closed-form walk as measured from a file."""
    walk = Walk()
    motion = walk.motion()
    trial = replace(motion.trial, **changes)
    motion = replace(motion, trial=trial)
    cycles = tuple(walk.cycles() if cycles is None else cycles)
    rows = tuple(measure_cycles(motion, cycles))
    return MeasuredWalk(Path("visit") / "walk.c3d", trial, motion, None, cycles, rows, ())


def line_of(text, start):
    """Return the one line that starts so, split at blanks."""
    (line,) = [line for line in text.splitlines() if line.startswith(start)]
    return line.split()


def test_a_step_has_its_headline_values_in_the_order_of_the_list():
    """Swing dorsiflexion, clearance and hip flexion as constructed: 4 deg, 20 mm, 34 and 25 deg."""
    cells = line_of(walk_text(measured()), "left-01")
    assert cells[1:4] == ["1.00", "heel", "1.20"]
    assert cells[5:] == ["4.0", "20.0", "34.0", "25.0"]


def test_a_value_that_is_not_defined_is_no_number_and_has_its_reason():
    """A forefoot contact shows a dash, is left out of the mean, and is counted out."""
    first, *others = Walk().cycles()
    text = walk_text(measured([replace(first, contact="forefoot"), *others]))
    assert line_of(text, "left-01")[4] == "-"
    assert line_of(text, "left, n defined")[3] == "2/3"
    assert "plantarflexion rate, left-01: not defined: forefoot contact" in text


def test_walk_value_of_clearance_is_a_median():
    """The note says which walk values are medians."""
    assert "median for Minimum toe clearance" in walk_text(measured())


def test_rejected_and_doubtful_cycles_are_named_with_reasons():
    """A rejected cycle has no line of values, but its reason; a doubtful one has both."""
    first, second, *others = Walk().cycles()
    first = replace(first, reject_reasons=("left heel lost",))
    second = replace(second, review_reasons=("sources 63 ms apart",))
    text = walk_text(measured([first, second, *others]))
    assert "5 of 6 cycles kept" in text
    assert "rejected: left-01 (1.00 to 2.00 s): left heel lost" in text
    assert not any(line.startswith("left-01") for line in text.splitlines())
    assert "to review: left-02 (2.00 to 3.00 s): sources 63 ms apart" in text


def test_walk_without_cycles_has_no_table():
    """Nothing measured: heading only, no empty columns."""
    assert walk_text(measured([])).endswith("0 of 0 cycles kept")


def test_conditions_in_one_sheet_are_never_averaged_together():
    """A sheet with two conditions gets no walk value, and says so."""
    curves = tuple(
        AngleCurve("left", "ankle", name, np.zeros(101), condition=name)
        for name in ("without", "with")
    )
    text = walk_text(measured(curves=curves))
    assert "walk value " not in text.split("no walk values")[0]
    assert "several conditions (without, with)" in text


def test_number_never_shows_minus_zero():
    """A value that rounds to zero has no sign; NaN is a dash."""
    assert [number(-0.04, 1), number(0.0, 0), number(float("nan"), 1)] == ["0.0", "0", "-"]

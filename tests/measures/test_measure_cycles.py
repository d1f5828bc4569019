"""Rows of a walk and their summary."""

import math
from dataclasses import replace

import numpy as np
import pytest

from gaittrack import measures
from gaittrack.measures import MEASURES, Row, measure_cycles, walk_values
from gaittrack.measures.measure import Value
from gaittrack.measures.toe_clearance import NO_MINIMUM
from gaittrack.reasons import Reason
from tests.motions import Walk, one_cycle

GAP = Reason("gap", of="toe_point")
ZERO_A, ZERO_B = Reason("zero_before_swing"), Reason("zero_after_swing")


def row(value, reason=None, *, measure="minimum_toe_clearance_mm", labels=()):
    return Row(measure, "right", "right-01", value, "mm", reason, labels)


def test_every_kept_cycle_gives_one_row_per_measure():
    """Rejected cycles give none."""
    walk = Walk()
    cycles = [one_cycle(walk), one_cycle(walk, id="right-02", reject_reasons=(Reason("starting"),))]
    rows = measure_cycles(walk.motion(), cycles)
    assert [r.measure for r in rows] == [m.name for m in MEASURES]
    assert {r.cycle for r in rows} == {"right-01"}


SHARES = {
    *("heel_contact_share_percent", "mid_swing_minimum_share_percent"),
    *("step_time_asymmetry_percent", "step_length_asymmetry_percent"),
}
"""Counted, or bounded by what they are made of."""


@pytest.mark.parametrize("measure", MEASURES, ids=lambda measure: measure.name)
def test_a_value_that_no_person_has_is_no_number(measure):
    """Past either end of what is possible: not trusted, with the range; the ends stay."""
    low, high = measure.possible
    assert math.isfinite(low) == math.isfinite(high) == (measure.name not in SHARES)
    walk = Walk()
    for value in {low, high, low - 1, high + 1} if math.isfinite(low) else ():
        given = replace(measure, compute=lambda _, value=value: Value(np.array([value])))
        (found,) = measure_cycles(walk.motion(), [one_cycle(walk)], measures=[given])
        if low <= value <= high:
            assert (found.value, found.reason) == (value, None)
        else:
            assert math.isnan(found.value) and found.reason.code == "not_trusted"
            assert f"{low:g} to {high:g}" in str(found.reason)


def test_headline_measures_come_first():
    """In the order that outputs print them, under their agreed names."""
    assert [m.name for m in MEASURES if m.group == "headline"] == [m.name for m in MEASURES][:5]
    assert [m.name for m in MEASURES][:5] == [
        "loading_response_plantarflexion_rate_deg_s",
        "peak_swing_dorsiflexion_deg",
        "minimum_toe_clearance_mm",
        "peak_hip_flexion_pelvis_thigh_deg",
        "peak_hip_flexion_thigh_vertical_deg",
    ]


def test_every_function_computes_one_defined_measure():
    """None stands twice in the modules, and none is left without words."""
    modules = [each for each in vars(measures).values() if hasattr(each, "FUNCTIONS")]
    names = [name for module in modules for name in module.FUNCTIONS]
    assert sorted(names) == sorted(measure.name for measure in MEASURES)


def test_clearance_of_a_walk_is_the_median_and_angles_are_the_mean():
    """Clearance is skewed: 10, 12 and 50 give 12; the same angles give 24."""
    angle = "peak_swing_dorsiflexion_deg"
    values = walk_values(
        [row(v) for v in (10.0, 50.0, 12.0)] + [row(v, measure=angle) for v in (10.0, 50.0, 12.0)]
    ).set_index("measure")["value"]
    assert values["minimum_toe_clearance_mm"] == 12.0
    assert values[angle] == 24.0


def test_undefined_strides_are_counted_by_reason():
    """They do not enter the value and are not forgotten."""
    rows = [
        row(10.0, labels=(ZERO_A,)),
        row(math.nan, Reason(NO_MINIMUM)),
        row(math.nan, Reason(NO_MINIMUM)),
        row(math.nan, GAP),
        row(14.0, labels=(ZERO_B, ZERO_A)),
    ]
    found = walk_values(rows).iloc[0]
    assert found["value"] == 12.0
    assert (found["n_defined"], found["n_not_defined"]) == (2, 3)
    assert found["reasons"] == {Reason(NO_MINIMUM): 2, GAP: 1}
    assert found["labels"] == (ZERO_A, ZERO_B)


def test_walk_without_a_defined_stride_has_no_value():
    """NaN, with its reasons."""
    found = walk_values([row(math.nan, Reason("no_toe_off"))]).iloc[0]
    assert np.isnan(found["value"])
    assert found["n_defined"] == 0


def test_no_rows_give_an_empty_table_with_all_columns():
    """A walk without cycles is not an error here."""
    table = walk_values([])
    assert len(table) == 0
    assert "reasons" in table.columns


def test_share_of_heel_contacts_is_the_mean_over_strides():
    """Two heel contacts and one flat: 66.7 %."""
    walk = Walk()
    cycles = [one_cycle(walk, id=str(i), contact=c) for i, c in enumerate(("heel", "heel", "flat"))]
    table = walk_values(measure_cycles(walk.motion(), cycles)).set_index("measure")
    share = table.loc["heel_contact_share_percent", "value"]
    assert share == pytest.approx(200 / 3)

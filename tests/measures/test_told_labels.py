"""What makes a number doubtful is told once, with the figure that is true of all its strides."""

import pytest

from gaittrack.measures.told_labels import DOUBTED, gathered
from gaittrack.reasons import Reason
from gaittrack.words import sentences

DOUBTING = (
    *("filled_before", "stretched", "distance_off", "distance_creeps", "marker_late"),
    *("stands_otherwise", "pelvis_tilt_changes", "pelvis_obliquity_changes"),
    "knee_flexes_otherwise",
)


def doubted(code, **figures):
    return Reason(DOUBTED, why=Reason(code, **figures))


def test_one_doubt_with_several_figures_is_told_once_with_the_largest():
    """Strides are counted together; other labels stay as they are, in their order."""
    other = Reason("low_passed", cutoff_hz=15.0)
    less, more = (doubted("distance_creeps", by=by) for by in (6, 11))
    assert gathered([less, other, more, less]) == {more: 3, other: 1}
    two = [Reason("low_passed", cutoff_hz=hz) for hz in (6.0, 15.0)]
    assert list(gathered([*two, less])) == [*two, less]


def test_a_time_holds_both_and_what_goes_the_other_way_stays_apart():
    """From the earlier to the later; lengthened and shortened are two doubts."""
    spans = [
        doubted("distance_off", by=by, from_s=a, to_s=b) for by, a, b in ((20, 1, 2), (9, 3, 4))
    ]
    assert list(gathered(spans)) == [doubted("distance_off", by=20, from_s=1, to_s=4)]
    shorter = [doubted("stretched", percent=percent) for percent in (-12, -15)]
    longer = doubted("stretched", percent=14)
    assert list(gathered([*shorter, longer])) == [shorter[1], longer]


@pytest.mark.parametrize("code", DOUBTING)
def test_what_is_said_of_a_doubt_holds_for_less_too(code):
    """So the largest figure is true of every stride."""
    said = sentences("en")[code]["what"]
    for whose in ("Between {from_s:.2f} and {to_s:.2f} s", "({names:term})", "{side:term}"):
        said = said.replace(whose, "")
    assert said.count("{") == said.count("up to {") == 1

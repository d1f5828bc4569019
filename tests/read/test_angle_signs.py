"""A sign that a check doubts is settled by a person, and the angles are looked at again."""

import numpy as np
import pytest

from gaittrack.corrected import ExcludeWalk, KeepAngle, TurnAngle
from gaittrack.pipeline import InputFile, Recording, measure_recording
from gaittrack.read.sheets.angle_signs import joint_in_doubt
from gaittrack.simulate.sheets import write_time_series
from gaittrack.simulate.walk import simulate_walk
from tests.made_up_files import RECIPE

ANKLE = ("left", "ankle")
MEASURE = "peak_swing_dorsiflexion_deg"


@pytest.fixture(scope="module")
def measured(tmp_path_factory):
    """Give a function that measures a sheet, as it is or with its ankles upside down."""
    folder = tmp_path_factory.mktemp("signs")
    right, wrong = folder / "right.csv", folder / "wrong.csv"
    write_time_series(right, simulate_walk(RECIPE, seed=1))
    wrong.write_text(upside_down(right.read_text()))

    def measure(*corrections, path=wrong):
        return measure_recording(Recording(InputFile(path), corrections=corrections))

    return measure, right


def upside_down(text):
    """Return a sheet whose ankles have the other sign."""
    head, *rows = [line.split(";") for line in text.splitlines()]
    ankles = [place for place, name in enumerate(head) if "ankle" in name]
    assert len(ankles) == 2
    for row in rows:
        for place in ankles:
            row[place] = row[place][1:] if row[place].startswith("-") else f"-{row[place]}"
    return "\n".join(map(";".join, [head, *rows])) + "\n"


def doubts(walk):
    return [each for each in map(joint_in_doubt, walk.problems) if each]


def test_an_angle_upside_down_waits_for_a_person_who_turns_it(measured):
    """Not trusted until then; turned it is the angle of the right sheet, and trusted as that is."""
    measure, right = measured
    before, after, true = measure(), measure(TurnAngle("ankle")), measure(path=right)
    assert doubts(before) == ["ankle"]
    codes = {row.reason.code for row in before.rows if row.measure == MEASURE}
    assert codes == {"not_trusted"}
    assert np.array_equal(after.motion.angles[ANKLE].values, true.motion.angles[ANKLE].values)
    assert after.problems == true.problems
    assert [row.value for row in after.rows] == pytest.approx(
        [row.value for row in true.rows], nan_ok=True
    )
    assert "turned by a person" in after.trial.provenance.steps[-1]
    assert doubts(measure(TurnAngle("ankle"), TurnAngle("ankle"))) == []


def test_an_angle_found_right_is_doubted_no_longer_and_stays(measured):
    """The question is answered; what else the checks see is still said."""
    measure, _ = measured
    before, after = measure(), measure(KeepAngle("ankle"))
    assert np.array_equal(after.motion.angles[ANKLE].values, before.motion.angles[ANKLE].values)
    assert doubts(after) == []
    assert {each.reason.code for each in after.problems} == {"angle_of_other_side"}


def test_a_walk_that_is_left_out_keeps_no_stride_and_says_why(measured):
    """Whatever else stands against a stride stays beside the reason of the person."""
    measure, right = measured
    walk = measure(ExcludeWalk("carried a bag"), path=right)
    assert len(walk.cycles) > 4 and not any(cycle.is_kept for cycle in walk.cycles)
    assert {cycle.reject_reasons[-1]["text"] for cycle in walk.cycles} == {"carried a bag"}

"""A comparison of what is stored says what a comparison of the files says."""

import numpy as np
import pytest

from gaittrack.answer import answers
from gaittrack.cohort.kept.person_stamps import person_stamps
from gaittrack.cohort.people.deidentify import deidentify
from gaittrack.cohort.people.from_study import cohort_source
from gaittrack.cohort.tables import changes
from gaittrack.compare.judged.watch import SIGN_MEASURES
from gaittrack.compare.walked.questions import QUESTION_MEASURES
from gaittrack.compare.walked.same_points import left_out
from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.compare_files import compare_files
from gaittrack.errors import StudyError
from gaittrack.kinematics.shared import Shared
from gaittrack.study.people.fact_changes import add_thing, recorded
from gaittrack.study.results import follow as following
from gaittrack.study.results.comparing import compare_stored, conditions_of, state_of
from gaittrack.study.results.measuring_again import MeasuresAgain

SWING = "peak_swing_dorsiflexion_deg"


def ids(study):
    """Return row numbers of P01's conditions by (visit, code)."""
    return {(each.visit, each.code): each.id for each in conditions_of(study, 1)}


def row_of(comparison, measure, side="left"):
    return next(r for r in comparison.rows if (r.measure, r.side) == (measure, side))


def test_a_stored_comparison_is_that_of_the_files(study, people):
    """The same values, intervals and verdicts, to the precision of the store (float32)."""
    rows = ids(study)
    wanted = [rows["visit-2", name] for name in ("without-brace", "with-brace")]
    stored = compare_stored(study, wanted, reference=wanted[0]).comparison
    folder = people / "P01" / "visit-2"
    files = {n: sorted((folder / n).glob("*.c3d")) for n in ("without-brace", "with-brace")}
    expected = compare_files(files, reference="without-brace", affected="left").comparison
    assert len(stored.rows) == len(expected.rows) > 40
    for own, other in zip(stored.rows, expected.rows, strict=True):
        for name in ("value", "reference_value", "difference", "low", "high", "measurement_error"):
            precise = pytest.approx(getattr(other, name), rel=1e-4, abs=1e-3, nan_ok=True)
            assert getattr(own, name) == precise, (own.measure, name)
        for name in ("measure", "side", "verdict", "n_walks", "n_strides", "n_not_defined"):
            assert getattr(own, name) == getattr(other, name), (own.measure, name)
    assert {item.sign: item.status for item in stored.watch} == {
        item.sign: item.status for item in expected.watch
    }
    assert len(stored.curves) == len(expected.curves)
    assert stored.settings["affected"] == "left"


def test_stored_walks_are_measured_again_from_their_originals(study):
    """On fewer landmarks, the same walks under the same names; what they are made of is kept."""
    rows = ids(study)
    wanted = [rows["visit-2", name] for name in ("without-brace", "with-brace")]
    found = compare_stored(study, wanted, reference=wanted[0])
    key = "minimum_toe_clearance_mm", "left"
    shared = Shared(frozenset.intersection(*(r.landmarks for r in found.records)) - {"left_toe"})
    again = MeasuresAgain(study, found.trial_ids)(found.records, shared)
    assert [walk.walk_id for walk in again] == [walk.walk_id for walk in found.records]
    for walk, was in zip(again, found.records, strict=True):
        assert (walk.condition, walk.session) == (was.condition, was.session)
        assert dict(was.origins[key])["left_toe_point"] == ("left_toe",)
        assert dict(walk.origins[key])["left_toe_point"] == ("left_metatarsal_5",)


def test_a_stored_walk_that_cannot_be_measured_again_says_why(study):
    """On a toe alone there is no stride: no number is left, and none lost without a word."""
    rows = ids(study)
    wanted = [rows["visit-2", name] for name in ("without-brace", "with-brace")]
    found = compare_stored(study, wanted, reference=wanted[0])
    again = MeasuresAgain(study, found.trial_ids)(found.records, Shared(frozenset({"left_toe"})))
    assert [walk.walk_id for walk in again] == [walk.walk_id for walk in found.records]
    key = "minimum_toe_clearance_mm", "left"
    for walk in again:
        (label,) = left_out([walk], key)
        assert f"{walk.file_name} ({walk.condition}): no stride is counted" in str(label)
        assert np.isnan(walk.tables[key].values).all()


def test_visits_are_compared_as_other_days(study):
    """Named by visit; who placed the markers is not known, so it may have been another."""
    rows = ids(study)
    wanted = [rows["visit-1", "with-brace"], rows["visit-2", "with-brace"]]
    found = compare_stored(study, wanted, reference=wanted[0], measures={SWING}, with_curves=False)
    assert list(found.names.values()) == ["visit-1", "visit-2"]
    assert found.comparison.settings["markers"] == {"visit-2": "other tester"}
    assert found.comparison.curves == ()
    asked = {SWING, *QUESTION_MEASURES, *SIGN_MEASURES}
    assert SWING in {row.measure for row in found.comparison.rows} <= asked < set(MEASURE_BY_NAME)
    assert found.comparison.settings["conditions"]["visit-2"]["orthosis"] == "ankle-foot orthosis"


def test_part_of_the_measures_is_judged_as_all_of_them(study):
    """What a row is called hangs on all rows outside the questions, asked for or not."""
    rows = ids(study)
    wanted = [rows["visit-1", "without-brace"], rows["visit-1", "with-brace"]]
    part, whole = (
        compare_stored(study, wanted, reference=wanted[0], measures=asked, with_curves=False)
        for asked in ({SWING}, None)
    )
    judged = {(row.measure, row.side): row for row in whole.comparison.rows}
    assert len(part.comparison.rows) < len(judged)
    for row in part.comparison.rows:
        same = judged[row.measure, row.side]
        assert row.verdict == same.verdict
        assert row.adjusted_p == pytest.approx(same.adjusted_p, nan_ok=True)


def test_conditions_of_several_visits_are_told_apart(study):
    """Code and visit, where neither alone says which is meant."""
    rows = ids(study)
    wanted = [rows["visit-1", "without-brace"], rows["visit-2", "with-brace"]]
    found = compare_stored(study, wanted, reference=wanted[1], measures={SWING})
    assert found.names == {
        wanted[0]: "without-brace, visit-1",
        wanted[1]: "with-brace, visit-2",
    }
    assert row_of(found.comparison, SWING).reference == "with-brace, visit-2"


def test_rows_that_are_not_there_are_refused(study):
    """A choice from before a deletion is refused in words, not answered with other rows."""
    first = next(iter(ids(study).values()))
    with pytest.raises(StudyError, match="no longer there"):
        compare_stored(study, [first, 9999], reference=first)


def test_the_conditions_to_choose_from_are_listed_in_time_order(study):
    """With the number of walks each has."""
    found = conditions_of(study, 1)
    assert [each.visit for each in found] == ["visit-1"] * 2 + ["visit-2"] * 2
    assert {each.n_walks for each in found} == {2}
    assert [each.worn.is_braced for each in found if each.code == "with-brace"] == [True, True]
    assert conditions_of(study, 9999) == []


def test_aims_of_the_person_come_first_wherever_walks_are_compared(study, monkeypatch):
    """They lead the answer, count in the export and over visits, and are in stamps."""
    rows = ids(study)
    wanted = [rows["visit-2", name] for name in ("without-brace", "with-brace")]
    plain = compare_stored(study, wanted, reference=wanted[0]).comparison
    with study.read() as connection:
        before = person_stamps(connection), state_of(study, wanted)
    aim = {"aim_question": "whether the knee holds"}
    add_thing(study, "aim", recorded(study, "person", 1), "A1", aim, who="tester")
    found = compare_stored(study, wanted, reference=wanted[0]).comparison
    assert plain.settings["aims"] == [] and found.settings["aims"] == ["whether_the_knee_holds"]
    (told,) = answers(found)
    assert told.findings[0].question == "whether_the_knee_holds" and told.findings[0].is_aim
    noted = []
    for where, name in ((changes, "compare_walks"), (following, "judge_rows")):
        plain_way = getattr(where, name)
        monkeypatch.setattr(
            where, name, lambda *a, w=plain_way, **k: noted.append(k["aims"]) or w(*a, **k)
        )
    changes.change_table(deidentify(cohort_source(study))[0])
    following.follow_person(study, "P01")
    assert noted and all(list(each) == ["whether_the_knee_holds"] for each in noted)
    with study.read() as connection:
        after = person_stamps(connection), state_of(study, wanted)
    assert all(one != other for one, other in zip(before, after, strict=True))

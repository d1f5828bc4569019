"""A laboratory's errors come from the first two visits of people in whom nothing changed."""

import pytest

from gaittrack.cohort.people import repeated_visits
from gaittrack.cohort.people.repeated_visits import errors_of_people, take_errors
from gaittrack.compare.measurement_error.repeat_visits import laboratory_errors
from gaittrack.errors import ComparisonError
from gaittrack.study.laboratory import laboratory_errors_of
from gaittrack.study.store import create_study
from tests.cohort.made_up_cohort import RATE, SPEED, SWING, cohort


@pytest.fixture
def source(monkeypatch):
    """Give 5 people of three visits in place of what a study would give."""
    found = cohort(5, n_visits=3)
    monkeypatch.setattr(repeated_visits, "cohort_source", lambda study, people: found)
    return found


def test_errors_are_those_of_the_condition_worn_at_both_visits(source, tmp_path):
    """The same numbers as from a table of the walks made here; taken, they are the laboratory's."""
    found = errors_of_people(None, ["all"], how="other day, same tester")
    by_measure = {each.measure: each for each in found.errors}
    assert set(by_measure) == {SWING, SPEED} and RATE not in by_measure
    rows = []
    for person in source.people["person"]:
        for number in (1, 2):
            own = [
                walk.record.tables[SWING, "left"].values.mean()
                for walk in source.walks
                if walk.place == (person, f"visit-{number}", "without")
            ]
            rows.append((person, number, SWING, sum(own) / len(own)))
    table = repeated_visits.pd.DataFrame(rows, columns=["person", "visit", "measure", "value"])
    (by_hand,) = laboratory_errors(table)
    assert by_measure[SWING].sem == pytest.approx(by_hand.sem)
    assert (by_measure[SWING].n_persons, by_measure[SWING].how) == (5, "other day, same tester")
    study = create_study(tmp_path / "study")
    take_errors(study, found.errors, who="A", why="spring")
    with study.read() as connection:
        own = laboratory_errors_of(connection)
    assert own[SWING, "other day, same tester"].smallest_change == by_measure[SWING].smallest_change
    study.close()


def test_two_people_are_too_few(monkeypatch):
    """The refusal says how many there are and what counts."""
    few = cohort(2, n_visits=2)
    monkeypatch.setattr(repeated_visits, "cohort_source", lambda study, people: few)
    with pytest.raises(ComparisonError, match="2 of these people .*need 3.*same name"):
        errors_of_people(None, [], how="untouched")

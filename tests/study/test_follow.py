"""Following a person shows the walks' values, and calls nothing a change that is none."""

import math
import shutil

import numpy as np
import pytest
from sqlalchemy import select

from gaittrack.compare.fair.condition import Condition
from gaittrack.compare.intervals.interval import mean_interval
from gaittrack.compare.measurement_error.marker_errors import MARKER_GROUPS, Handling, find_error
from gaittrack.compare.measurement_error.repeat_visits import RepeatError, write_errors
from gaittrack.errors import StudyError
from gaittrack.measures import MEASURES, walk_values
from gaittrack.pipeline import measure_file
from gaittrack.simulate.c3d_writer import write_c3d
from gaittrack.simulate.walk import simulate_walk
from gaittrack.study.laboratory import ERRORS, set_setting
from gaittrack.study.people.worn_changes import worn_changes
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import plan_folders
from gaittrack.study.results.follow import FIRST, HEADLINE, follow_person
from gaittrack.study.store import create_study
from gaittrack.study.tables import RESULT
from tests import correcting
from tests.made_up_files import RECIPE
from tests.study.planted_results import plant

SWING = "peak_swing_dorsiflexion_deg"
CLEARANCE = "minimum_toe_clearance_mm"


def rows_of(following, measure=SWING, side="left", condition="without-brace"):
    wanted = (measure, side, condition)
    return [row for row in following.rows if (row.measure, row.side, row.condition) == wanted]


def test_values_are_the_mean_of_the_walks(study, people):
    """As measured from the files one by one, to the precision of the store (float32)."""
    first, second = rows_of(follow_person(study, "P01"))
    folder = people / "P01" / "visit-2" / "without-brace"
    expected = [
        walk_values(measure_file(path).rows).set_index(["measure", "side"])["value"][SWING, "left"]
        for path in sorted(folder.glob("*.c3d"))
    ]
    assert second.value == pytest.approx(np.mean(expected), rel=1e-6)
    assert (first.visit, second.visit) == ("visit-1", "visit-2")
    assert (first.days_since_first_visit, second.days_since_first_visit) == (0, 42)
    assert (first.n_walks, second.n_walks) == (2, 2)


def test_each_visit_has_its_own_interval(study, people):
    """Of the walks of that visit alone."""
    second = rows_of(follow_person(study, "P01"))[1]
    folder = people / "P01" / "visit-2" / "without-brace"
    values = [
        walk_values(measure_file(path).rows).set_index(["measure", "side"])["value"][SWING, "left"]
        for path in sorted(folder.glob("*.c3d"))
    ]
    expected = mean_interval(values)
    assert second.value_low == pytest.approx(expected.low, rel=1e-4)
    assert second.value_high == pytest.approx(expected.high, rel=1e-4)


def test_visits_and_the_condition_without_brace_are_told(study):
    """For the time axis and the look of the lines."""
    found = follow_person(study, "P01")
    assert [(v.visit, v.number, v.days_since_first_visit) for v in found.visits] == [
        ("visit-1", 1, 0.0),
        ("visit-2", 2, 42.0),
    ]
    assert (found.reference, found.affected) == ("without-brace", "left")
    assert found.changes == () and found.stale == ()


def test_changes_of_brace_and_footwear_are_marks():
    """Told against the last visit at which they were recorded; days worn are no change."""
    worn = {
        ("v1", "brace"): Condition("brace", orthosis_class="leaf", footwear="boot", days_worn=3),
        ("v2", "brace"): Condition("brace", orthosis_class="leaf", days_worn=30),
        ("v3", "brace"): Condition("brace", orthosis_class="shell", footwear="shoe", order=2),
        ("v3", "bare"): Condition("bare", orthosis="none"),
    }
    found = [(c.visit, c.condition, c.kind, c.text) for c in worn_changes(["v1", "v2", "v3"], worn)]
    assert found == [
        ("v3", "brace", "brace", "type of the orthosis: leaf → shell"),
        ("v3", "brace", "footwear", "footwear: boot → shoe"),
        ("v3", "bare", "new condition", "walked for the first time"),
    ]


def test_changes_are_from_the_first_visit_with_the_error_between_days(study):
    """The first visit has no difference; the second has the error of another day."""
    following = follow_person(study, "P01")
    first, second = rows_of(following)
    assert first.verdict == FIRST and math.isnan(first.difference)
    assert second.difference == pytest.approx(second.value - first.value)
    handling = Handling("other tester", frozenset(MARKER_GROUPS))
    error = find_error(SWING, handling, (second.value, first.value))
    assert second.measurement_error == error.error
    assert second.measurement_error_source == error.source
    assert second.verdict not in ("", FIRST)
    assert any(note["reason"].code == "other_day" for note in following.notes)


def test_every_headline_measure_side_and_condition_is_there(study):
    """Also those that are not defined, with the reason."""
    following = follow_person(study, "P01")
    keys = {(row.measure, row.side, row.condition, row.visit) for row in following.rows}
    assert len(keys) == len(HEADLINE) * 2 * 2 * 2
    assert set(HEADLINE) <= {measure.name for measure in MEASURES}
    for row in following.rows:
        assert math.isfinite(row.value) or row.reason


def test_the_laboratorys_own_errors_count(study, tmp_path):
    """An error from own repeat visits replaces the published one."""
    own = RepeatError(SWING, "other tester", 1.0, 1.0, 2.77, 0.9, 3.0, 10, 2, laboratory="Made up")
    write_errors([own], tmp_path / "own.toml")
    set_setting(study, ERRORS, tmp_path / "own.toml", who="Ada", why="measured")
    second = rows_of(follow_person(study, "P01"))[1]
    assert second.measurement_error == own.own.placement.error
    assert second.measurement_error_source == own.own.source


def test_an_excluded_stride_is_not_followed(study, trial_at):
    """A correction reaches the progress at once."""
    before = rows_of(follow_person(study, "P01"))[0]
    place = "P01/visit-1/without-brace/walk-1"
    correcting.exclude_stride(study, trial_at(study, place), "left-02", who="Ada", why="stumbled")
    after = rows_of(follow_person(study, "P01"))[0]
    assert after.n_strides == before.n_strides - 1


def test_an_unknown_person_is_answered_with_the_known_ones(study):
    """The message lists them."""
    with pytest.raises(StudyError, match="no person 'P99'.*People in the study: P01"):
        follow_person(study, "P99")


def test_stale_results_are_named(study):
    """Which walks, and why: a number of another version is not today's."""
    with study.write() as connection:
        first = connection.execute(select(RESULT.c.trial_id)).scalars().first()
        plant(connection, first, software_version="0.0")
    found = follow_person(study, "P01")
    assert found.n_stale == 1
    assert found.stale[0].startswith("P01/visit-") and "measured by version 0.0" in found.stale[0]


def test_visits_are_followed_on_the_points_that_all_have(people, tmp_path):
    """At the second visit nobody put a marker on the toe: both are measured without."""
    given = shutil.copytree(people / "P01", tmp_path / "P01")
    for seed, path in enumerate(sorted((given / "visit-2").glob("*/walk-*.c3d"))):
        walk = simulate_walk(RECIPE, seed=9 + seed)
        markers = {k: v for k, v in walk.trial.markers.items() if not k.endswith(" toe")}
        write_c3d(path, rate_hz=walk.trial.rate_hz, markers=markers, unit="mm")
    study = create_study(tmp_path / "study")
    states = {r.state for r in import_files(study, plan_folders([given]), who="tester")}
    assert states == {"added"}
    rows = [r for r in follow_person(study, "P01").rows if r.measure == CLEARANCE]
    later = [row for row in rows if row.visit == "visit-2"]
    assert later and all(np.isfinite(row.difference) for row in later)
    assert "not_comparable" not in {row.verdict for row in later}
    study.close()

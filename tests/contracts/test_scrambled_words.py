"""No result hangs on a sentence: with every sentence another one, codes and numbers stay."""

import numpy as np
import pandas as pd
import pytest

from gaittrack import words
from gaittrack.cohort.inference.statistics import statistics_table
from gaittrack.cohort.inference.suppression import without_small_groups
from gaittrack.cohort.people.deidentify import closed
from gaittrack.cohort.release.allow_list import allowed
from gaittrack.cohort.tables.changes import change_table
from gaittrack.cohort.tables.table import long_table
from gaittrack.compare.comparison import compare_walks
from gaittrack.compare.fair.condition import Condition
from gaittrack.measures import measure_cycles
from gaittrack.measures.recording import LOWER_BOUND, OF_FILE
from gaittrack.pipeline import measure_file
from gaittrack.reasons import Reason
from gaittrack.report.language import language
from gaittrack.report.patient import person_page
from gaittrack.report.person_words import Called
from gaittrack.simulate.c3d_writer import write_c3d
from gaittrack.simulate.recipe import WalkRecipe
from gaittrack.simulate.walk import simulate_walk
from gaittrack.study.checksums import checksums
from gaittrack.study.results.packing import event_rows, result_row, stored_walks
from gaittrack.study.results.walk_means import mean_rows
from gaittrack.walk_records import walk_records
from tests.cohort.made_up_cohort import cohort
from tests.compare.made_up_walks import CLEARANCE, RATE, SWING, walks

WIDTH, KNEE = "step_width_mm", "loading_knee_flexion_peak_deg"
VALUES = {SWING: 0.0, RATE: 200.0, CLEARANCE: 12.0, WIDTH: 100.0, KNEE: 20.0}
NOT_DEFINED = {
    SWING: Reason("no_angle", angle="ankle"),
    RATE: Reason("no_first_rocker", contact="forefoot"),
}
CURVES = {("left", "ankle"): np.random.default_rng(0).normal(size=(4, 101))}


def unlike_walks():
    """Return walks of which every kind of verdict, sign and fairness note is said."""
    other = {"angle_origin": "file", "event_source": "file", "rate_hz": 60.0, "speed": 1.4}
    low = Reason(LOWER_BOUND, rate_hz=60.0)

    def every_third(stride):
        return Reason("no_minimum") if stride % 3 == 0 else None

    return [
        *walks("shoe", VALUES, curves=CURVES),
        *walks(
            "brace", {name: value + 9 for name, value in VALUES.items()}, **other, curves=CURVES
        ),
        *walks("soft", VALUES, labels={RATE: (low,), SWING: (OF_FILE,)}, contact="forefoot"),
        *walks("stiff", VALUES, reasons={CLEARANCE: every_third}, n=2, n_strides=4, curves=CURVES),
        *walks("none", VALUES, reasons=NOT_DEFINED, contact="forefoot", n=1),
    ]


def compared():
    """Return all that a comparison of them says, codes, parameters and numbers."""
    worn = {"brace": Condition("brace", orthosis="leaf", days_worn=3, markers_replaced=True)}
    found = compare_walks(unlike_walks(), reference="shoe", conditions=worn, affected="left")
    assert {row.verdict for row in found.rows} >= {"larger", "not_comparable", "not_defined"}
    assert {item.status for item in found.watch} == {"fires", "clear", "not_assessed"}
    located = [
        (name, where.is_comparable, where.finding, curves.bands[name].reason)
        for curves in found.curves
        for name, where in curves.locations.items()
    ]
    assert {comparable for _, comparable, *_ in located} == {True, False}
    return repr((found.rows, found.watch, found.fairness, located))


def exported():
    """Return the tables of a cohort as they are exported."""
    source = cohort(6, n_walks=3)
    clean = closed(source, {person: person for person in source.people["person"]})
    changes = change_table(clean)
    found = statistics_table(changes, n_people=6)
    tables = {"values_long": long_table(clean), "changes": changes}
    tables |= {"statistics": without_small_groups(found, least=7)}
    return {name: allowed(name, table) for name, table in tables.items()}


def stored(path, other):
    """Return what a comparison says of walks that were measured, stored and read again."""
    result = measure_file(path)
    row = result_row(result, "settings", condition="a")
    trial = {"code": "1", "sha256": "0" * 64, "file_name": path.name}
    row |= checksums(trial["sha256"], row, event_rows(result), mean_rows(result))
    kept = stored_walks(trial, row, condition="a", session="")
    fresh = walk_records(measure_file(other), "b")
    found = compare_walks([*kept, *fresh], reference="a")
    rows = measure_cycles(result.motion, result.cycles)
    return repr((rows, found.rows, found.watch, found.fairness))


def said_to_the_person(code):
    """Return the page for the person in one language."""
    pair = [walk for walk in unlike_walks() if walk.condition in ("shoe", "brace")]
    found = compare_walks(pair, reference="shoe")
    return person_page(found, pair, Called("brace", "A", "B"), language(code))


def test_comparisons_say_the_same_by_code(scramble):
    """Rows, signs and fairness: verdicts, reasons, labels and numbers."""
    before = compared()
    scramble()
    assert compared() == before


def test_tables_of_a_cohort_are_the_same(scramble):
    """Values, changes and statistics as they are exported."""
    before = exported()
    scramble()
    for name, table in exported().items():
        pd.testing.assert_frame_equal(table, before[name])


def test_what_was_stored_compares_as_what_was_measured(scramble, tmp_path):
    """Through files, measures and the study's own form."""
    paths = [tmp_path / "walk.c3d", tmp_path / "other.c3d"]
    for seed, path in enumerate(paths, start=3):
        made = simulate_walk(WalkRecipe(n_strides=5), seed=seed)
        write_c3d(path, rate_hz=made.trial.rate_hz, markers=made.trial.markers)
    before = stored(*paths)
    scramble()
    assert stored(*paths) == before


@pytest.mark.parametrize("code", words.languages())
def test_the_page_for_the_person_has_words_of_its_own_only(scramble, code):
    """So that a German page is German throughout: it says no reason in another language's words."""
    before = said_to_the_person(code)
    scramble()
    assert said_to_the_person(code) == before
    assert before.points and before.lists

"""The tables of a cohort say what the walks say."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from gaittrack.cohort.disclosure.counted_facts import counted_closed
from gaittrack.cohort.disclosure.protection import unprotected
from gaittrack.cohort.people.deidentify import deidentify
from gaittrack.cohort.release.allow_list import allowed
from gaittrack.cohort.release.dictionary import TABLES, definitions_table
from gaittrack.cohort.tables.changes import change_table
from gaittrack.cohort.tables.everyday import outcomes_table
from gaittrack.cohort.tables.reason_cells import unpacked
from gaittrack.cohort.tables.selection import EVERYBODY, kept_visits
from gaittrack.cohort.tables.table import (
    LONG_KEYS,
    conditions_table,
    curves_table,
    exclusions_table,
    long_table,
    people_table,
    visits_table,
    wide_table,
)
from gaittrack.compare.comparison import compare_walks
from gaittrack.measures import MEASURES
from tests.cohort.made_up_cohort import RATE, SWING, cohort


@pytest.fixture(scope="module")
def source():
    return cohort(3, n_visits=2)


@pytest.fixture(scope="module")
def clean_and_ids(source):
    return deidentify(source)


@pytest.fixture(scope="module")
def long(clean_and_ids):
    return long_table(clean_and_ids[0])


def row_of(long, person, measure=SWING, side="left", code="orthosis_shod", visit=1):
    values = (person, visit, code, side, measure)
    found = long
    for key, value in zip(LONG_KEYS, values, strict=True):
        found = found[found[key] == value]
    (row,) = found.to_dict("records")
    return row


def test_a_sound_cohort_has_no_flag_but_that_of_few_walks(long):
    """Three walks are enough; of two it is said, of none there is nothing to say it of."""
    assert set(long["qc_flag"]) == {""}
    assert (long["amount_flag"] == "").all()
    (few,) = {*long_table(deidentify(cohort(3, n_walks=2))[0])["amount_flag"]} - {""}
    assert few == "few_walks"


def test_columns_of_codes_say_where_their_codes_are_explained():
    """But for those with a list of their own, which says it all."""
    said = "codes, explained in the table reasons"
    for field in (field for fields in TABLES.values() for field in fields):
        assert (said in field.definition) == (field.is_reasons and not field.levels), field.name


def test_chosen_visits_keep_their_rejected_cycles_and_damaged_walks(source):
    """And lose those of the others; tables of people stay as they are, numbered anew."""
    damaged = {("MRN-001", f"visit-{n}", "with"): n for n in (1, 2)}
    source = replace(source, damaged=damaged)
    first = source.visits[source.visits["visit"] == "visit-1"]
    found = kept_visits(source, first)
    pd.testing.assert_frame_equal(found.people, source.people)
    (one,) = (
        kept_visits(source, first[first["person"] == "MRN-002"]).people.to_dict("index").items()
    )
    assert one == (0, source.people.to_dict("index")[2])
    assert list(found.exclusions) == list(source.exclusions)
    assert list(found.exclusions.index) == list(range(len(found.exclusions)))
    assert found.damaged == {("MRN-001", "visit-1", "with"): 1}
    kept = found.rejected
    assert kept == {key: each for key, each in source.rejected.items() if key[1] == "visit-1"}
    assert 0 < len(kept) < len(source.rejected)


def test_every_person_visit_condition_side_and_measure_has_a_row(long):
    """3 people, 2 visits, 2 conditions, 2 sides, each measure; none twice."""
    assert len(long) == 3 * 2 * 2 * 2 * len(MEASURES)
    assert not long.duplicated(LONG_KEYS).any()


def test_values_are_those_of_the_strides(source, clean_and_ids, long):
    """Mean of walk means; sd, median, least and largest of all strides, by numpy."""
    person = "MRN-001"
    walks = [
        w.record.tables[SWING, "left"].values
        for w in source.walks
        if w.place == (person, "visit-1", "with")
    ]
    row = row_of(long, clean_and_ids[1][person])
    strides = np.concatenate(walks)
    assert row["mean"] == pytest.approx(np.mean([walk.mean() for walk in walks]))
    assert row["sd"] == pytest.approx(strides.std(ddof=1))
    assert (row["min"], row["max"]) == (strides.min(), strides.max())
    assert row["median"] == pytest.approx(np.median(strides))
    assert row["sd_between_walks"] == pytest.approx(np.std([w.mean() for w in walks], ddof=1))
    assert (row["n_trials"], row["n_cycles_used"]) == (3, 15)


def test_what_is_missing_says_why(clean_and_ids, long):
    """Not defined, and a side that was not seen, are rows with a reason and without a number."""
    person = next(iter(clean_and_ids[1].values()))
    rate = row_of(long, person, RATE)
    assert np.isnan(rate["mean"])
    assert rate["missing_reason"] == "no_first_rocker"
    assert rate["n_cycles_not_defined"] == 15
    right = row_of(long, person, side="right")
    assert (right["missing_reason"], right["side_role"]) == ("no_kept_cycle_of_side", "other")
    has_reason = long["missing_reason"] != ""
    assert (has_reason == long["mean"].isna()).all()


def test_rejected_cycles_are_counted_with_their_reasons(clean_and_ids, long):
    """One rejected left cycle per condition."""
    person = next(iter(clean_and_ids[1].values()))
    row = row_of(long, person)
    assert (row["n_cycles_rejected"], row["reject_reasons"]) == (1, "no_toe_off_inside (1)")
    assert row_of(long, person, side="right")["n_cycles_rejected"] == 0


def test_the_wide_table_holds_the_same_means(long):
    """Each mean stands in the column of its measure."""
    wide = wide_table(long)
    assert len(wide) == 3 * 2 * 2 * 2
    stacked = wide.set_index(LONG_KEYS[:-1])[SWING]
    own = long[long["measure_id"] == SWING].set_index(LONG_KEYS[:-1])["mean"]
    assert stacked.sort_index().equals(own.sort_index().rename(SWING))


def test_changes_are_those_of_a_comparison_of_the_same_walks(source, clean_and_ids):
    """The same walks compared by themselves give the same difference, interval and verdict."""
    clean, ids = clean_and_ids
    table = change_table(clean)
    person = "MRN-002"
    records = [w.record for w in source.walks if w.place[:2] == (person, "visit-2")]
    conditions = {k[2]: v for k, v in source.conditions.items() if k[:2] == (person, "visit-2")}
    (expected,) = [
        row
        for row in compare_walks(records, reference="without", conditions=conditions).rows
        if row.measure == SWING
    ]
    is_own = (table["export_id"] == ids[person]) & (table["visit_no"] == 2)
    (found,) = table[is_own & (table["measure_id"] == SWING)].to_dict("records")
    for name in ("difference", "low", "high", "measurement_error", "verdict", "direction"):
        assert found[name] == getattr(expected, name)
    assert unpacked(found["measurement_error_source"]) == (expected.measurement_error_source,)
    assert unpacked(found["labels"])[:2] == expected.labels[:2]
    assert (found["condition_code"], found["reference_code"]) == (
        "orthosis_shod",
        "no-orthosis_shod",
    )
    assert (found["n_strides"], found["side_role"]) == (15, "affected")


def test_curves_are_means_of_walk_means(source, clean_and_ids):
    """101 points per curve; the mean by numpy."""
    clean, ids = clean_and_ids
    table = curves_table(clean)
    own = [w for w in source.walks if w.place == ("MRN-000", "visit-1", "without")]
    expected = np.mean([w.record.curves["left", "ankle"].mean(axis=0) for w in own], axis=0)
    rows = table[
        (table["export_id"] == ids["MRN-000"])
        & (table["visit_no"] == 1)
        & (table["condition_code"] == "no-orthosis_shod")
    ]
    assert list(rows["percent"]) == list(range(101))
    np.testing.assert_allclose(rows["mean_deg"], expected)
    assert set(rows["n_cycles"]) == {15}


def test_every_table_fits_its_dictionary(clean_and_ids, long):
    """Each column of the dictionary is made by its table, with the type it promises."""
    clean, _ = clean_and_ids
    made = {
        "people": people_table(clean),
        "visits": visits_table(clean),
        "conditions": conditions_table(clean),
        "values_long": long,
        "values_wide": wide_table(long),
        "changes": change_table(clean),
        "exclusions": exclusions_table(clean),
        "curves": curves_table(clean),
        "measures": definitions_table(),
    }
    plain = unprotected(counted_closed([clean]), least=1, selection=EVERYBODY)
    for name, table in made.items():
        told = allowed(name, plain.told(table))
        assert list(told.columns) == [field.name for field in TABLES[name]]


def test_columns_and_words_off_the_list_do_not_pass(clean_and_ids):
    """A further column is dropped; a word that is not of the closed list is an error."""
    people = people_table(clean_and_ids[0]).assign(name="Zachariah Quill")
    assert "name" not in allowed("people", people).columns
    with pytest.raises(ValueError, match="sex"):
        allowed("people", people.assign(sex="Zachariah Quill"))


@pytest.mark.parametrize(
    "cell",
    ["Quill", "quill", "no_toe_off (1961-03)", "of_condition(quill)", '["Quill"]', "no_toe_off."],
)
def test_no_text_passes_for_a_reason(long, cell):
    """Nothing but codes that have a sentence, with their numbers."""
    with pytest.raises(ValueError, match=r"."):
        allowed("values_long", long.assign(missing_reason=cell))
    fine = allowed("values_long", long.assign(reject_reasons="no_toe_off (3); gap (1)"))
    assert set(fine["reject_reasons"]) == {"no_toe_off (3); gap (1)"}


def test_units_of_conditions_are_those_of_their_names():
    """mm, degrees, grams and hours a day are not mixed up."""
    units = {field.name: field.unit for field in TABLES["conditions"]}
    assert units["orthosis_mass_g"] == "g"
    assert units["orthosis_stiffness_n_m_per_deg"] == "N.m/deg"
    assert units["heel_height_mm"] == "mm"
    assert units["walkway_length_m"] == "m"
    assert units["orthosis_wear_h_per_day"] == "h/d"
    assert units["shank_to_vertical_deg"] == "deg"


def test_a_child_is_held_against_childrens_ranges(monkeypatch):
    """Toward typical means another range for a child of eight than for an adult.

    A band that holds both, 15-19, is judged by what is typical of both.
    """
    used = []

    def noted(*arguments, **options):
        used.append(options["typical"])
        return compare_walks(*arguments, **options)

    monkeypatch.setattr("gaittrack.cohort.tables.changes.compare_walks", noted)
    plain = cohort(4)
    plain.visits["age_years"] = [8.0, 52.0, 16.0, 19.0]
    clean, ids = deidentify(plain)
    change_table(clean)
    held = {ids["MRN-001"]: "adult_18_59"}
    assert used == [held.get(each, "child") for each in sorted(ids.values())]


def test_everyday_outcomes_leave_with_their_verdicts_and_no_words(source):
    """One row per pair and outcome; answers are of a closed list, sources are codes."""
    tests = {"without": ("20; 21", "unable"), "with": ("10; 11", "150")}
    told = {
        key: worn.known_as(
            walking_aid="none",
            timed_up_and_go_s=tests[key[2]][0],
            walk_6min_m=tests[key[2]][1],
            notes="Zachariah Quill",
        )
        for key, worn in source.conditions.items()
    }
    clean, _ = deidentify(replace(source, conditions=told))
    table = allowed("outcomes", outcomes_table(clean))
    assert len(table) == 3 * 2 * 2
    first, second = table.head(2).to_dict("records")
    assert (first["condition_code"], first["reference_code"]) == (
        "orthosis_shod",
        "no-orthosis_shod",
    )
    assert (first["outcome_id"], first["reference_answer"]) == ("walk_6min_m", "unable")
    assert (first["verdict"], first["verdict_reason"]) == (
        "not_comparable",
        "in_condition(answered)",
    )
    assert second["difference"] == pytest.approx(-10)
    assert (second["verdict"], second["direction"]) == ("larger", "lower")
    assert second["measurement_error_source"] == "outcome_error"
    assert "Quill" not in table.to_csv()

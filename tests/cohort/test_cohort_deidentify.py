"""Who a person is does not come out; how few look alike does."""

import json

import pytest

from gaittrack.cohort.people.deidentify import (
    condition_codes,
    deidentify,
    numbered,
    whole_braces,
)
from gaittrack.cohort.people.leaving import age_band
from gaittrack.cohort.tables.reason_cells import (
    code_of,
    coded,
    explained,
    left_of,
    packed,
    unpacked,
)
from gaittrack.compare.fair.condition import Condition
from gaittrack.reasons import Reason
from gaittrack.record.braces import Brace
from tests.cohort.made_up_cohort import SWING, cohort


def test_ids_are_new_every_time_and_say_nothing():
    """Two exports share no id; the order of people is not that of the study."""
    source = cohort(30)
    first, ids = deidentify(source)
    _, again = deidentify(source)
    assert set(ids) == set(source.people["person"])
    assert not set(ids.values()) & set(again.values())
    assert list(first.people["person"]) == sorted(ids.values())
    assert list(ids.values()) != sorted(ids.values())


def test_dates_become_days_since_the_first_visit():
    """17 March to 17 April 2024 are 31 days, to 17 May 61."""
    clean, _ = deidentify(cohort(2, n_visits=3))
    for _, visits in clean.visits.groupby("person"):
        assert list(visits["days_since_first_visit"]) == [0, 31, 61]
        assert list(visits["visit"]) == ["1", "2", "3"]
    assert clean.visits["date"].isna().all()


@pytest.mark.parametrize(
    ("age", "band"),
    [(0, "0-4"), (9.9, "5-9"), (19, "15-19"), (20, "20-29"), (89.99, "80-89"), (90, "90+")],
)
def test_ages_become_bands(age, band):
    """Ages above 89 are one band (Safe Harbor, 45 CFR 164.514(b)(2)(i)(C))."""
    assert age_band(age) == band


def test_a_recorded_band_counts_only_if_it_is_one_of_the_list():
    """A band of one year, or words in its place, do not pass."""
    assert age_band(None, "60-69") == "60-69"
    assert age_band(None, "61-61") == "not recorded"
    assert age_band(float("nan"), "born 1961") == "not recorded"


def test_of_a_reason_only_codes_leave():
    """Whatever its parameters hold; those of the reasons within it too."""
    text = Reason("excluded_because", text="Quill stumbled on 3/4/2024")
    within = Reason("of_condition", condition="Quill", label=Reason("lower_bound", rate_hz=60.0))
    pair = Reason("two_kinds_of_rate", own=(Reason("full_rate"),), reference=(text, within))
    assert code_of(text) == "excluded_because"
    assert code_of(within) == "of_condition(lower_bound)"
    codes = "two_kinds_of_rate(full_rate, excluded_because, of_condition(lower_bound))"
    assert left_of(packed(pair, text, text)) == f"{codes}; excluded_because"
    assert left_of(coded([text, within])) == "excluded_because; of_condition(lower_bound)"


def test_inside_of_the_laboratory_reasons_stay_whole():
    """With what a screen needs to say them."""
    reason = Reason("of_condition", condition="a", label=Reason("lower_bound", rate_hz=60.0))
    assert unpacked(packed(reason, None)) == (reason,)
    assert (packed(None), unpacked("")) == ("", ())


def test_codes_are_explained_with_their_gaps_named():
    """Formats of numbers are no part of an explanation."""
    table = explained(["few_walks", "lower_bound", "gap"])
    assert table["code"].tolist() == ["few_walks", "gap", "lower_bound"]
    assert table["meaning"].tolist() == [
        "{condition} has {n} walks; {least} are the least for a fair comparison.",
        "gap in the {of}",
        "{rate_hz} Hz: too low where the foot falls fast",
    ]


def worn(name, aid):
    return Condition(name, orthosis="ankle-foot orthosis", footwear="shoe", walking_aid=aid)


def test_condition_codes_say_what_was_worn():
    """Two braces of one person get two codes; the same brace keeps its code over visits."""
    conditions = {
        ("P", "1", "Quill"): Condition("Quill", orthosis="none", footwear="barefoot"),
        ("P", "1", "a"): Condition(
            "a", orthosis="ankle-foot orthosis", footwear="shoe", walking_aid="cane"
        ),
        ("P", "1", "b"): Condition(
            "b", orthosis="ankle-foot orthosis", footwear="shoe", walking_aid="stick"
        ),
        ("P", "2", "b"): Condition(
            "b", orthosis="ankle-foot orthosis", footwear="shoe", walking_aid="stick"
        ),
        ("P", "2", "c"): Condition("c"),
        ("P", "2", "d"): worn("d", "cane, no crutch"),
    }
    assert list(condition_codes(conditions).values()) == [
        "no-orthosis_barefoot",
        "orthosis_shod_aid",
        "orthosis_shod_aid_2",
        "orthosis_shod_aid_2",
        "orthosis-not-recorded_footwear-not-recorded",
        "orthosis_shod_aid-not-told",
    ]


def test_walks_lose_what_names_their_file():
    """File name, hash and the study's names are gone from every walk; values are not."""
    source = cohort(2)
    clean, _ = deidentify(source)
    assert {walk.record.file_name for walk in clean.walks} == {""}
    old = {walk.record.sha256 for walk in source.walks}
    assert not old & {walk.record.sha256 for walk in clean.walks}
    values = [walk.record.tables[SWING, "left"].values.tolist() for walk in source.walks]
    kept = [walk.record.tables[SWING, "left"].values.tolist() for walk in clean.walks]
    assert sorted(values) == sorted(kept)
    assert "MRN" not in json.dumps([walk.record.walk_id for walk in clean.walks])


def test_codes_of_braces_leave_as_numbers_of_their_person():
    """Braces in the order of their codes, settings within their brace; none is no number."""
    conditions = {
        ("Ann", "v1", "bare"): Condition("bare", orthosis="none"),
        ("Ann", "v1", "one"): Condition("one", brace="the old one", setting="loose"),
        ("Ann", "v2", "one"): Condition("one", brace="the old one", setting="firm"),
        ("Ann", "v2", "two"): Condition("two", brace="a light one", setting="firm"),
        ("Bob", "v1", "one"): Condition("one", brace="the old one"),
    }
    braces = whole_braces(conditions, {"Bob": {"a spare": Brace({}, {"a": {}})}})
    found = [(one.brace, one.setting) for one in numbered(conditions, braces).values()]
    assert found == [(None, None), ("2", "2"), ("2", "1"), ("1", "1"), ("2", "1")]

"""What is recorded leaves the laboratory in bands and words of closed lists only."""

import numpy as np
import pytest

from gaittrack.cohort.people.leaving import age_band, columns_of, leaving
from gaittrack.record.registry import band_words, fact_of, ladder_of


def left(name, value):
    """Return what leaves of a value of a visit, of a leg or of a person, by its plain name."""
    for part in ("person", "condition"):
        try:
            return leaving(fact_of(part, name), value)
        except KeyError:
            continue
    return leaving(fact_of("visit", name), value)


@pytest.mark.parametrize(
    ("name", "value", "said"),
    [
        ("height_cm", 169.9, "160-169"),
        ("height_cm", 170, "170-179"),
        ("height_cm", 203, "190+"),
        ("height_cm", np.nan, "not recorded"),
        ("mass_kg", 20, "20-39"),
        ("months_since_onset", 2.9, "0-2"),
        ("months_since_onset", 300, "120+"),
        ("quadriceps_strength", "4", "4"),
        ("quadriceps_strength", "4+, says Quill", "other"),
        ("dorsiflexor_strength", "not tested", "not tested"),
        ("dorsiflexor_strength", None, "not recorded"),
        ("tone", "1+", "1+"),
        ("tone", "", "not recorded"),
        ("passive_dorsiflexion_knee_bent_deg", 7.6, 10.0),
        ("passive_dorsiflexion_knee_straight_deg", -7.6, -10.0),
        ("passive_dorsiflexion_knee_straight_deg", "not tested", None),
        ("correctable_to_neutral", True, True),
        ("correctable_to_neutral", None, None),
        ("mediolateral_stability", "tilts into valgus", "tilts into valgus"),
        ("mediolateral_stability", "valgus, says Quill", "other"),
        ("mediolateral_stability", np.nan, "not recorded"),
    ],
)
def test_facts_become_bands_and_words(name, value, said):
    """Whatever was measured comes out coarse; what is in no list comes out as other."""
    assert left(name, value) == said


@pytest.mark.parametrize(
    ("stored", "mean", "n", "answer"),
    [
        ("9.8; 10.2", 10.0, 2, "done"),
        ("unable", None, None, "unable"),
        (None, None, None, "not recorded"),
    ],
)
def test_repeats_of_a_test_leave_as_their_mean_and_unable_as_an_answer(stored, mean, n, answer):
    """Unable is data: neither 0 nor missing."""
    fact = fact_of("condition", "walk_10m_comfortable_s")
    found = columns_of(fact, leaving(fact, stored))
    assert list(found.values()) == [mean, n, answer]


MEANS_SOMETHING_ELSE = [
    ("tone", "not raised"),
    ("tone", "0 to 1"),
    ("tone", "normal"),
    ("tone", "erhöht"),
    ("cause", "no stroke"),
    ("cause", "not stroke; multiple sclerosis"),
    ("cause", "L5 nerve root, not peripheral nerve palsy"),
    ("cause", "stroke?"),
    ("cause", "strokes"),
    ("cause", "Schlaganfall"),
    ("cause", "lumbar"),
    ("sex", "not female"),
    ("sex", "weiblich"),
    ("clonus", "not sustained"),
    ("clonus", "none on the left"),
    ("clonus", "keiner"),
    ("orthosis", "ankle-foot orthosis, no hinge"),
    ("orthosis", "no ankle-foot orthosis"),
    ("orthosis", "nonetheless worn"),
    ("orthosis_class", "not solid"),
    ("orthosis_class", "solid, jointed"),
    ("orthosis_make", "not custom"),
    ("orthosis_material", "carbon"),
    ("orthosis_material", "no carbon fibre"),
    ("footwear", "not barefoot"),
    ("footwear", "shoehorn"),
    ("footwear", "barfuß"),
    ("walking_aid", "cane, no crutch"),
    ("walking_aid", "none, cane outdoors"),
    ("walking_aid", "Stock"),
    ("hand_support", "no rail"),
    ("speed_instruction", "as fast as comfortable"),
    ("surface", "level floor, then treadmill"),
    ("kind", "first follow-up"),
    ("kind", "no follow-up"),
    ("kind", "control"),
    ("orthosis_change_reason", "no wear"),
    ("orthosis_change_reason", "fitting"),
    ("orthosis_change_reason", "Passform"),
]


@pytest.mark.parametrize(("name", "typed"), MEANS_SOMETHING_ELSE)
def test_no_word_lands_in_a_category_it_does_not_mean(name, typed):
    """Negations, near words, two at once, other languages: other, until somebody has said more."""
    assert left(name, typed) == "other"


@pytest.mark.parametrize(
    ("name", "typed", "word"),
    [
        ("cause", " Stroke ", "stroke"),
        ("cause", "peripheral  nerve palsy", "peripheral nerve palsy"),
        ("walking_aid", "Stick", "cane"),
        ("quadriceps_strength", "4 of 5", "4"),
        ("clonus", "absent", "none"),
    ],
)
def test_a_word_of_a_list_is_that_word(name, typed, word):
    """Case and spaces aside; also those that earlier forms offered."""
    assert left(name, typed) == word


def test_bands_are_joined_two_by_two_down_to_two():
    """Each coarser band is made of whole finer ones; below zero there is a word of its own."""
    starts = fact_of("condition", "heel_sole_differential_mm").bands
    assert [band_words(each) for each in ladder_of(starts)] == [
        ("below 0", "0-4", "5-9", "10-14", "15-19", "20-29", "30+"),
        ("below 5", "5-14", "15-29", "30+"),
        ("below 15", "15+"),
    ]
    angles = fact_of("setting", "orthosis_plantar_stop_deg").bands
    assert band_words(angles)[:3] == ("below -10", "-10 to below -5", "-5 to below 0")
    for each in ladder_of(fact_of("setting", "orthosis_stiffness_n_m_per_deg").bands):
        assert all("to below" in word for word in band_words(each)[:-1])


@pytest.mark.parametrize("name", ["height_cm", "mass_kg", "months_since_onset"])
def test_every_number_has_one_band(name):
    """Bands follow one another without a gap."""
    found = [left(name, value) for value in np.arange(0, 250, 0.5)]
    assert list(dict.fromkeys(found)) == list(band_words(fact_of("visit", name).bands))


def test_every_age_has_one_band():
    """Those of the list, in its order."""
    found = [age_band(age) for age in np.arange(0, 110, 0.5)]
    assert list(dict.fromkeys(found)) == list(fact_of("visit", "age_band").words)

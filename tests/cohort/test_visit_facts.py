"""Size and examination leave the laboratory in bands and closed words only."""

import numpy as np
import pytest

from gaittrack.cohort.visit_facts import STORED, bands_of, visit_facts

NOTHING = dict.fromkeys(STORED)


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
        ("quadriceps_strength", "4+, says Quill", "4"),
        ("dorsiflexor_strength", "Quill", "not recorded"),
        ("tone", "raised, Quill", "raised"),
        ("tone", "Quill", "other"),
        ("clonus", "none", "absent"),
        ("passive_dorsiflexion_knee_bent_deg", 7.6, 10.0),
        ("passive_dorsiflexion_knee_straight_deg", -7.6, -10.0),
        ("correctable_to_neutral", True, True),
        ("correctable_to_neutral", None, None),
        ("mediolateral_stability", "tilts into valgus", "tilts into valgus"),
        ("mediolateral_stability", "valgus, says Quill", "not recorded"),
        ("mediolateral_stability", np.nan, "not recorded"),
    ],
)
def test_facts_become_bands_and_words(name, value, said):
    """Whatever was typed or measured, it comes out coarse."""
    assert visit_facts(NOTHING | {name: value})[name] == said


@pytest.mark.parametrize("name", ["height_cm", "mass_kg", "months_since_onset"])
def test_every_number_has_one_band(name):
    """Bands follow one another without a gap."""
    found = [visit_facts(NOTHING | {name: value})[name] for value in np.arange(0, 250, 0.5)]
    assert list(dict.fromkeys(found)) == list(bands_of(name))

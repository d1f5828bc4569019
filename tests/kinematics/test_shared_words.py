"""Words that all labels of a file share say nothing, as long as nothing is lost with them."""

import pytest

from gaittrack.kinematics.landmarks import read_labels

LEG = ("ASI", "KNE", "ANK", "HEE", "TOE")
BOTH = [side + name for side in "LR" for name in LEG]


def placed(labels):
    """Return label → side and landmark."""
    return {label: (each.side, each.landmark) for label, each in read_labels(labels).items()}


PLAIN = placed(BOTH)


@pytest.mark.parametrize("form", ["S01_{}", "Marker.{}", "{}_gait", "walk-3:{} raw", "a_b_{}_T"])
def test_words_around_all_labels_are_of_none(form):
    """Each label spells what it spells alone; one that has no such word is read too."""
    labels = [form.format(label) for label in BOTH]
    assert placed([*labels, "sacrum"]) == {"sacrum": (None, "sacrum")} | {
        form.format(label): told for label, told in PLAIN.items()
    }


@pytest.mark.parametrize(
    ("labels", "told"),
    [
        ([f"L_{name}" for name in LEG], {"left"}),
        ([f"S01_L_{name}" for name in LEG], {"left"}),
        ([f"{side}{name}_med" for side in "LR" for name in ("KNE", "ANK", "HEE")],
         {"left", "right"}),
    ],
)  # fmt: skip
def test_a_word_that_says_a_side_or_a_place_stays(labels, told):
    """Left away it would leave another side, or the outer knee in place of the inner."""
    found = placed(labels)
    assert {side for side, _ in found.values()} == told
    assert set(found) == {label for label in labels if "HEE_med" not in label}
    assert all("medial" in landmark for label, (_, landmark) in found.items() if "med" in label)


def test_codes_of_two_people_are_no_shared_word():
    """Whose marker is meant is not guessed: nothing is read."""
    assert placed([f"{code}_{label}" for code in ("S01", "S02") for label in BOTH]) == {}

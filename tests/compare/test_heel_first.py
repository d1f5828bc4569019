"""Promises of the counts of heel-first steps."""

import pytest

from gaittrack.compare.comparison import compare_walks, comparison_dict
from tests.compare.made_up_walks import SWING, walks


def _counted(n, contacts, other="heel"):
    given = [
        *walks("shoe", {SWING: 0}, n=n, contact=contacts),
        *walks("brace", {SWING: 0}, n=n, contact=other),
    ]
    (found,) = compare_walks(given, reference="shoe").heel_first
    return found


@pytest.mark.parametrize(
    ("n", "contacts", "finding"),
    [
        (4, "forefoot", "counts_changed"),
        (3, "forefoot", "counts_cannot_tell"),
        (4, "heel", "counts_not_shown"),
        (1, "forefoot", "counts_cannot_tell"),
    ],
)
def test_counts_tell_only_where_the_walks_could(n, contacts, finding):
    """4 + 4 walks may, 3 + 3 never; the counts are told all the same."""
    found = _counted(n, contacts)
    assert found.finding == finding
    n_before = 0 if contacts == "forefoot" else 6 * n
    assert found.say().startswith(
        f"heel first in {n_before} of {6 * n} steps in the reference, in {6 * n} of {6 * n} here"
    )


def test_steps_whose_contact_is_not_known_are_not_counted():
    """Half of them here; uncertain ones count as seen."""
    found = _counted(4, ["heel", "unknown"], other=["heel", "uncertain"])
    assert (found.counts.reference.n_kind, found.counts.reference.n_steps) == (12, 12)
    assert (found.counts.own.n_kind, found.counts.own.n_steps) == (12, 24)


def test_counts_stand_in_json_with_their_words():
    """Beside the rows; none where no contact is known."""
    given = [*walks("shoe", {SWING: 0}, contact="forefoot"), *walks("brace", {SWING: 0})]
    (found,) = comparison_dict(compare_walks(given, reference="shoe"))["heel_first"]
    assert found["counts"]["own"]["n_kind"] == 24 and "rare by chance" in found["words"]
    unknown = [*walks("shoe", {SWING: 0}, contact="unknown"), *walks("brace", {SWING: 0})]
    assert compare_walks(unknown, reference="shoe").heel_first == ()

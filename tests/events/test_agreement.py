"""The ladder of trust and what is told of disagreement."""

from itertools import combinations

import pytest

from gaittrack.events.agreement import OTHER_FOOT_S, REVIEW_S, SAME_EVENT_S, by_trust, other_foot
from gaittrack.trial import Event


def contact(time_s, source, side="left", kind="initial_contact"):
    return Event(time_s, side, kind, source)


ORDER = ("corrected", "force", "file", "markers")


@pytest.mark.parametrize(("better", "worse"), list(combinations(ORDER, 2)))
def test_more_trusted_source_wins(better, worse):
    """Corrected by a person, plates, marks in the file, markers: in this order."""
    pair = {worse: (contact(1.02, worse),), better: (contact(1.0, better),)}
    events, disagreements = by_trust(pair)
    assert [(e.time_s, e.source) for e in events] == [(1.0, better)]
    (told,) = disagreements
    assert told.difference_s == pytest.approx(0.02) and not told.needs_review
    assert (told.source, told.other_source) == (better, worse)


def test_events_that_only_one_source_saw_are_all_kept_in_time_order():
    """A plate sees one step, markers see the rest."""
    events, told = by_trust(
        {
            "force": (contact(1.0, "force"),),
            "markers": (contact(0.0, "markers"), contact(1.01, "markers"), contact(2.1, "markers")),
        }
    )
    assert [(e.time_s, e.source) for e in events] == [
        (0.0, "markers"),
        (1.0, "force"),
        (2.1, "markers"),
    ]
    assert len(told) == 1


def test_an_event_is_the_nearest_of_those_it_may_be():
    """Of two on plates, early by much and late by little, it disagrees with the late one."""
    early, late = 1.0 - 0.9 * SAME_EVENT_S, 1.0 + 0.1 * SAME_EVENT_S
    forced = (contact(early, "force"), contact(late, "force"))
    events, (told,) = by_trust({"force": forced, "markers": (contact(1.0, "markers"),)})
    assert events == forced
    assert told.time_s == late and told.difference_s == pytest.approx(1.0 - late)


@pytest.mark.parametrize(("difference_s", "review"), [(REVIEW_S - 0.001, False), (-0.051, True)])
def test_disagreement_over_50_ms_needs_review(difference_s, review):
    """Early or late alike."""
    events, (told,) = by_trust(
        {"file": (contact(1.0, "file"),), "markers": (contact(1.0 + difference_s, "markers"),)}
    )
    assert told.needs_review is review and len(events) == 1


@pytest.mark.parametrize(
    "other",
    [
        contact(1.0 + OTHER_FOOT_S, "markers", side="right"),
        contact(1.0, "markers", kind="toe_off"),
        contact(1.0 + SAME_EVENT_S, "markers"),
    ],
)
def test_other_foot_other_kind_or_another_step_is_another_event(other):
    """Nothing is merged with them."""
    events, told = by_trust({"force": (contact(1.0, "force"),), "markers": (other,)})
    assert len(events) == 2 and told == ()


def test_same_event_of_the_other_foot_is_one_source_with_the_wrong_side():
    """Both feet never land at once in walking: the more trusted side counts, the other is told."""
    by_source = {
        "file": (contact(1.0, "file", side="right"),),
        "markers": (contact(1.01, "markers"),),
    }
    events, told = by_trust(by_source)
    assert [event.side for event in events] == ["right"] and told == ()
    assert other_foot(by_source) == by_source["markers"]

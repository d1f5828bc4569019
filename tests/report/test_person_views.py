"""Which pairs the page for the person offers, and what it calls them."""

from gaittrack.compare.fair.condition import Condition
from gaittrack.record.visit_facts import VisitFacts
from gaittrack.report.language import language
from gaittrack.report.person_views import audiences_of, views_of
from gaittrack.study.results.comparing import StoredCondition

BARE = {"orthosis": "none", "footwear": "shoe"}
BRACE = {"orthosis": "ankle-foot orthosis", "footwear": "shoe"}


def walked(number, visit, code, worn, n_walks=3):
    return StoredCondition(
        number, visit, 1, f"visit-{visit}", code, Condition(code, **worn), n_walks
    )


STUDY = [
    walked(1, 1, "bare", BARE),
    walked(2, 1, "brace", BRACE),
    walked(3, 2, "barefoot", {"orthosis": "none", "footwear": "barefoot"}),
    walked(4, 2, "bare", BARE),
    walked(5, 2, "brace", BRACE),
    walked(6, 2, "lost", BRACE, n_walks=0),
]


def keys(views):
    return [(view.kind, view.key) for view in views]


def test_the_last_visit_in_the_same_shoe_comes_first():
    """Then each condition against its first visit, the braced one before the others."""
    assert keys(views_of(STUDY)) == [("brace", "4-5"), ("visits", "2-5"), ("visits", "1-4")]


def test_the_visit_looked_at_is_used():
    """At the first visit there is nothing earlier; a visit that is not there gives the last."""
    assert keys(views_of(STUDY, 1)) == [("brace", "1-2")]
    assert keys(views_of(STUDY, 99)) == keys(views_of(STUDY, 2))


def test_conditions_of_which_no_more_is_known_go_by_their_names():
    """Nobody is told of a brace that nobody recorded."""
    views = views_of([walked(1, 1, "A", {}), walked(2, 1, "B", {})])
    assert keys(views) == [("named", "1-2")]
    called = views[0].called(language("en"), "P01")
    assert (called.before, called.here) == ("in “A”", "in “B”")


def test_two_visits_are_called_by_time_and_say_what_was_worn():
    """Before and now; the sheet is headed by the visit that is told of."""
    called = views_of(STUDY)[1].called(language("en"), "P01")
    assert (called.before, called.here) == ("before", "now")
    assert called.worn == "Both times with the brace."
    assert called.where == "P01 · visit-2"


def test_a_child_is_spoken_of_to_a_parent_first():
    """By age in years or by its band; without an age somebody is an adult."""

    def first(**facts):
        return audiences_of(VisitFacts(1, "visit-1", facts))[0]

    assert first(age_band="5-9") == first(age_years=14.9) == "parent"
    assert first(age_band="15-19") == first(age_years=15.0) == first() == "person"
    assert audiences_of(None) == ("person", "relatives")


def test_one_condition_at_one_visit_gives_nothing():
    """And no walks at all give nothing."""
    assert views_of(STUDY[:1]) == [] and views_of([]) == []
    assert views_of([STUDY[-1]]) == []

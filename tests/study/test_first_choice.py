"""Without a choice the last visit's fair pair is compared."""

from gaittrack.compare.fair.condition import Condition
from gaittrack.study.results.comparing import StoredCondition, conditions_of
from gaittrack.study.results.first_choice import ComparisonChoice, first_choice


def _one(number, visit, code, *, footwear="shoe", orthosis="none", n_walks=3):
    worn = Condition(code, orthosis=orthosis, footwear=footwear)
    return StoredCondition(number, visit, 1, f"visit-{visit}", code, worn, n_walks)


BRACE = "ankle-foot orthosis"


def test_the_last_visits_fair_pair_is_chosen(study):
    """Of a real study: without the brace is the reference."""
    conditions = conditions_of(study, 1)
    chosen = first_choice(conditions)
    names = {each.id: (each.visit, each.code) for each in conditions}
    assert names[chosen.reference] == ("visit-2", "without-brace")
    assert [names[each] for each in chosen.conditions] == [
        ("visit-2", "with-brace"),
        ("visit-2", "without-brace"),
    ]


def test_barefoot_is_left_out_where_there_is_a_fair_pair():
    """And compared where there is nothing else."""
    bare = _one(1, 1, "bare", footwear="barefoot")
    shoe, brace = _one(2, 1, "shoe"), _one(3, 1, "brace", orthosis=BRACE)
    assert first_choice([bare, shoe, brace]) == ComparisonChoice((2, 3), 2)
    assert first_choice([bare, brace]) == ComparisonChoice((1, 3), 1)


def test_visits_with_one_condition_each_are_compared_with_the_first():
    """The same condition over time."""
    rows = [_one(1, 1, "brace", orthosis=BRACE), _one(2, 2, "brace", orthosis=BRACE)]
    assert first_choice(rows) == ComparisonChoice((1, 2), 1)


def test_conditions_without_walks_are_not_chosen():
    """Nothing to compare is told as such."""
    rows = [_one(1, 1, "shoe"), _one(2, 1, "brace", orthosis=BRACE, n_walks=0)]
    assert first_choice(rows) is None
    assert first_choice([]) is None
    assert first_choice([_one(1, 1, "shoe")], visits={1}) is None

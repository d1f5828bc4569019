"""Panels over visits: places in time, scales that hold every value, what the changes come to."""

from types import SimpleNamespace

import pytest

from gaittrack.compare.intervals.verdict import LARGER, NO_CHANGE, NOT_COMPARABLE
from gaittrack.figures.visit_panels import _said, round_ticks, visit_places


def told(*days):
    """Return visits on these days."""
    visits = [SimpleNamespace(facts={"days_since_first_visit": day}) for day in days]
    return [SimpleNamespace(visit=visit) for visit in visits]


def row(difference, verdict):
    return SimpleNamespace(difference=difference, verdict=verdict)


def test_visits_stand_at_their_days():
    """Distances are in proportion to days; the margins are alike."""
    first, second, third = visit_places(told(0, 40, 120), nearest=10)
    assert first == pytest.approx(100 - third)
    assert (second - first) / (third - first) == pytest.approx(40 / 120)


@pytest.mark.parametrize("days", [(0, None, 120), (0, 1, 120), (0, 0, 0)])
def test_visits_stand_evenly_where_days_cannot_be_drawn(days):
    """A day that nobody recorded, two too near for their words, all on one day."""
    first, second, third = visit_places(told(*days), nearest=10)
    assert second - first == pytest.approx(third - second)


@pytest.mark.parametrize("values", [(-19.6, -3.2), (0.46, 0.5), (107.0,), (0.0, 18.1), (5.0, 5.0)])
def test_the_scale_holds_every_value_in_round_steps(values):
    """First and last mark lie outside of the values, three to eight marks stand between."""
    marks = round_ticks(list(values))
    assert marks[0] <= min(values) and marks[-1] >= max(values)
    assert 2 <= len(marks) <= 8
    steps = {round(b - a, 9) for a, b in zip(marks, marks[1:], strict=False)}
    assert len(steps) == 1


def test_what_is_said_counts_visits_and_names_the_way():
    """Larger at how many visits, and higher or lower; none; not the same way."""
    up, down, flat = row(5.0, LARGER), row(-5.0, LARGER), row(1.0, NO_CHANGE)
    assert str(_said([up, up, flat])) == "higher, larger than error, at 2 of 3 visits"
    assert str(_said([down])) == "lower, larger than error, at one visit"
    assert str(_said([flat, flat])) == "larger than error at none of 2 visits"
    untold = row(float("nan"), NOT_COMPARABLE)
    assert str(_said([untold, untold])) == "cannot be compared at any of 2 visits"
    assert str(_said([untold, flat])) == "larger than error at none of 2 visits"
    assert "not the same way" in str(_said([up, down]))

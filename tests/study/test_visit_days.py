"""Visits of which only dates are known stand on the same axis as those with days."""

from gaittrack.study.people.visit_days import with_days


def visit(code, days=None, date=None, number=None):
    return {"code": code, "days_since_first_visit": days, "date": date, "number": number}


def days_of(*visits):
    return {row["code"]: row["days_since_first_visit"] for row in with_days(visits)}


def test_days_come_from_dates_where_nobody_wrote_them_down():
    """Leap day and turn of the year counted; order is that of time."""
    found = days_of(visit("b", date="2024-03-01"), visit("a", date="2023-12-31"))
    assert found == {"a": 0.0, "b": 61.0}
    assert list(found) == ["a", "b"]


def test_recorded_days_stay_and_anchor_the_dates():
    """A visit with days and date tells where the first day lies."""
    first = visit("a", days=30.0, date="2026-02-01")
    assert days_of(first, visit("b", date="2026-02-11")) == {"a": 30.0, "b": 40.0}


def test_nothing_is_made_up_where_dates_cannot_be_placed():
    """Days at one visit, a date at another, and nothing that links them."""
    assert days_of(visit("a", days=0.0), visit("b", date="2026-02-11")) == {"a": 0.0, "b": None}
    assert days_of(visit("a"), visit("b", number=2)) == {"a": None, "b": None}

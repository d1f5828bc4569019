"""What a made-up patient does in everyday tests, from how fast the walk of that day is.

In come a walking speed and what is worn, out come the facts of a condition: two repeats of each
test, in closed form. The relations are made up, of the size of published tables for adults.
"""

from __future__ import annotations

from typing import Final

from gaittrack.simulate.scenario import Fields, Patient, Wear

_FAST: Final = 1.3
"""Fast against comfortable speed."""
_REPEATS: Final = (1.02, 0.98)
"""The first try is a little slower."""
_SIX_MINUTES_S: Final = 360
_TIRED: Final = 0.92
"""Speed over six minutes against the first ten metres."""


def everyday_tests(patient: Patient, visit: int, wear: Wear) -> Fields:
    """Return the tests of one condition of a visit."""
    speed = patient.recipe(visit, wear).speed_m_s
    found: dict[str, str | int | float | bool] = {
        "walk_10m_comfortable_s": _repeats(10 / speed),
        "walk_10m_fast_s": _repeats(10 / speed / _FAST),
        "walk_10m_start": "flying",
        "walk_6min_m": f"{_SIX_MINUTES_S * speed * _TIRED:.0f}",
        "timed_up_and_go_s": _repeats(6 / speed + 5),
        "pain_walking": 1 if wear == "with-brace" else 2,
    }
    if wear == "with-brace":
        worn = {"comfort_worn": 7 + visit % 2, "satisfaction": 7 + visit // 2}
        found |= worn | {"orthosis_wear_h_per_day": 8 + visit}
    return found


def everyday_counts(visit: int) -> Fields:
    """Return what was asked of the four weeks before a visit."""
    return {"falls_4_weeks": max(0, 1 - visit), "trips_4_weeks": 3 - visit, "near_trips_4_weeks": 4}


def _repeats(seconds: float) -> str:
    return "; ".join(f"{seconds * each:.1f}" for each in _REPEATS)

"""Promises of the fairness check: every unfair point is named, a fair pair has none."""

import pytest

from gaittrack.compare.fair.condition import Condition
from gaittrack.compare.fair.fairness import Group, check_fairness, marker_handling, speeds_differ
from gaittrack.compare.measurement_error.marker_errors import MARKER_GROUPS
from gaittrack.reasons import Reason
from tests.compare.made_up_walks import SWING, walks

FACTS = {
    "footwear": "walking shoe",
    "heel_height_mm": 20.0,
    "walking_aid": "none",
    "hand_support": "none",
    "speed_instruction": "comfortable",
    "surface": "floor",
    "marker_surface": "skin",
    "markers_replaced": False,
}
PLAIN = Condition("shoe", orthosis="none", **FACTS)
BRACE = Condition("brace", orthosis="ankle-foot orthosis", days_worn=30, **FACTS)


def _notes(own_worn=BRACE, reference_worn=PLAIN, own=None, reference=None):
    own = {"n": 4} | (own or {})
    reference = {"n": 4} | (reference or {})
    return check_fairness(
        Group("brace", tuple(walks("brace", {SWING: 5}, **own)), own_worn),
        Group("shoe", tuple(walks("shoe", {SWING: 0}, **reference)), reference_worn),
    )


def test_fair_pair_has_no_note():
    """Same shoe, aid, speed, events; markers untouched; worn for a month."""
    assert _notes() == []


@pytest.mark.parametrize(
    ("changes", "kind"),
    [
        ({"own": {"speed": 1.2}}, "speed_differs"),
        ({"own": {"event_source": "markers"}}, "event_source_differs"),
        ({"own": {"smoothing": "8 Hz"}}, "filter_differs"),
        ({"own": {"rate_hz": 100.0}}, "frame_rate_differs"),
        ({"own": {"neutral_source": "foot-flat"}}, "neutral_differs"),
        ({"own": {"angle_origin": "file"}}, "angle_origin_differs"),
        ({"own": {"is_treadmill": True}}, "treadmill_against_floor"),
        ({"own": {"n": 2}}, "few_walks"),
        ({"own": {"n": 3, "n_strides": 3}}, "few_strides"),
        (
            {"own": {"session": "day 2"}, "reference": {"session": "day 1"}},
            "other_day",
        ),
        ({"own_worn": BRACE.known_as(walking_aid="one stick")}, "walking_aid_differs"),
        ({"own_worn": BRACE.known_as(speed_instruction="fast")}, "speed_instruction_differs"),
        (
            {"own_worn": BRACE.known_as(heel_height_mm=30.0)},
            "footwear_differs",
        ),
        (
            {"reference_worn": PLAIN.known_as(footwear="barefoot")},
            "barefoot_against_shoe",
        ),
        ({"own_worn": BRACE.known_as(markers_replaced=True)}, "markers_moved"),
        ({"own_worn": BRACE.known_as(marker_surface="shell")}, "markers_moved"),
        (
            {"own_worn": BRACE.known_as(markers_replaced=None, markers_put_on_again="foot")},
            "markers_moved",
        ),
        (
            {"own_worn": BRACE.known_as(days_worn=3)},
            "worn_under_two_weeks",
        ),
    ],
)
def test_each_unfair_point_is_named(changes, kind):
    """As a warning, and it alone."""
    found = _notes(**changes)
    assert {note.reason.code for note in found if note.level == "warning"} == {kind}
    assert all(str(note.reason) != str(Reason(kind)) for note in found if note.level == "warning")


def test_what_differs_is_named_of_each_condition():
    """The reference's aid first, then that of the other."""
    (note,) = _notes(own_worn=BRACE.known_as(walking_aid="one stick"))
    assert note.reason == Reason("walking_aid_differs", reference="none", own="one stick")


def test_events_of_unknown_source_are_said_to_be_so():
    """Beside those whose source is known, which keep it."""
    (note,) = _notes(own={"event_source": ""})
    said = Reason("unknown_source")
    assert note.reason == Reason("event_source_differs", reference=("force",), own=said)


@pytest.mark.parametrize(("n", "n_strides", "told"), [(3, 3, 9), (5, 2, None), (4, 1, 4)])
def test_few_strides_are_counted_over_the_walks(n, n_strides, told):
    """Ten strides of a leg are enough; a leg without any is not told of."""
    found = [note for note in _notes(own={"n": n, "n_strides": n_strides})]
    few = [note for note in found if note.reason.code == "few_strides"]
    assert [note.reason["n_strides"] for note in few] == ([told] if told else [])
    assert {note.side for note in few} <= {"left"}


def test_nothing_recorded_is_said_and_is_no_warning():
    """What could not be checked is named as such."""
    kinds = {note.reason.code for note in _notes(None, None)}
    assert {"footwear_not_recorded", "marker_handling_not_recorded"} <= kinds
    assert all(note.level == "info" for note in _notes(None, None))


def test_unknown_speed_is_said():
    """It is not taken for equal."""
    found = _notes(own={"speed": float("nan")})
    assert [note.reason for note in found] == [Reason("speed_not_known")]


@pytest.mark.parametrize(
    ("a", "b", "differ"),
    [(0.30, 0.34, False), (1.0, 1.06, False), (1.0, 1.12, True), (0.3, 0.36, True)],
)
def test_speeds_differ_only_past_both_limits(a, b, differ):
    """More than 0.05 m/s and more than 10 % of the mean."""
    assert speeds_differ(a, b) == speeds_differ(b, a) == differ


ALL = set(MARKER_GROUPS)
MOVED = BRACE.known_as(markers_replaced=True)


@pytest.mark.parametrize(
    ("own", "reference", "how", "groups"),
    [
        (BRACE, PLAIN, "untouched", set()),
        (BRACE, None, "untouched", set()),
        (None, PLAIN, "same day, same tester", ALL),
        (None, None, "same day, same tester", ALL),
        (BRACE.known_as(markers_replaced=None), PLAIN, "same day, same tester", ALL),
        (MOVED, PLAIN, "same day, same tester", ALL),
        (MOVED.known_as(markers_put_on_again="foot"), PLAIN, "same day, same tester", {"foot"}),
        (
            MOVED.known_as(markers_put_on_again="Foot, shank"),
            PLAIN.known_as(markers_put_on_again="pelvis", markers_replaced=None),
            "same day, same tester",
            {"foot", "shank", "pelvis"},
        ),
        (
            MOVED.known_as(markers_placed_by="T1"),
            PLAIN.known_as(markers_placed_by="t2"),
            "other tester",
            ALL,
        ),
        (BRACE.known_as(day="b"), PLAIN.known_as(day="a"), "other tester", ALL),
        (
            BRACE.known_as(day="b", markers_placed_by="T1"),
            PLAIN.known_as(day="a", markers_placed_by="T1"),
            "other day, same tester",
            ALL,
        ),
    ],
)
def test_handling_takes_what_is_not_recorded_as_put_on_again(own, reference, how, groups):
    """By another tester on another day; and swapping the conditions does not change it."""
    pair = [
        Group("brace", tuple(walks("brace", {SWING: 5})), own),
        Group("shoe", tuple(walks("shoe", {SWING: 5})), reference),
    ]
    found = marker_handling(*pair)
    assert found == marker_handling(*pair[::-1])
    assert (found.how, found.groups) == (how, groups)

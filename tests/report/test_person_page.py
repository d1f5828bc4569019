"""The page for the person says what was measured, the unwelcome as plainly as the welcome."""

import re
from dataclasses import replace
from html.parser import HTMLParser

import numpy as np
import pytest

from gaittrack.compare.comparison import compare_walks
from gaittrack.reasons import Reason
from gaittrack.report.language import language, language_codes
from gaittrack.report.patient import person_page
from gaittrack.report.person_html import person_html
from gaittrack.report.person_points import TOPICS, choose_points, is_always_shown
from gaittrack.report.person_words import Called
from tests.compare.made_up_walks import CLEARANCE, RATE, SWING, walk, walks
from tests.report.readability import grade_of_english

HIP = "peak_hip_flexion_pelvis_thigh_deg"
SPEED = "walking_speed_m_s"
KNEE = "loading_knee_flexion_peak_deg"
UNDER_HIP = "toe_height_under_hip_mm"
PITCH = "foot_pitch_at_contact_deg"
BARE = {PITCH: 12.0, CLEARANCE: 20.0, RATE: 200.0, HIP: 40.0, SWING: 2.0, SPEED: 1.0, KNEE: 15.0}
EXACT = {"scatter": 0.3}


def compared(braced, bare=None, *, affected="left", **more):
    """Compare bare walks with braced ones; return the comparison and its walks."""
    records = walks("bare", BARE | (bare or {}), **EXACT) + walks(
        "brace", BARE | (bare or {}) | braced, **(EXACT | more)
    )
    return compare_walks(records, reference="bare", affected=affected), records


def page_of(braced, bare=None, *, code="en", **more):
    comparison, records = compared(braced, bare, **more)
    words = language(code)
    called = Called("brace", words.say("when.without_brace"), words.say("when.with_brace"))
    return person_page(comparison, records, called, words)


def topics_of(choice):
    return [point.topic.name for point in choice.points]


def point_of(page, name):
    return next(point for point in page.points if point.name == name)


def test_without_changes_the_three_first_topics_are_shown():
    """In their fixed order; what else was looked at is named."""
    page = page_of({})
    assert [point.name for point in page.points] == ["landing", "toe", "foot_up"]
    assert {point.lines[0] for point in page.points} == {language("en").say("result.same")}
    assert any("how fast you walk" in text for text in page.also)


def test_lower_toes_are_told_as_plainly_as_higher_ones():
    """The same kind of sentence, the same lines, whichever way it went."""
    lower, higher = (point_of(page_of({CLEARANCE: value}), "toe") for value in (10.0, 30.0))
    assert lower.heading == "Your left toes pass lower over the floor with the brace"
    assert higher.heading == "Your left toes pass higher over the floor with the brace"
    assert len(lower.lines) == len(higher.lines)
    assert "In 24 of 24 steps with the brace it was lower" in lower.lines[0]
    assert "20 mm without the brace, 10 mm with the brace" in lower.alt
    assert re.search(r"from \d+ mm lower to \d+ mm lower", lower.lines[1])


@pytest.mark.parametrize(
    ("measure", "value", "topic"),
    [(HIP, 52.0, "leg_lift"), (SPEED, 0.4, "speed"), (KNEE, 28.0, "knee")],
)
def test_an_unwelcome_change_further_down_the_list_takes_a_place(measure, value, topic):
    """Also when three others went the other way: the page never shows the welcome ones only."""
    welcome = {PITCH: 22.0, CLEARANCE: 32.0, SWING: 12.0}
    more = {"scatter": 0.05} if measure == SPEED else {}
    comparison, records = compared(welcome | {measure: value}, **more)
    choice = choose_points(comparison, records)
    assert topic in topics_of(choice)
    assert len(choice.points) == 3
    left_out = {topic.name for topic in TOPICS[:3]} - set(topics_of(choice))
    assert left_out == {point.topic.name for point in choice.also}


def test_more_unwelcome_changes_than_places_are_told_below():
    """Four of them: three points, one sentence."""
    page = page_of({PITCH: -4.0, CLEARANCE: 8.0, HIP: 52.0, SWING: -12.0})
    assert [point.name for point in page.points] == ["landing", "toe", "foot_up"]
    assert "Your left leg lifts higher with the brace." in page.also


def test_signs_of_the_watch_list_are_told():
    """On the other side too; one that a point shows is not told twice."""
    page = page_of({KNEE: 29.0})
    assert "knee" in [point.name for point in page.points]
    assert not any("bends a lot" in text for text in page.also)
    records = walks("bare", BARE, **EXACT) + walks("brace", BARE, **EXACT)
    for condition, knee in (("bare", 15.0), ("brace", 29.0)):
        other = walks(condition, {KNEE: knee}, side="right", **EXACT)
        records += [
            walk(condition, 10 + n, {KNEE: knee}, side="right", **EXACT) for n in range(len(other))
        ]
    comparison = compare_walks(records, reference="bare", affected="left")
    words = language("en")
    page = person_page(comparison, records, Called("brace", "then", "now"), words)
    assert any("The right knee bends a lot" in text and "29 degrees" in text for text in page.also)


def test_a_toe_without_a_minimum_is_replaced_by_its_height_under_the_hip():
    """What may not be compared is not shown; what stands in for it is."""
    reasons = {CLEARANCE: lambda stride: Reason("no_minimum") if stride % 3 else ""}
    comparison, records = compared({UNDER_HIP: 50.0}, {UNDER_HIP: 35.0}, reasons=reasons)
    (toe,) = [p for p in choose_points(comparison, records).points if p.topic.name == "toe"]
    assert toe.row.measure == UNDER_HIP
    page = person_page(comparison, records, Called("brace", "a", "b"), language("en"))
    about = point_of(page, "toe").about
    assert "under the hip" in about and "lowest" not in about


def test_a_heel_that_seldom_touches_first_is_said_with_counts():
    """No rate is shown; the page says in how many steps the heel came first."""
    page = page_of({RATE: 100.0}, contact=["heel", "flat", "flat"])
    assert "foot_down" not in [point.name for point in page.points]
    assert "That takes a heel that touches first." in page.missing[0]
    assert "8 of 24 steps with the brace and in 24 of 24 steps without" in page.missing[1]


def test_what_was_not_measured_is_said():
    """A measure without any value is named, not passed over."""
    comparison, records = compared({}, reasons={SWING: Reason("no_samples", of="toe_point")})
    page = person_page(comparison, records, Called("brace", "a", "b"), language("en"))
    assert page.missing == ("We could not measure how far the foot lifts in the swing.",)


def test_one_walk_each_gives_no_interval():
    """And says that it takes two."""
    records = [walk("bare", 1, BARE), walk("brace", 1, BARE | {CLEARANCE: 40.0})]
    comparison = compare_walks(records, reference="bare", affected="left")
    words = language("en")
    toe = point_of(person_page(comparison, records, Called("brace", "a", "b"), words), "toe")
    assert toe.heading == "Your left toes over the floor: we cannot tell yet"
    assert words.say("result.one_walk") in toe.lines
    assert not any("most likely" in line for line in toe.lines)


def test_scatter_that_hides_a_change_is_called_by_its_name():
    """Not "no effect", and not "about the same"."""
    comparison, records = compared({CLEARANCE: 24.0}, {}, scatter=14.0)
    page = person_page(comparison, records, Called("brace", "a", "b"), language("en"))
    toe = point_of(page, "toe")
    assert language("en").say("result.unsure") in toe.lines
    assert not any("About the same" in line for line in toe.lines)


def test_the_affected_side_is_shown():
    """The right leg's numbers never stand for the left's."""
    records = []
    for condition, values in (("bare", BARE), ("brace", BARE | {CLEARANCE: 40.0})):
        records += walks(condition, values, side="right", **EXACT)
    for condition in ("bare", "brace"):
        records += [walk(condition, 20 + n, BARE, **EXACT) for n in range(4)]
    for affected, name in (("left", "left"), ("right", "right")):
        comparison = compare_walks(records, reference="bare", affected=affected)
        page = person_page(comparison, records, Called("brace", "a", "b"), language("en"))
        assert f"Your {name} toes" in point_of(page, "toe").heading
    both = choose_points(compare_walks(records, reference="bare", affected="both"), records)
    assert not any(is_always_shown(point) for point in both.points)


def test_every_language_fills_every_gap():
    """No brace of a gap and no untranslated key is left on a page."""
    for code in language_codes():
        page = page_of({CLEARANCE: 8.0, KNEE: 29.0}, code=code, contact=["heel", "flat", "flat"])
        html = person_html(page)
        assert f'<html lang="{code}">' in html
        assert not re.search(r"\{\w+\}", html.split("</style>")[1])


def test_the_file_loads_nothing_and_escapes_codes():
    """Codes come from folders: they may hold anything."""
    comparison, records = compared({})
    words = language("en")
    called = Called("named", "in <b>x</b>", "in y", where="<script>alert(1)</script>")
    html = person_html(person_page(comparison, records, called, words))
    assert "<script" not in html and "<b>" not in html
    assert "default-src 'none'" in html
    found = []
    parser = HTMLParser()
    parser.handle_starttag = lambda tag, attrs: found.extend(
        value for name, value in attrs if name in ("src", "href") and value
    )
    parser.feed(html)
    assert found == []


def test_toes_are_drawn_to_scale():
    """The two shoes stand as far apart as their values on the ruler beside them."""
    picture = point_of(page_of({CLEARANCE: 10.0}), "toe").picture
    floor, *marks = (
        float(y)
        for y in re.findall(r'<path d="M2 ([\d.]+)H82" stroke="#(?:1b1b1b|d8d8d8)', picture)
    )
    mm = (floor - marks[0]) / 10
    soles = [float(y) for y in re.findall(r"Q\S+ \S+ \S+ ([\d.]+)H", picture)]
    heights = [(floor - y) / mm for y in soles]
    assert heights == pytest.approx([20.0, 10.0], abs=0.5)
    assert picture.count("<circle") == 48


def test_foot_coming_down_turns_as_far_as_its_number_says():
    """A slower foot is never drawn with the wider gap."""
    picture = point_of(page_of({RATE: 320.0}), "foot_down").picture
    lines = re.findall(r"M(\d+)\.00 34\.00L([\d.]+) ([\d.]+)", picture)
    angles = [np.degrees(np.arctan2(34 - float(y), float(x) - int(heel))) for heel, x, y in lines]
    assert angles == pytest.approx([BARE[RATE] / 20, 0, 320 / 20, 0], abs=0.1)


def test_angles_are_drawn_to_scale():
    """The two thighs hang at the angles that are written beside them."""
    picture = point_of(page_of({HIP: 52.0}), "leg_lift").picture
    lines = re.findall(r'M34\.00 13\.00L([\d.]+) ([\d.]+)"', picture)
    angles = [np.degrees(np.arctan2(float(x) - 34, float(y) - 13)) for x, y in lines]
    assert angles == pytest.approx([40.0, 52.0], abs=0.5)


def test_a_whole_page_reads_at_grade_six_or_below():
    """With its numbers and all."""
    page = page_of({CLEARANCE: 8.0, KNEE: 29.0})
    texts = [page.title + ".", *page.lead, *page.also, *page.missing, *page.unsure, page.notice]
    for point in page.points:
        texts += [point.heading + ".", *point.lines, point.about]
    assert grade_of_english(" ".join(texts)) <= 6.0


def test_what_makes_the_comparison_unfair_is_said():
    """Another speed, stale numbers: plainly, and only what holds."""
    own = language("en")
    assert own.say("fair.speed_differs") in page_of({}, speed=1.6).unsure
    plain = page_of({})
    assert own.say("fair.speed_differs") not in plain.unsure
    comparison, records = compared({})
    stale = person_page(comparison, records, Called("brace", "a", "b"), own, n_stale=2)
    assert own.say("fair.stale") == stale.unsure[0] and stale.unsure[1:] == plain.unsure


def both_sides(left, right):
    """Compare walks of somebody affected on both sides; changes by side with the brace."""
    bare = walks("bare", BARE, **EXACT)
    braced = walks("brace", BARE | left, **EXACT)
    on_right = walks("brace", BARE | right, side="right", **EXACT)
    bare_right = walks("bare", BARE, side="right", **EXACT)
    records = [both(*pair) for pair in zip(bare + braced, bare_right + on_right, strict=True)]
    return compare_walks(records, reference="bare", affected="both"), records


def both(one, other):
    """Join the sides of one walk."""
    names = ("cycles", "contacts", "tables")
    return replace(one, **{name: getattr(one, name) | getattr(other, name) for name in names})


def test_of_both_sides_the_one_with_a_change_is_shown_and_the_other_is_told():
    """Toes change on the right, the lifting on both; at most three points, nothing left out."""
    comparison, records = both_sides({HIP: 28.0}, {CLEARANCE: 32.0, HIP: 52.0})
    choice = choose_points(comparison, records)
    sides = {point.topic.name: point.row.side for point in choice.points}
    assert sides == {"landing": "left", "toe": "right", "leg_lift": "right"}
    assert [(point.topic.name, point.row.side) for point in choice.also] == [("leg_lift", "left")]
    words = language("en")
    called = Called("brace", words.say("when.without_brace"), words.say("when.with_brace"))
    page = person_page(comparison, records, called, words)
    assert len(page.points) == 3
    assert "about both legs" in " ".join(page.lead)
    assert "it shows the left leg" in " ".join(page.lead)
    assert point_of(page, "toe").heading.startswith("Your right toes")
    assert "Your left leg lifts less high with the brace." in page.also
    rest = page.also[-1]
    assert "how high the toes pass over the floor (left)" in rest
    assert "how fast the foot comes down (right)" in rest
    assert rest.count("how fast you walk") == 1


def test_a_side_that_could_not_be_compared_is_named_with_its_side():
    """The right foot was not measured in one of the two."""
    _, records = both_sides({}, {})
    fewer = []
    for one in records:
        kept = {key: own for key, own in one.tables.items() if key != (RATE, "right")}
        fewer.append(replace(one, tables=kept))
    comparison = compare_walks(fewer, reference="bare", affected="both")
    words = language("en")
    called = Called("brace", words.say("when.without_brace"), words.say("when.with_brace"))
    page = person_page(comparison, fewer, called, words)
    assert page.missing == ("We could not measure how fast the foot comes down (right).",)

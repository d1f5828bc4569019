"""The page for the person: what has a place on it, how it is said, what is drawn."""

import re
from dataclasses import replace
from html.parser import HTMLParser

import numpy as np
import pytest

from gaittrack.answer import answers
from gaittrack.compare.comparison import compare_walks
from gaittrack.compare.fair.condition import Condition
from gaittrack.reasons import Reason
from gaittrack.record.closed_lists import LISTS
from gaittrack.record.registry import FACTS
from gaittrack.record.visit_facts import VisitFacts
from gaittrack.report.language import language, language_codes
from gaittrack.report.leg_drawing import Foot, foot_over_floor, hanging_from, knee_of
from gaittrack.report.patient import person_page
from gaittrack.report.person_examined import FINE
from gaittrack.report.person_html import person_html
from gaittrack.report.person_words import Called
from tests.compare.made_up_walks import CLEARANCE, RATE, walk, walks
from tests.report.person_pages import page_of

HIP = "peak_hip_flexion_pelvis_thigh_deg"
SPEED = "walking_speed_m_s"
KNEE = "knee_yield_in_loading_deg"
LIFT = "mid_swing_dorsiflexion_deg"
UNDER_HIP = "toe_height_under_hip_mm"
PITCH = "foot_pitch_at_contact_deg"
PUSH = "push_off_range_deg"
BARE = {PITCH: 12.0, CLEARANCE: 20.0, RATE: 200.0, HIP: 40.0, LIFT: 2.0, SPEED: 1.0, KNEE: 9.0}
BARE |= {PUSH: 20.0}
WORN = {
    "bare": Condition("bare", orthosis="none"),
    "brace": Condition("brace", orthosis="ankle-foot orthosis", orthosis_side="left"),
}


def compared(braced, bare=None, *, aims=(), bare_walks=None, **more):
    """Compare bare walks with braced ones; return the comparison and its walks."""
    before = BARE | (bare or {})
    records = walks("bare", before, **({"scatter": 0.3} | (bare_walks or {})))
    records += walks("brace", before | braced, **({"scatter": 0.3} | more))
    given = {"reference": "bare", "conditions": WORN, "affected": "left", "aims": aims}
    return compare_walks(records, **given), records


def topics_of(page):
    return [point.topic for point in page.points]


def list_of(page, name):
    return next((each.items for each in page.lists if each.name == name), ())


def test_no_more_than_three_points_and_the_rest_is_told_in_full_below():
    """Four gains: the toes before the lift that makes them, and the fourth with both values."""
    page = page_of(compared({PITCH: 22.0, CLEARANCE: 32.0, LIFT: 12.0, HIP: 28.0}))
    assert topics_of(page) == ["landing", "toe", "lift"]
    ((heading, text),) = list_of(page, "also")
    assert heading == "Your leg is lifted less."
    assert "Without the brace: the thigh comes up 40 degrees." in text


@pytest.mark.parametrize(
    ("measure", "value", "topic"), [(HIP, 52.0, "thigh"), (PUSH, 9.0, "push_off")]
)
def test_a_loss_has_a_place_whatever_else_changed(measure, value, topic):
    """Also when three others went the other way: it stands last, and is to be talked about."""
    page = page_of(compared({PITCH: 22.0, CLEARANCE: 32.0, LIFT: 12.0, measure: value}))
    assert topics_of(page) == ["landing", "toe", topic]
    assert "This is something to talk about." in page.points[-1].lines
    assert not any("talk" in line for point in page.points[:2] for line in point.lines)


def test_lower_toes_are_told_as_plainly_as_higher_ones():
    """The same kind of sentence, the same size of picture, whichever way it went."""
    (lower,), (higher,) = (page_of(compared({CLEARANCE: v})).points[:1] for v in (8.0, 32.0))
    assert lower.heading == "Your toes pass lower over the floor"
    assert higher.heading == "Your toes pass higher over the floor"
    assert lower.lines[0] == higher.lines[0]
    assert higher.lines[1] == "With the brace: the toes pass 3 centimetres over the floor."
    assert higher.pictures[1].caption == "3 cm over the floor"


def test_aims_come_first():
    """What the brace was fitted for leads, whatever else changed."""
    values = {PITCH: 22.0, CLEARANCE: 32.0, LIFT: 12.0}
    page = page_of(compared(values, aims=["how_it_is_lifted_in_swing"]))
    assert topics_of(page) == ["lift", "landing", "toe"]
    page = page_of(compared(values, aims=["how_the_toe_clears_the_floor"]))
    assert topics_of(page) == ["toe", "landing", "lift"] and not list_of(page, "untold")


def test_a_change_within_error_says_that_it_is_not_sure():
    """It may fill a free place, with its words; one alike in the words of the page may not."""
    pair = compared({CLEARANCE: 22.0, LIFT: 2.2}, scatter=0.3)
    page = page_of(pair)
    assert "Your toes pass a little higher over the floor" in [p.heading for p in page.points]
    assert all(p.lines[-1].startswith("Seen in these walks") for p in page.points)
    assert page.lead[-1] == "We saw no change that we can be sure of."
    assert "lift" not in topics_of(page)


def test_steps_as_low_as_the_floor_are_counted():
    """As the toes come down to it, and where only some of them do."""
    page = page_of(compared({CLEARANCE: 20.0}, {CLEARANCE: 0.0}))
    toe = page.points[0]
    told = "Without the brace: the toes come as low as the floor, in 24 of 24 steps."
    assert toe.lines[0] == told and toe.pictures[0].caption == "down at the floor"
    some = page_of(compared({CLEARANCE: 20.0}, {CLEARANCE: 5.0}, bare_walks={"scatter": 4.0}))
    assert re.search(r"over the floor\. In \d of 24 steps they come", some.points[0].lines[0])


def test_a_toe_without_a_minimum_is_told_by_its_height_under_the_hip():
    """And the page says where that was measured."""
    reasons = {CLEARANCE: lambda stride: Reason("no_minimum") if stride % 3 else ""}
    page = page_of(compared({UNDER_HIP: 50.0}, {UNDER_HIP: 35.0}, reasons=reasons))
    toe = next(point for point in page.points if point.topic == "toe")
    assert "Measured as the leg swings past under the hip." in toe.notes


def test_what_cannot_be_told_says_why_and_has_its_column():
    """A question with no value, and one that takes a heel that lands first."""
    pair = compared({RATE: 100.0}, contact="forefoot", reasons={LIFT: Reason("no_samples", of="x")})
    page = page_of(pair)
    told = dict(list_of(page, "untold"))
    assert told["How fast the foot comes down"] == (
        "the heel has to land first for that, both times"
    )
    assert told["How the foot is lifted in the air"] == "it is not in these recordings"
    assert page.has_untold_column and len(page.points) < 3
    assert 'class="point cannot"' in person_html(page)


def test_a_place_without_a_dot_is_said_to_have_none():
    """That a file holds angles only is said of files that hold no points."""
    missing = {CLEARANCE: Reason("no_point", point="toe_point")}
    pair = compared({}, reasons=missing, bare_walks={"reasons": missing})
    name = "How high the toes pass over the floor"
    assert dict(list_of(page_of(pair), "untold")) == {name: "there was no dot to measure it by"}
    sheets = [each.known_as(angle_origin="file") for each in pair[1]]
    told = dict(list_of(page_of((pair[0], sheets)), "untold"))
    assert told == {name: "the files hold joint angles only"}


def test_between_visits_it_says_before_and_now():
    """And what was worn; with and without are of one visit."""
    page = page_of(compared({CLEARANCE: 32.0}), kind="visits")
    assert page.title == "Your walk before and now"
    assert "Both times with the brace." in page.lead
    assert page.points[0].lines[0].startswith("Before: the toes")
    assert page.points[0].lines[1].startswith("Now: the toes")


def test_it_speaks_to_parents_relatives_and_the_child():
    """Each by their own words; the box for the child says the first point, and no more."""
    pair = compared({SPEED: 1.6}, scatter=0.2)
    headings = {
        who: next(p.heading for p in page_of(pair, audience=who).points if p.topic == "speed")
        for who in ("person", "parent", "relatives")
    }
    assert headings == {
        "person": "You walk faster",
        "parent": "Your child walks faster",
        "relatives": "They walk faster",
    }
    page = page_of(pair, audience="parent")
    assert page.in_words[1].startswith("You walk faster. Without the brace:")
    assert page_of(pair).in_words == ()


def both_legs(left, right):
    """Compare walks of somebody braced on both legs."""
    records = []
    for name, values in (("bare", ({}, {})), ("brace", (left, right))):
        for number in range(4):
            one, other = (
                walk(name, number, BARE | own, side=side, scatter=0.3)
                for own, side in zip(values, ("left", "right"), strict=True)
            )
            fields = ("cycles", "contacts", "tables")
            joined = {field: getattr(one, field) | getattr(other, field) for field in fields}
            records.append(replace(one, **joined))
    return compare_walks(records, reference="bare", affected="both"), records


def test_what_is_the_same_on_both_legs_is_one_point_and_what_is_not_is_two():
    """The lifting on both legs, the toes on the right alone; the leg is named each time."""
    page = page_of(both_legs({LIFT: 12.0}, {LIFT: 12.0, CLEARANCE: 32.0}))
    legs = {point.topic: point.leg for point in page.points}
    assert legs["lift"] == "both legs" and legs["toe"] == "right leg"
    lift = next(point for point in page.points if point.topic == "lift")
    assert lift.lines[1] == "With the brace: left toes up 12°, right toes up 12°."
    assert "Drawn: the left leg." in lift.notes


def examined(**facts):
    """Return a visit with some facts of an examination."""
    return VisitFacts(1, "visit-1", dict.fromkeys(FACTS["visit"]) | facts, "left")


def test_the_examination_is_told_plainly_and_broken_skin_first():
    """What is alike on both legs once; what was fine is not told."""
    tilts = {f"{side}_mediolateral_stability": "tilts into varus" for side in ("left", "right")}
    visit = examined(**tilts, left_skin_state="blister", left_skin_place="shin", comfort="presses")
    page = page_of(compared({}), visit=visit)
    assert page.first == ("Left leg: there is a blister on the skin (shin).",)
    told = [text for text, _ in list_of(page, "examined")]
    assert told == ["Both legs: the foot tips onto its outer edge.", "This was noted: “presses”."]
    fine = examined(left_mediolateral_stability="stable", left_skin_state="clear", left_tone="0")
    assert list_of(page_of(compared({}), visit=fine), "examined") == ()


@pytest.mark.parametrize("code", language_codes())
def test_every_finding_of_the_examination_has_words(code):
    """A value that a list offers is told, or is fine."""
    texts = language(code).texts
    for name, fine in (("mediolateral_stability", ("stable",)), ("skin_state", ()), ("tone", ())):
        offered = LISTS[FACTS["visit"][f"left_{name}"].list]
        silent = [
            each
            for each in offered
            if each not in (*FINE, *fine, "not tested", "other")
            and not {f"examined.{name}.{each}", f"examined.{name}.any"} & texts.keys()
        ]
        assert silent == []


def test_what_makes_the_comparison_unfair_is_said():
    """Another speed, stale numbers: plainly, and only what holds."""
    own = language("en").texts
    plain = [text for text, _ in list_of(page_of(compared({})), "about")]
    unfair = [text for text, _ in list_of(page_of(compared({}, speed=1.6)), "about")]
    assert own["fair.speed_differs"] in unfair and own["fair.speed_differs"] not in plain
    stale = [text for text, _ in list_of(page_of(compared({}), n_stale=2), "about")]
    assert stale == [own["fair.stale"], *plain]


@pytest.mark.parametrize("code", language_codes())
def test_every_gap_is_filled_and_everything_stands_in_the_file(code):
    """No brace of a gap is left on a page; each text of it can be read."""
    page = page_of(compared({CLEARANCE: 8.0, KNEE: 29.0}), code)
    html = person_html(page)
    assert f'<html lang="{code}">' in html
    assert not re.search(r"\{\w+\}", html.split("</style>")[1])
    for text in (page.title, *page.lead, *(line for p in page.points for line in p.lines)):
        assert text in html


def test_the_file_loads_nothing_and_escapes_codes():
    """Codes come from folders: they may hold anything."""
    pair = compared({CLEARANCE: 32.0})
    odd = Called("named", "in <b>x</b>", "in y", where="<script>alert(1)</script>")
    html = person_html(person_page(*pair, odd, language("en")))
    assert "<script" not in html and "<b>" not in html
    assert "default-src 'none'" in html
    found = []
    parser = HTMLParser()
    parser.handle_starttag = lambda tag, attrs: found.extend(
        value for name, value in attrs if name in ("src", "href") and value
    )
    parser.feed(html)
    assert found == []


@pytest.mark.parametrize("pitch", [-40.0, -8.0, 0.0, 9.0, 30.0])
def test_no_foot_is_drawn_through_the_floor(pitch):
    """The lowest place of the sole is at the measured height, and never under 0."""
    for height in (-12.0, 0.0, 24.0):
        lowest = foot_over_floor(pitch, 5.0, height).lowest()
        assert lowest.imag == pytest.approx(max(height, 0.0), abs=1e-9)


def test_foot_and_shank_turn_by_their_angles():
    """Toes up and a shank that leans forward are positive."""
    foot = Foot(10.0, 20.0, 0j)
    sole = foot.foot(100 + 0j) - foot.foot(0j)
    assert sole.imag / sole.real == pytest.approx(0.17633, abs=1e-4)
    shank = foot.shank(100j)
    assert shank.real / shank.imag == pytest.approx(0.36397, abs=1e-4)


def test_the_height_of_the_toes_is_drawn_to_scale():
    """The ruler beside the shoe is as long as the height it tells."""
    page = page_of(compared({CLEARANCE: 32.0}))
    picture = next(p for p in page.points if p.topic == "toe").pictures[1].svg
    (answer,) = answers(compared({CLEARANCE: 32.0})[0])
    row = next(r for f in answer.findings for r in f.rows if r.measure == CLEARANCE)
    rulers = re.findall(r'class="ruler" d="M[\d.]+ -?0\.0L[\d.]+ (-[\d.]+)"', picture)
    assert float(rulers[0]) == pytest.approx(-0.9 * row.value, abs=0.1)
    assert "3 cm</text>" in picture


def turn_of(picture):
    """Return the pitch of a drawn foot, by the seam of its shoe; level it falls by 3.7 degrees."""
    path = re.search(r'class="fine" d="M([\d. -]+)C[\d. -]+C[\d. -]* ([\d.-]+) ([\d.-]+)"', picture)
    (x, y), end = map(float, path[1].split()), (float(path[2]), float(path[3]))
    return degrees(y - end[1], end[0] - x) + 3.73


def degrees(up, forward):
    return np.degrees(np.arctan2(up, forward))


def cuff_of(picture):
    """Return the lean of a drawn shank, by the cuff across it."""
    cuffs = re.findall(r'class="edge" d="M([\d.-]+) ([\d.-]+)L([\d.-]+) ([\d.-]+)"', picture)
    x, y, right, low = map(float, cuffs[0])
    return degrees(low - y, right - x)


@pytest.mark.parametrize("ankle", [-10.0, 6.0])
def test_foot_and_shank_are_drawn_as_they_were_measured(ankle):
    """Turned by the pitch at contact, the shank by the ankle less the pitch."""
    values = {PITCH: -8.0, "dorsiflexion_at_contact_deg": -2.0}
    after = {PITCH: 14.0, "dorsiflexion_at_contact_deg": ankle}
    pair = compared(after, values)
    point = next(p for p in page_of(pair).points if p.topic == "landing")
    before, here = (each.svg for each in point.pictures)
    assert turn_of(before) == pytest.approx(-8.0, abs=0.2)
    assert turn_of(here) == pytest.approx(14.0, abs=0.2)
    assert cuff_of(here) == pytest.approx(ankle - 14.0, abs=0.2)
    assert point.notes == ("Drawn to scale.",)


def test_with_angles_only_there_is_no_floor():
    """The shank upright, the foot turned at the ankle, a level beside the line of the sole."""
    values = {name: value for name, value in BARE.items() if name != PITCH}
    ankle = "dorsiflexion_at_contact_deg"
    records = walks("bare", values | {ankle: -18.0}, scatter=0.3)
    records += walks("brace", values | {ankle: 2.4}, scatter=0.3)
    pair = compare_walks(records, reference="bare", conditions=WORN, affected="left"), records
    point = next(p for p in page_of(pair).points if p.topic == "landing_ankle")
    picture = point.pictures[0].svg
    assert 'class="floor"' not in picture and 'class="level"' in picture
    assert turn_of(picture) == pytest.approx(-18.0, abs=0.3)
    assert cuff_of(picture) == pytest.approx(0.0, abs=0.1)
    assert "the files do not hold the floor" in point.notes[0]


def test_a_foot_that_comes_down_turns_as_far_as_is_told():
    """In a twentieth of a second; no rate is told."""
    point = next(p for p in page_of(compared({RATE: 320.0})).points if p.topic == "falling")
    assert point.heading == "Your foot comes down faster"
    assert point.lines[1].endswith("in a twentieth of a second it turns down 16 degrees.")
    turns = [turn_of(each.svg) for each in point.pictures]
    assert turns == pytest.approx([10.0, 16.0], abs=0.3)


def test_a_leg_hangs_from_its_hip_by_the_angle_of_its_thigh():
    """Forward is positive; the knee lies below the hip by the length of the thigh."""
    foot = hanging_from(100 + 200j, 40.0, 20.0, 0.0)
    thigh = knee_of(foot) - (100 + 200j)
    assert degrees(thigh.real, -thigh.imag) == pytest.approx(40.0)


def test_a_thigh_told_from_the_hips_says_that_it_is_drawn_from_upright():
    """One that is told to the vertical is drawn as it is told; without curves the shank is not."""
    for measure, note in (
        (HIP, "The number counts from the hips, the picture from upright."),
        ("peak_hip_flexion_thigh_vertical_deg", "Only the angle is to scale."),
    ):
        values = {name: value for name, value in BARE.items() if name != HIP}
        records = walks("bare", values | {measure: 40.0}, scatter=0.3)
        records += walks("brace", values | {measure: 28.0}, scatter=0.3)
        pair = compare_walks(records, reference="bare", affected="left"), records
        thigh = next(point for point in page_of(pair).points if point.topic == "thigh")
        assert note in thigh.notes


def test_the_brace_is_drawn_where_it_is_worn_and_as_what_it_is():
    """With it alone; of two visits in both; a joint where there is one."""
    pair = compared({CLEARANCE: 32.0})
    before, here = (each.svg for each in page_of(pair).points[0].pictures)
    assert 'class="leaf"' not in before and 'class="leaf"' in here
    jointed = {
        "bare": Condition("bare", orthosis="ankle-foot orthosis"),
        "brace": Condition("brace", orthosis="ankle-foot orthosis", orthosis_class="jointed"),
    }
    found = compare_walks(pair[1], reference="bare", conditions=jointed, affected="left")
    before, here = (
        each.svg for each in page_of((found, pair[1]), kind="visits").points[0].pictures
    )
    assert 'class="leaf"' in before and 'class="hinge"' not in before
    assert 'class="hinge"' in here

"""The graphs of Walks, and what another walk takes along: nothing of the one before."""

from dataclasses import replace

import pytest

from dashboards.walks import recording_view
from dashboards.walks.measured_walks import WalkMemory
from gaittrack.figures.event_lines import other_sources
from gaittrack.figures.quality import draw_side
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import plan_folders
from gaittrack.study.store import create_study
from tests.dashboards.axe_check import violations
from tests.dashboards.conftest import Served
from tests.dashboards.settled import settle, until
from tests.dashboards.test_walks_screen import (
    PLACE,
    REASON,
    give_reason,
    open_walk,
    place,
    says,
)
from tests.dashboards.walk_plots import LEFT, lines, pixel, points, shown_s
from tests.made_up_files import sample_visit
from tests.read.test_angle_signs import upside_down

OTHER = "P01/visit-2/without-brace/walk-2"


@pytest.fixture
def served_sheets(tmp_path):
    """Serve P03 (angles over time, an ankle upside down) and P04 (curves over the cycle)."""
    for code in ("P03", "P04"):
        sample_visit(code, 1, tmp_path / "walks" / code / "visit-1")
    wrong = tmp_path / "walks" / "P03" / "visit-1" / "with-brace" / "walk-2.csv"
    wrong.write_text(upside_down(wrong.read_text()))
    study = create_study(tmp_path / "study")
    list(import_files(study, plan_folders([tmp_path / "walks"]), who="tests", new_people=True))
    study.close()
    one = Served(tmp_path / "study")
    yield one
    one.close()


def shown_walk(served, name=PLACE):
    return recording_view.look_at(served.study, WalkMemory(), place(served, name).id).result


def choose_walk(page, served, name=OTHER):
    """Choose a walk of the same person as another screen does, and wait until it is drawn."""
    data = f"{{person: 1, trial: {place(served, name).id}}}"
    page.evaluate(f"dash_clientside.set_props('choice', {{data: {data}}})")
    visit, worn, code = name.split("/")[1:]
    page.wait_for_selector(f".walks-place h2:has-text('{visit}, {worn}, {code}')")
    settle(page)


def drag(page, from_s, to_s):
    """Draw the pointer over the left graph, from one instant to another."""
    (x, y), (far, _) = pixel(page, from_s), pixel(page, to_s)
    page.mouse.move(x, y + 60)
    page.mouse.down()
    page.mouse.move(far, y + 60, steps=4)
    page.mouse.up()


def test_a_walk_is_drawn_as_measured_and_read_and_another_begins_anew(open_page, served):
    """Lines and what the pointer reads are the figure's; nothing goes over to another walk."""
    page = open_walk(open_page, served)
    every_line_is_drawn_as_it_was_measured(page, served)
    the_pointer_reads_lines_and_why_a_stride_is_not_counted(page, served)
    a_refused_correction_keeps_what_was_entered(page)
    another_walk_begins_with_nothing_of_the_one_before(page, served)


def every_line_is_drawn_as_it_was_measured(page, served):
    """Heights and speeds of heel and toe, read off the axes, are those of the figure."""
    walk = shown_walk(served)
    traces = [one for one in draw_side(walk, "left")["data"] if one["name"] in ("heel", "toe")]
    for number, trace in enumerate(traces):
        drawn = points(page, *divmod(number, 2))
        reach = max(trace["y"]) - min(trace["y"])
        assert len(drawn) == len(trace["x"]) > 300
        assert [x for x, _ in drawn] == pytest.approx(trace["x"], abs=2e-3)
        assert [y for _, y in drawn] == pytest.approx(trace["y"], abs=0.003 * reach)


def test_a_stretch_is_zoomed_in_both_graphs_and_stays_through_a_correction(open_page, served_copy):
    """By the pointer, by buttons, whole again by two clicks; another walk begins anew."""
    page = open_walk(open_page, served_copy)
    whole = shown_s(page)
    times = lines(page)
    drag(page, 1.2, 2.6)
    for side in ("left", "right"):
        assert shown_s(page, side) == pytest.approx([1.2, 2.6], abs=0.03)
    assert lines(page) == pytest.approx([t for t in times if 1.2 < t < 2.6], abs=2e-3)
    give_reason(page)
    page.get_by_role("button", name="Exclude left-01").click()
    says(page, "Kept: left stride")
    assert shown_s(page) == pytest.approx([1.2, 2.6], abs=0.03)
    for name, expected in (
        ("Zoom in", [1.55, 2.25]),
        ("Later", [1.9, 2.6]),
        ("Earlier", [1.55, 2.25]),
        ("Zoom out", [1.2, 2.6]),
        ("Whole recording", whole),
    ):
        page.get_by_role("button", name=name, exact=True).focus()
        page.keyboard.press("Enter")
        assert shown_s(page) == pytest.approx(expected, abs=0.03), name
    drag(page, 1.2, 2.6)
    page.mouse.dblclick(*pixel(page, 2.0))
    assert shown_s(page, "right") == pytest.approx(whole, abs=1e-3)
    drag(page, 1.2, 2.6)
    choose_walk(page, served_copy)
    duration_s = shown_walk(served_copy, OTHER).trial.duration_s
    assert shown_s(page) == pytest.approx([0, duration_s], abs=0.01)


def test_events_are_told_and_a_choice_is_asked_for_once(open_page, served):
    """What each line is, also of other sources; one request for a screen; the cursor stays seen."""
    page = open_walk(open_page, served)
    events_say_what_they_are_and_marks_of_others_what_they_saw(page, served)
    a_choice_asks_once_for_the_screen_and_once_for_the_banner(page, served)
    what_is_shown_moves_on_with_the_time_cursor(page, served)


def events_say_what_they_are_and_marks_of_others_what_they_saw(page, served):
    """Kind, contact and source on each line; a mark not in use is drawn, named and read."""
    figure = draw_side(shown_walk(served), "left")
    words = [shape["label"]["text"] for shape in figure["layout"]["shapes"]]
    assert page.locator(f"{LEFT} .event title").all_text_contents() == words
    assert "initial contact, heel (markers)" in words
    (marks,) = other_sources(with_late_marks(shown_walk(served)), "left")
    given = {
        **{"side": "left", "figure": {**figure, "data": [*figure["data"], marks]}},
        **{"caption": "a < b", "symbols": [], "strides": [], "last_s": 5},
    }
    page.evaluate(
        """given => walksPlots.show(document.getElementById('walks-feet'), [given], true,
                                    {mayDrag: false, now: null}, 'left')""",
        given,
    )
    mark = page.locator(f"{LEFT} > svg .mark")
    assert mark.count() == len(marks["x"]) > 0
    assert marks["name"] in page.locator(f"{LEFT} ul li").all_inner_texts()
    assert page.inner_text(f"{LEFT} figcaption") == "a < b"
    assert page.locator(f"{LEFT} .walks-handle").count() == 0
    box = mark.first.bounding_box()
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    said = page.inner_text(f"{LEFT} .reading")
    assert said == f"{marks['text'][0]}, {marks['x'][0]:.3f} s"


def with_late_marks(walk):
    """Return a walk in whose file every contact was marked late."""
    late = [
        replace(event, time_s=event.time_s + 0.09, source="file")
        for event in walk.events.events
        if event.kind == "initial_contact"
    ]
    by_source = {**walk.events.by_source, "file": tuple(late)}
    return replace(walk, events=replace(walk.events, by_source=by_source))


def what_is_shown_moves_on_with_the_time_cursor(page, served):
    """As in a long recording, of which the first seconds are shown at first."""
    drag(page, 0.5, 1.5)
    page.get_by_role("slider", name="Time cursor").focus()
    page.keyboard.press("End")
    duration_s = shown_walk(served, OTHER).trial.duration_s
    until(
        page, f"parseFloat(document.getElementById('walks-now').textContent) > {duration_s} - 0.1"
    )
    first_s, last_s = shown_s(page, "right")
    assert last_s == pytest.approx(duration_s, abs=0.01)
    assert last_s - first_s == pytest.approx(1.0, abs=0.03)


def the_pointer_reads_lines_and_why_a_stride_is_not_counted(page, served):
    """Value and time of the nearest point; the reason over a hatched stride."""
    out = next(one for one in shown_walk(served).cycles if one.side == "left" and not one.is_kept)
    page.mouse.move(*pixel(page, out.start_s + 0.15))
    said = page.inner_text(f"{LEFT} .reading")
    assert f"{out.id} is not counted: {out.reject_reasons[0]}" in said
    box = page.locator(f"{LEFT} .panel").first.locator("g path").first.bounding_box()
    page.mouse.move(box["x"] - 30, box["y"])
    until(page, f"!document.querySelector('{LEFT} .reading').textContent")
    heights = draw_side(shown_walk(served), "left")["data"]
    heel = next(one for one in heights if one["name"] == "heel")
    top = heel["y"].index(max(heel["y"]))
    page.mouse.move(pixel(page, heel["x"][top])[0], box["y"] + 2)
    assert page.inner_text(f"{LEFT} .reading").startswith(f"heel {heel['y'][top]:g} at ")


def another_walk_begins_with_nothing_of_the_one_before(page, served):
    """No proposal, reason or time of it; the cursor at 0, standing; its own limits."""
    give_reason(page)
    old_s = lines(page)[1]
    (x, y), (far, _) = pixel(page, old_s), pixel(page, old_s + 0.05)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(far, y, steps=3)
    page.mouse.up()
    page.wait_for_selector("#walks-proposal:has-text('not kept yet')")
    page.locator("#walks-adding summary").click()
    page.get_by_role("textbox", name="Time (s)", exact=True).fill("1.5")
    page.get_by_role("button", name="Play").click()
    until(page, "parseFloat(document.getElementById('walks-now').textContent) > 0.2")
    choose_walk(page, served)
    assert page.inner_text("#walks-proposal") == ""
    assert page.get_by_role("button", name="Play").count() == 1
    assert page.inner_text("#walks-now") == "0.000 s"
    for name in ("Reason", "Event", "New time (s)", "Time (s)"):
        field = page.get_by_role("textbox", name=name, exact=name != "Reason").first
        assert field.input_value() == "", name
    last_s = shown_walk(served, OTHER).trial.duration_s
    slider = page.get_by_role("slider", name="Time cursor")
    assert slider.get_attribute("aria-valuemax") == str(int(1000 * last_s))
    until(page, "one => one.getAttribute('aria-valuenow') === '0'", slider.element_handle())
    times = [e.time_s for e in shown_walk(served, OTHER).events.events if e.side == "left"]
    assert lines(page) == pytest.approx(times, abs=2e-3)
    page.get_by_role("textbox", name="Time (s)", exact=True).fill("99")
    page.keyboard.press("Tab")
    field = page.get_by_role("textbox", name="Time (s)", exact=True)
    until(page, f"one => Number(one.value) === {round(last_s, 3)}", field.element_handle())


def a_refused_correction_keeps_what_was_entered(page):
    """Keep the reason; draw nothing anew."""
    give_reason(page)
    page.get_by_role("button", name="Move the event").click()
    says(page, "No event is chosen")
    assert page.get_by_role("textbox", name="Reason").input_value() == REASON


def a_choice_asks_once_for_the_screen_and_once_for_the_banner(page, served):
    """Let no field that was set count as a choice of a person."""
    asked = []
    page.on("request", lambda request: asked.append(request.post_data_json["output"]))
    choose_walk(page, served, OTHER.replace("walk-2", "walk-1"))
    screen = ["banner.children", "walks-head.children"]
    assert sorted(asked) == screen, "nobody opened the row of the visit"
    asked.clear()
    page.get_by_text("The walks of this visit side by side").click()
    page.wait_for_selector("#walks-row button:has-text('walk-1')")
    choose_walk(page, served)
    assert sorted(asked) == [*screen, "walks-row.children"], "one visit has one row"
    before = page.inner_html("#walks-row")
    choose_walk(page, served, OTHER.replace("visit-2", "visit-1"))
    until(page, "before => document.getElementById('walks-row').innerHTML !== before", before)
    assert "polyline" in page.inner_html("#walks-row"), "another visit has another"
    page.get_by_text("The walks of this visit side by side").click()
    choose_walk(page, served)
    until(page, "!document.getElementById('walks-row').firstChild")


def test_sheets_have_their_graphs_and_no_player_over_a_cycle(open_page, served_sheets):
    """An angle in doubt is drawn both ways and answered; curves over the cycle; nobody."""
    page = open_page(served_sheets, "/walks", choice={"person": 1})
    page.wait_for_selector("text=no markers: there is nothing to replay")
    settle(page)
    assert page.get_by_role("slider", name="Time cursor").is_visible() and lines(page)
    assert page.locator(".walks-plot .panel").count() >= 4
    assert page.inner_text("h1").endswith("walk-2: is the ankle angle upside down?")
    (ankle, knee), turned = (
        [page.locator(f"{LEFT} .panel").nth(n).locator("g path").count() for n in (0, 1)],
        [points(page, 0, line) for line in (0, 1)],
    )
    assert (ankle, knee) == (2, 1)
    assert [y for _, y in turned[0]] == pytest.approx([-y for _, y in turned[1]], abs=0.3)
    answers = page.locator(".walks-answers button")
    boxes = [one.bounding_box() for one in answers.all()]
    sizes = {(box["width"], box["height"]) for box in boxes}
    assert answers.count() == 2 and len(sizes) == 1
    assert violations(page) == []
    answers.filter(has_text="Turn the ankle over").click()
    says(page, "Kept: ankle turned over")
    page.wait_for_selector("h1:has-text('Nothing waits')")
    assert page.locator(f"{LEFT} .panel").first.locator("g path").count() == 1
    page.evaluate("dash_clientside.set_props('choice', {data: {person: 2}})")
    page.wait_for_selector("text=there is no time to replay")
    settle(page)
    assert not page.locator(".walks-replay button").first.is_visible()
    assert not page.get_by_role("button", name="Move the event").is_visible()
    assert page.get_by_role("button", name="Looked at: it is right").is_visible()
    assert shown_s(page) == pytest.approx([0, 100], abs=0.5)
    assert not page.locator(LEFT).is_visible()  # the right leg is the affected one
    page.get_by_role("button", name="Left leg").click()
    at = (
        page.locator(f"{LEFT} .panel")
        .first.locator("g path")
        .first.evaluate(
            """one => { const at = one.getPointAtLength(60).matrixTransform(one.getScreenCTM());
                    return [at.x, at.y]; }"""
        )
    )
    page.mouse.move(*at)
    assert "° at " in page.inner_text(f"{LEFT} .reading")
    page.evaluate("dash_clientside.set_props('choice', {data: {}})")
    page.wait_for_selector("text=Choose a person")
    settle(page)
    for words in ("Correct", "Strides", "History", "All events"):
        assert not page.locator(f"main :text-is('{words}')").first.is_visible(), words
    assert not page.locator(".walks-plot").first.is_visible()

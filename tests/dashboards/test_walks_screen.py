"""Walks: what is drawn is what is stored, what is corrected is measured anew and can be undone."""

import json
import re
from html import escape
from types import SimpleNamespace

import pytest

from dashboards.shell.access import Visitor
from dashboards.walks import recording_view, walk_page
from dashboards.walks.measured_walks import MOST_WALKS, WalkMemory
from dashboards.walks.replay import replay
from dashboards.walks.which_walk import chosen_of
from gaittrack.figures.stick_figure import stick_frames
from gaittrack.measured_walk import RefusedFile
from gaittrack.pipeline import InputFile, Recording
from gaittrack.study.corrections.looking import corrections_of
from gaittrack.study.people.enrolled import id_of
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import plan_folders
from gaittrack.study.recordings.reviewing import known_trial
from gaittrack.study.results.keeping import find_trial
from gaittrack.study.store import create_study
from tests.dashboards.settled import settle, until
from tests.dashboards.walk_plots import LEFT, lines, pixel
from tests.made_up_files import sample_visit

PLACE = "P01/visit-1/with-brace/walk-1"
REASON = "seen on video"
VIEWER = Visitor("viewer", frozenset({"view"}))
EDITOR = Visitor("editor", frozenset({"view", "edit"}))


@pytest.fixture(scope="module")
def sheets(tmp_path_factory):
    """Make a study of P03 (angles over time) and P04 (curves over the cycle)."""
    walks = tmp_path_factory.mktemp("sheets")
    for code in ("P03", "P04"):
        sample_visit(code, 1, walks / code / "visit-1")
    study = create_study(tmp_path_factory.mktemp("sheet-study") / "study")
    list(import_files(study, plan_folders([walks]), who="tests", new_people=True))
    yield study
    study.close()


def place(served, name=PLACE):
    with served.study.read() as connection:
        return find_trial(connection, name)


def stored(served, name=PLACE):
    """Return the corrections that count, as the database has them."""
    with served.study.read() as connection:
        trial = find_trial(connection, name)
        return [row for row in corrections_of(connection, trial) if not row["is_undone"]]


def open_walk(open_page, served, name=PLACE, **window):
    choice = {"person": 1, "trial": place(served, name).id}
    page = open_page(served, "/walks", choice=choice, **window)
    page.wait_for_selector(f".walks-place h2:has-text('{name.split('/')[-1]}')")
    settle(page)
    return page


def give_reason(page, reason=REASON):
    page.get_by_role("textbox", name="Reason").fill(reason)
    page.keyboard.press("Escape")


def says(page, words):
    page.wait_for_selector(f".message:has-text('{words}')", timeout=40_000)
    settle(page)  # graphs are drawn after it is said


def test_the_newest_visit_is_open_unless_another_is_chosen():
    """What waits at an older visit does not come before it; within a visit it comes first."""
    trials = [
        SimpleNamespace(trial=SimpleNamespace(id=n), visit_id=visit, reasons=reasons, kind="walk")
        for n, visit, reasons in ((1, 7, ["doubt"]), (2, 9, []), (3, 9, ["doubt"]), (4, 9, []))
    ]
    assert chosen_of(trials, {}).trial.id == 3
    assert chosen_of(trials, {"visit": 7}).trial.id == 1
    assert chosen_of(trials[:2], {}).trial.id == 2
    assert chosen_of(trials, {"trial": 4, "visit": 7}).trial.id == 4


def test_what_is_drawn_is_what_the_study_holds(open_page, served):
    """One line per stored event, the trial that was asked for, and no button that sends it away."""
    page = open_walk(open_page, served, "P01/visit-2/without-brace/walk-2")
    here = page.inner_text(".walks-list [aria-current]")
    assert here.startswith("without-brace, walk-2") and "visit-2" in page.inner_text(
        ".walks-list p"
    )
    memory = WalkMemory()
    trial = place(served, "P01/visit-2/without-brace/walk-2")
    shown = recording_view.look_at(served.study, memory, trial.id)
    times = [event.time_s for event in shown.result.events.events if event.side == "left"]
    assert lines(page) == pytest.approx(times, abs=2e-3)
    assert "P01" not in page.url
    counted = page.locator("#walks-strides td[data-head=Counted]").all_inner_texts()
    kept = [cycle.is_kept for cycle in shown.result.cycles]
    assert [text.startswith("yes") for text in counted] == kept
    assert any("not in the recording" in text for text in counted)


def test_dragging_a_line_changes_the_measures_and_undoing_brings_them_back(open_page, served_copy):
    """Dragged, moved on by a key, proposed, kept with a reason, shown before and after, undone."""
    page = open_walk(open_page, served_copy)
    before = lines(page)
    old_s = before[1]
    (x, y), (far, _) = pixel(page, old_s), pixel(page, old_s + 0.04)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(far, y + 30, steps=4)
    page.mouse.up()
    page.wait_for_selector("#walks-proposal:has-text('not kept yet')")
    dragged_s = lines(page)[1]
    assert dragged_s == pytest.approx(old_s + 0.04, abs=0.011)
    page.keyboard.press("ArrowLeft")  # the letter that was dragged has the focus
    assert lines(page)[1] == pytest.approx(dragged_s - 0.01, abs=1e-3)
    letter = page.locator(f"{LEFT} .event").nth(1)
    assert letter.get_attribute("aria-valuetext") == f"{dragged_s - 0.01:.3f} s"
    assert stored(served_copy) == []
    page.get_by_role("button", name="Move the event").click()
    says(page, "no reason yet")
    assert stored(served_copy) == []
    give_reason(page)
    page.get_by_role("button", name="Move the event").click()
    says(page, "Kept: left")
    (kept,) = stored(served_copy)
    assert (kept["kind"], kept["reason"]) == ("move_event", REASON)
    assert kept["time_s"] == pytest.approx(old_s, abs=2e-3)
    assert lines(page)[1] == pytest.approx(kept["new_time_s"], abs=2e-3)
    page.locator("#walks-changes summary", has_text="Other measures").first.click()
    changed = page.inner_text("#walks-changes")
    assert re.search(r"Stride time\s+left", changed) and "Strides counted" in changed
    give_reason(page, "moved the wrong one")
    page.get_by_role("button", name="Undo: left").click()
    says(page, "Kept: undone")
    assert stored(served_copy) == []
    assert lines(page) == before


def test_a_time_is_typed_and_kept_with_the_keyboard_alone(open_page, served_copy):
    """Reason, event, time, move, all by keys; the focus stays where it was."""
    page = open_walk(open_page, served_copy)
    keys = page.keyboard
    page.get_by_role("textbox", name="Reason").focus()
    keys.type(REASON)
    keys.press("Escape")
    keys.press("Tab")
    keys.press("Enter")
    options = page.locator("[role=option]:has-text(' s: ')")
    options.nth(1).wait_for()
    for _ in range(2):
        keys.press("ArrowDown")
        page.wait_for_selector("[role=option][data-combobox-selected]:has-text(' s: ')")
    keys.press("Enter")
    event = page.get_by_role("textbox", name="Event").first
    until(page, "field => field.value !== ''", event.element_handle())
    chosen = event.input_value()
    old_s = float(chosen.split()[0])
    field = page.get_by_role("textbox", name="New time (s)")
    until(page, "field => field.value !== ''", field.element_handle())
    keys.press("Tab")
    assert page.evaluate("document.activeElement.value") == field.input_value()
    keys.press("Control+a")
    keys.type(f"{old_s + 0.03:.3f}")
    page.wait_for_selector("#walks-proposal:has-text('not kept yet')")
    keys.press("Tab")
    keys.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Move the event"
    keys.press("Enter")
    says(page, "Kept:")
    (kept,) = stored(served_copy)
    assert kept["new_time_s"] == pytest.approx(old_s + 0.03, abs=1e-3)
    assert page.evaluate("document.activeElement.textContent") == "Move the event"


def test_a_second_person_is_told_and_overwrites_nothing(open_page, served_copy):
    """Two pages show one walk; the later change is refused, says whose came first, then works."""
    first, second = (open_walk(open_page, served_copy) for _ in range(2))
    for page, stride in ((first, "left-01"), (second, "left-02")):
        give_reason(page)
        page.get_by_role("button", name=f"Exclude {stride}").click()
        says(page, "Kept: left stride" if page is first else "Nothing was changed: tester")
    assert len(stored(served_copy)) == 1
    assert "Show it as it is now" in second.inner_text(".message")
    second.get_by_role("button", name="Show it as it is now").click()
    second.wait_for_selector("#walks-strides td:has-text('excluded by a person: seen on video')")
    give_reason(second)
    second.get_by_role("button", name="Exclude left-02").click()
    says(second, "Kept: left stride")
    assert len(stored(served_copy)) == 2


def test_a_stride_is_excluded_with_its_reason(open_page, served_copy):
    """It counts no longer, with its reason; focus goes to what changed; looked at, it waits not."""
    page = open_walk(open_page, served_copy)
    give_reason(page, "stumbled or stopped")
    page.get_by_role("button", name="Exclude right-02").focus()
    page.keyboard.press("Enter")
    says(page, "Kept: right stride")
    row = page.locator("#walks-strides tr:has-text('right-02')")
    assert "no: excluded by a person: stumbled or stopped" in row.inner_text()
    assert "8 of 10 before, 7 of 10 now" in page.inner_text("#walks-changes")
    until(page, "document.activeElement.id === 'walks-changes-place'")
    assert stored(served_copy)[0]["kind"] == "exclude_stride"
    looked_at_ends_the_waiting(page, served_copy)


def test_the_cursor_moves_the_stick_figure(open_page, served):
    """The slider by keys, a click on a line, and playing; another walk is chosen by keys too."""
    page = open_walk(open_page, served)
    shown = recording_view.look_at(served.study, WalkMemory(), place(served).id)
    frames = stick_frames(shown.result)
    x0, x1, left, width, y0, y1, top, height = replay(shown.result)["stick"]["frame"]

    def knee():
        point = page.locator("#walks-stick .walks-legs g:first-child circle").nth(2)
        cx, cy = (float(point.get_attribute(name)) for name in ("cx", "cy"))
        return [x0 + (cx - left) / width * (x1 - x0), y1 - (cy - top) / height * (y1 - y0)]

    page.get_by_role("slider", name="Time cursor").focus()
    for _ in range(8):
        page.keyboard.press("ArrowRight")
    page.wait_for_selector("#walks-now:has-text('0.080 s')")
    frame = round(0.08 / frames["step_s"])
    expected = [frames[axis][0][frame][2] for axis in ("x", "y")]
    assert knee() == pytest.approx(expected, abs=0.002)
    assert expected != [frames[axis][0][0][2] for axis in ("x", "y")]
    cursor = page.locator(f"{LEFT} .walks-cursor").bounding_box()
    assert cursor["x"] == pytest.approx(pixel(page, 0.08)[0], abs=2)
    page.mouse.click(*pixel(page, 1.0))
    page.wait_for_selector("#walks-now:has-text('1.0')")
    page.get_by_role("button", name="Play").click()
    until(page, "parseFloat(document.getElementById('walks-now').textContent) > 1.3")
    page.get_by_role("button", name="Stop").click()
    page.wait_for_selector("button:has-text('Play')")
    choosing_another_walk_shows_it_and_keeps_the_person(page, served)


def looked_at_ends_the_waiting(page, served_copy):
    """Somebody finds a walk right: it stays as it was, and the history says who looked."""
    give_reason(page, "looked at, nothing to correct")
    page.get_by_role("button", name="Looked at: it is right").click()
    says(page, "Kept: looked at and found right")
    assert "tester" in page.inner_text("#walks-history tbody tr:first-child")
    assert "No headline measure changed" in page.inner_text("#walks-changes")
    assert "looked_at" in {row["kind"] for row in stored(served_copy)}


def test_several_walks_are_corrected_at_once(open_page, served_copy):
    """Those that are ticked, with one reason; without one, nothing; each can be undone alone."""
    page = open_walk(open_page, served_copy)
    page.get_by_text("Correct several walks at once").click()
    boxes = page.get_by_role("checkbox")
    boxes.first.wait_for()
    assert boxes.count() > 4 and all(box.is_checked() for box in boxes.all())
    names = [f"{PLACE[:-1]}{number}" for number in (1, 2)]
    ticked = json.dumps([str(place(served_copy, name).id) for name in names])
    page.evaluate(f"dash_clientside.set_props('walks-several', {{value: {ticked}}})")
    page.get_by_role("button", name="Leave all of these out").click()
    says(page, "no reason yet")
    give_reason(page, "carried a bag")
    page.get_by_role("button", name="Leave all of these out").click()
    says(page, "Kept: 2 of 2 walks")
    for name in names:
        (kept,) = stored(served_copy, name)
        assert (kept["kind"], kept["reason"]) == ("exclude_walk", "carried a bag")
    assert stored(served_copy, f"{PLACE[:-1]}3") == []
    page.wait_for_selector(".walks-list [aria-current]:has-text('0 of')")
    assert page.locator(".walks-list .here:has-text('wait')").count() == 0


def choosing_another_walk_shows_it_and_keeps_the_person(page, served):
    """Visit, then walk, by keyboard; the choice of the tab follows, the focus stays in the list."""
    page.get_by_role("button", name="visit-2").focus()
    page.keyboard.press("Enter")
    page.wait_for_selector(".walks-place h2:has-text('visit-2')")
    page.get_by_role("button", name="without-brace, walk-1").focus()
    page.keyboard.press("Enter")
    page.wait_for_selector(".walks-place h2:has-text('visit-2, without-brace, walk-1')")
    until(page, "document.activeElement.getAttribute('aria-current') === 'true'")
    choice = page.evaluate("JSON.parse(sessionStorage.getItem('choice'))")
    assert choice["person"] == 1
    with served.study.read() as connection:
        assert known_trial(connection, choice["trial"])[0].visit == "visit-2"


def everything(component):
    """Yield a component and all that is in it."""
    yield component
    children = getattr(component, "children", None)
    for child in children if isinstance(children, (list, tuple)) else [children]:
        if child is not None and not isinstance(child, (str, int, float)):
            yield from everything(child)


def filled_by(study, trial_id, who):
    """Return what fills the places of the screen by their names, and the trial."""
    shown = recording_view.look_at(study, WalkMemory(), trial_id)
    return by_name(walk_page.filled(shown, who)), shown


def by_name(parts):
    return {json.dumps(name): properties for name, properties in parts}


def words_of(found):
    texts = [one for properties in found.values() for one in properties.get("children", ())]
    return " ".join(map(str, texts))


def drawn_of(found):
    data = found[json.dumps(walk_page.DRAWN)]["data"]
    return json.loads(data) if data else None


def is_of(found):
    """Return what the whole screen says that it shows."""
    return set(found[json.dumps(walk_page.BODY)]["className"].split())


def test_without_the_right_to_edit_there_is_nothing_to_edit_with(served):
    """No field, no button that changes the study; the same walk has them for an editor."""
    trial, kinds, pressed, dragged = place(served), {}, {}, {}
    for who in (VIEWER, EDITOR):
        parts = list(everything(walk_page.places(who)))
        ids = [one.id for one in parts if isinstance(getattr(one, "id", None), dict)]
        found, _ = filled_by(served.study, trial.id, who)
        named = [json.loads(name) for name in found]
        kinds[who.name] = {one["type"] for one in [*ids, *named] if isinstance(one, dict)}
        words = " ".join(str(one) for one in parts) + words_of(found)
        pressed[who.name] = set(re.findall(r"&#34;what&#34;: &#34;(\w+)|\"what\": \"(\w+)", words))
        dragged[who.name] = drawn_of(found)["lines"]
        assert ("form" in is_of(found)) == (who is EDITOR)
        assert len(drawn_of(found)["figures"]) == 2
    assert {"walks-field", "walks-take"} <= kinds["editor"]
    assert kinds["viewer"] == {"walks-player"}
    acts = {one or other for one, other in pressed["editor"]}
    assert {"move", "delete", "add", "swap", "confirm", "exclude"} <= acts
    assert pressed["viewer"] == set()
    assert dragged["viewer"] is None and len(dragged["editor"]["left"]) > 4


@pytest.mark.parametrize(("person", "side"), [("P01", "left"), ("P02", "right")])
def test_the_affected_leg_comes_first(served, person, side):
    """Its curves, on paper too, and its strides; the other leg's follow."""
    with served.study.read() as connection:
        number = id_of(connection, person)
    found = by_name(walk_page.show(served.study, WalkMemory(), {"person": number}, VIEWER))
    drawn = drawn_of(found)
    assert drawn["leg"] == drawn["figures"][0]["side"] == side != drawn["figures"][1]["side"]
    strides = str(found[json.dumps(walk_page.STRIDES)]["children"])
    sides = list(dict.fromkeys(re.findall(r"(left|right)-\d\d", strides)))
    assert sides[0] == side and len(sides) == 2


@pytest.mark.parametrize(
    ("name", "why"),
    [
        ("P03/visit-1/with-brace/walk-1", "no markers: there is nothing to replay"),
        ("P04/visit-1/with-brace/walk-1", "there is no time to replay"),
    ],
)
def test_a_sheet_shows_its_angles_and_why_it_is_not_replayed(sheets, name, why):
    """Both kinds of sheet: graphs, strides to exclude, and the reason in words."""
    with sheets.read() as connection:
        trial = find_trial(connection, name)
    found, shown = filled_by(sheets, trial.id, EDITOR)
    timed, drawn = recording_view.is_over_time(shown.result), drawn_of(found)
    assert why in words_of(found) + json.dumps(drawn["stick"])
    assert len(drawn["figures"]) == 2
    assert is_of(found) == {"chosen", "measured", "form"} | ({"timed"} if timed else set())
    assert "&#34;exclude&#34;" in words_of(found)


def test_what_cannot_be_measured_says_why_and_a_standing_trial_what_it_is(served, tmp_path):
    """The reason of the reader stands there; the standing trial is named by its walks."""
    standing = place(served, "P01/visit-1/with-brace/standing/with-brace")
    found, _ = filled_by(served.study, standing.id, EDITOR)
    assert "This is a standing trial" in words_of(found)
    assert is_of(found) == {"chosen", "form"}
    found, shown = filled_by(served.study, place(served).id, VIEWER)
    assert "standing trial standing/with-brace" in words_of(found)
    path = tmp_path / "gone.c3d"
    path.write_bytes(b"nothing of use")
    result = WalkMemory().measured(Recording(InputFile(path)))
    assert isinstance(result, RefusedFile)
    refused = recording_view.ShownTrial(shown.trial, "walk", result, False, "", [], {})
    found = by_name(walk_page.filled(refused, EDITOR))
    assert escape(result.error.what) in words_of(found)
    assert is_of(found) == {"chosen"}
    assert drawn_of(found) is None


def test_how_well_markers_were_seen_is_told(served, sheets):
    """Share of frames, noise and lengths, to be opened; a sheet has no markers to tell of."""

    def told(study, trial):
        shown = recording_view.look_at(study, WalkMemory(), trial.id)
        return repr(recording_view.facts(shown, shown.result))

    said = told(served.study, place(served))
    assert "seen in every frame: all" in said
    assert "noise of a coordinate from frame to frame" in said
    assert "left_shank" in said
    with sheets.read() as connection:
        sheet = find_trial(connection, "P03/visit-1/with-brace/walk-1")
    assert "seen in every frame" not in told(sheets, sheet)


def test_the_memory_measures_once_and_forgets_the_oldest(served):
    """The same recording gives the same object; others than the last few are let go."""
    memory, study = WalkMemory(), served.study
    trial = place(served)
    first = recording_view.look_at(study, memory, trial.id).result
    assert recording_view.look_at(study, memory, trial.id).result is first
    for number in range(MOST_WALKS):
        memory.keep(Recording(InputFile(first.path, str(number))), first)
    assert recording_view.look_at(study, memory, trial.id).result is not first


def test_without_a_person_the_browser_has_nothing_to_complain_about(open_page, served):
    """No player stands on the screen: nothing asks for its time."""
    page, said = open_page(served, "/"), []
    page.on("console", lambda message: said.append(message.text))
    page.goto(f"{served.base}/walks")
    page.wait_for_selector("main :text('Choose a person')")
    settle(page)
    assert said == []

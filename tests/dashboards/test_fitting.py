"""A fitting as an orthotist records it: two visits by pressing and typing, counted."""

from gaittrack.study.history import entries
from gaittrack.study.people.enrolled import id_of
from gaittrack.study.people.facts import facts_of_person
from gaittrack.study.people.things import aims_of, braces_of
from gaittrack.study.results.comparing import compare_stored, conditions_of
from tests.dashboards.axe_check import violations
from tests.dashboards.settled import cut_off, settle
from tests.made_up_files import write_walk

SLOW_MS = 25_000
MOST_AT_FIRST, MOST_LATER = 60, 2
READY = "Look at 2 ready files"


class Presses:
    """A page whose presses are counted: a click, or a field that is typed into."""

    def __init__(self, page):
        self.page, self.n = page, 0

    def press(self, locator):
        locator.click()
        self.n += 1

    def type(self, name, text, place=0):
        self.page.get_by_role("textbox", name=name, exact=True).nth(place).fill(text)
        self.n += 1

    def pick(self, name, word, place=0):
        self.press(self.page.get_by_role("textbox", name=name, exact=True).nth(place))
        self.press(self.page.get_by_role("option", name=word, exact=True).locator("visible=true"))

    def scale(self, name, word):
        group = self.page.get_by_role("radiogroup", name=name, exact=True)
        self.press(group.get_by_text(word, exact=True))

    def open(self, summary):
        self.press(self.page.locator("summary").get_by_text(summary))

    def act(self, name):
        self.press(self.page.get_by_role("button", name=name))


def walks_in(folder, seed):
    """Write a walk without and one with a brace."""
    for place, name in enumerate(("without-brace", "with-brace")):
        (folder / name).mkdir(parents=True)
        write_walk(folder / name / f"walk-{place + 1}.c3d", seed=seed + place)
    return folder


def drop(page, folder):
    page.set_input_files("#add-walks-folder-input", str(folder))
    page.get_by_role("button", name=READY).wait_for()


def store(presses):
    presses.act(READY)
    presses.act("Store 2 files")
    presses.page.wait_for_selector("text=What became of the files")


def new_screen(open_page, served, **how):
    page = open_page(served, "/add-walks", **how)
    page.set_default_timeout(SLOW_MS)
    page.wait_for_selector("#add-walks-worn fieldset", state="attached")
    page.wait_for_selector("#add-walks-files-input", state="attached")
    return page


def say_who_and_what(presses):
    page = presses.page
    presses.type("Person", "N01")
    page.wait_for_selector("text=N01 is new")
    presses.act("Say what was worn")
    page.wait_for_selector("#add-walks-visit details")
    presses.pick("Affected side", "left")
    presses.pick("Cause", "stroke")
    presses.pick("Sex", "female")
    presses.pick("Side of the orthosis", "left", 1)
    for place in (0, 1):
        presses.pick("Footwear", "walking shoe", place)
        presses.pick("Walking aid", "none", place)
    presses.press(page.locator("summary", has_text="More about orthosis").nth(1))
    presses.pick("Type of the orthosis", "dorsal-leaf")


EXAMINED = {
    **{
        f"strength of the {muscle}, left": "4"
        for muscle in ("quadriceps", "plantarflexors", "hip flexors", "hip abductors")
    },
    "strength of the dorsiflexors, left": "2",
    "muscle tone of the calf, left": "1+",
    "clonus of the ankle, left": "none",
    "light touch at the foot, left": "reduced",
    "foot correctable to neutral, left": "yes",
    "mediolateral stability of the ankle under load, left": "tilts into varus",
    "skin after wear, left": "clear",
}


def examine(presses):
    presses.open("Body and examination of that day")
    for name, word in EXAMINED.items():
        presses.scale(name, word)
    presses.type("passive dorsiflexion, knee straight (°), left", "5")
    presses.type("passive dorsiflexion, knee bent (°), left", "1000")


def aim(presses):
    presses.open("Aims of the fitting")
    presses.pick("Aim", "how the toe clears the floor")
    presses.type("What counts as reached", "no catching on the carpet")
    presses.pick("Aim", "how the toe clears the floor", 1)


def test_two_visits_are_recorded_in_few_presses(open_page, served_copy, tmp_path):
    """A new person with brace, shoe, one leg and an aim; later only what was examined anew."""
    study = served_copy.study
    with study.read() as connection:
        before = len(entries(connection))
    page = new_screen(open_page, served_copy)
    first = Presses(page)
    say_who_and_what(first)
    examine(first)
    aim(first)
    first.act("Back to the files")
    drop(page, walks_in(tmp_path / "one", 3))
    refused_beside_the_fields(page, study, before)
    page.set_viewport_size({"width": 390, "height": 844})
    for theme in ("Dark", "Light"):
        page.get_by_role("button", name=theme, exact=True).click()
        settle(page)
        assert not page.evaluate("document.documentElement.scrollWidth > innerWidth"), cut_off(page)
        assert theme == "Light" or violations(page) == []
    page.set_viewport_size({"width": 1280, "height": 900})
    store(first)
    assert first.n <= MOST_AT_FIRST
    with study.read() as connection:
        number = id_of(connection, "N01")
        brace = braces_of(connection, number)["B1"]
        assert [each["aim_question"] for each in aims_of(connection, number).values()] == [
            *("how the toe clears the floor", "how the person walks"),
        ]
    assert brace.facts == {"orthosis_side": "left", "orthosis_class": "dorsal-leaf"}
    assert facts_of_person(study, number).visits[0].facts["left_tone"] == "1+"
    second_visit(open_page, served_copy, number, tmp_path)


def refused_beside_the_fields(page, study, before):
    """Enter what cannot be: it is said where it was entered, one by one; nothing is stored."""
    presses = Presses(page)
    presses.act(READY)
    said = "Passive dorsiflexion, knee bent (°), left is 1000. Give a number from -90 to 60 deg."
    page.get_by_text(said).wait_for()
    presses.type("passive dorsiflexion, knee bent (°), left", "10")
    presses.act("Back to the files")
    presses.act(READY)
    page.get_by_text("Aim is that of aim A1 too.").wait_for()
    assert page.locator("[aria-invalid=true]").count() == 1
    with study.read() as connection:
        assert len(entries(connection)) == before
    presses.pick("Aim", "how the person walks", 1)
    presses.act("Back to the files")


def second_visit(open_page, served, number, tmp_path):
    """Brace, setting, shoe and aid stand there; order and markers put on again are asked anew."""
    page = new_screen(open_page, served, choice={"person": number})
    page.wait_for_selector("text=known, last visit visit-1")
    page.get_by_role("button", name="Something changed").click()
    last = page.locator("[data-leg-field*=left_tone] .as-last input")
    last.wait_for(state="attached")
    assert last.input_value() == "1+"
    value = "nodes => nodes.map(each => each.value)"
    for name, wanted in {
        "Brace": ["", "B1"],
        "Setting of the brace": ["", "a"],
        "Footwear": ["walking shoe"] * 2,
        "Place in the order of the day": ["", ""],
        "Markers put on again": ["", ""],
    }.items():
        fields = page.get_by_role("textbox", name=name, exact=True, include_hidden=True)
        assert fields.evaluate_all(value) == wanted, name
    assert page.get_by_role("textbox", name="Side of the orthosis").count() == 1, "no brace"
    page.get_by_role("button", name="Back to the files").click()
    later = Presses(page)
    drop(page, walks_in(tmp_path / "two", 13))
    store(later)
    assert later.n <= MOST_LATER
    found = conditions_of(served.study, number)
    worn = {(each.visit, each.code): each.worn for each in found}
    assert worn["visit-2", "with-brace"].orthosis_class == "dorsal-leaf"
    visit = facts_of_person(served.study, number).visits[1].facts
    assert visit["left_tone"] is None, "not examined"
    own = [each.id for each in found if each.visit == "visit-2"]
    compared = compare_stored(served.study, own, reference=own[0], with_curves=False).comparison
    aims = ["how_the_toe_clears_the_floor", "how_the_person_walks"]
    assert compared.settings["aims"] == aims

"""Whatever the registry of facts has goes all the way, from either kind of file and from forms.

The values are made from the registry, so a new line of it is tried by itself: file, database,
correction with history, words, export and dictionary.
"""

import csv
import json

import pytest

from dashboards.overview.about_person import FORM, given_in, keep_form, opened_form
from dashboards.parts.fact_fields import RATING
from gaittrack.cohort.disclosure.counted_facts import counted_closed
from gaittrack.cohort.disclosure.known_facts import word_of_value
from gaittrack.cohort.disclosure.protection import unprotected
from gaittrack.cohort.export import ExportOptions
from gaittrack.cohort.people.deidentify import deidentify
from gaittrack.cohort.people.from_study import cohort_source
from gaittrack.cohort.people.leaving import BANDED_IN_EXPORTS, columns_of, leaving
from gaittrack.cohort.release.allow_list import allowed
from gaittrack.cohort.release.dictionary import TABLES
from gaittrack.cohort.tables.selection import EVERYBODY
from gaittrack.cohort.tables.table import (
    aims_table,
    conditions_table,
    legs_table,
    people_table,
    ratings_table,
    settings_table,
    visits_table,
)
from gaittrack.record.checking import ratings_of
from gaittrack.record.registry import CONDITION, FACTS, LEG, LINES, OF_BRACE, leg_name
from gaittrack.record.wording import NOT_RECORDED, full_label, said_of
from gaittrack.study.history import entries
from gaittrack.study.people.description import AT_THE_VISIT
from gaittrack.study.people.fact_changes import add_thing, change_facts, recorded
from gaittrack.study.people.facts import facts_of_person
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import plan_folders
from gaittrack.study.recordings.planning_sheet import plan_sheet
from gaittrack.study.results.comparing import conditions_of
from gaittrack.study.store import create_study
from tests.cohort.whole_source import export_cohort
from tests.made_up_files import write_walk

CANARY = "Zachariah Quill"
"""In every note: no byte of an export may hold it."""
NOT_IN_FORMS = tuple(n for n, fact in CONDITION.items() if fact.asked == "of the recording")
NOT_GIVEN = ("standing_trial",)
"""A file: a column of its own in a sheet, tested there."""
COUNTED = "days_since_first_visit"
"""In an export it is counted from the days of the visits, whatever was written."""
FITTING = {
    "affected_side": ("left", "both"),
    "brace": ("B1", "B2"),
    "setting": ("a", "b"),
    "orthosis_made_on": ("2025-12-01", "2025-12-02"),
    "orthosis_fitted_on": ("2025-12-03", "2025-12-04"),
    "orthosis_adjusted_on": ("2025-12-05", "2025-12-06"),
    "orthosis_ended_on": ("2026-03-20", "2026-03-21"),
    "aim_level": ("A1: 0", "A1: 1"),
    "aim_set_on": ("2025-12-07", "2025-12-08"),
    "orthosis": ("ankle-foot orthosis", "other"),
    "orthosis_side": ("left", "both"),
    "markers_replaced": (True, None),
    "heel_height_mm": (25.5, 26.5),
    "fore_sole_height_mm": (12.0, 11.0),
    "heel_sole_differential_mm": (13.5, 15.5),
    "age_years": (31.0, 61.0),
    "age_band": ("30-39", "60-69"),
    "date": ("2026-03-17", "2026-03-18"),
}
"""Values that have to fit others; the second one is what it is corrected to."""
EVERY = [
    (part, name)
    for part, facts in FACTS.items()
    for name, fact in facts.items()
    if name not in NOT_GIVEN and fact.of in (part, "leg")
]
BY_NAME = {name: FACTS[part][name] for part, name in EVERY}


def value_of(fact, place, *, is_second=False):
    """Give a fact a value that no other one of its part has, and another one for a correction."""
    if fact.name in FITTING:
        return FITTING[fact.name][is_second]
    if fact.kind == "yes/no":
        return not is_second
    if fact.kind == "repeats":
        return "unable" if is_second else f"{place + 20.5:g}; {place + 22.5:g}"
    if fact.name.startswith("questionnaire_") and fact.kind == "number":
        return {"low": 0.0, "total": 40.0, "high": 90.0}[fact.name[14:]] + is_second
    if fact.kind == "date":
        return f"2026-02-{1 + place % 27:02d}" if not is_second else "2025-02-01"
    if fact.kind in ("number", "whole"):
        span = min(fact.high - fact.low, 100)
        value = fact.low + span * (0.25 + 0.5 * (place % 50) / 50) + is_second * span / 8
        return round(value) if fact.kind == "whole" else round(value, 2)
    if fact.list:
        return fact.words[(place + is_second) % 2]
    return f"{CANARY} {place} {is_second}"


VALUES = {
    name: (value_of(fact, n), value_of(fact, n, is_second=True))
    for n, (name, fact) in enumerate(BY_NAME.items())
}


def toml_of(values):
    return "\n".join(f"{name} = {json.dumps(value)}" for name, value in values.items()) + "\n"


def first_values(names):
    return {name: VALUES[name][0] for name in names if name in VALUES}


def by_toml(folder):
    visit = folder / "P01" / "v1"
    (visit / "brace").mkdir(parents=True)
    write_walk(visit / "brace" / "walk-1.c3d", seed=3)
    of_visit = [n for n, fact in FACTS["visit"].items() if not fact.side and n not in AT_THE_VISIT]
    text = "[person]\n" + toml_of(first_values((*FACTS["person"], *AT_THE_VISIT)))
    text += "[visit]\n" + toml_of(first_values(of_visit))
    for side in ("left", "right"):
        leg = {plain: VALUES[leg_name(side, plain)][0] for plain in LEG}
        text += f"[visit.{side}]\n" + toml_of(leg)
    text += "[braces.B1]\n" + toml_of(first_values(FACTS["brace"]))
    text += "[braces.B1.settings.a]\n" + toml_of(first_values(FACTS["setting"]))
    text += "[aims.A1]\n" + toml_of(first_values(FACTS["aim"]))
    own = [name for name, fact in CONDITION.items() if fact.of == "condition"]
    text += "[conditions.brace]\n" + toml_of(first_values(own))
    (visit / "conditions.toml").write_text(text)
    return plan_folders([folder])


def typed(fact, value):
    """Return a value as its input holds it."""
    if fact.kind == "yes/no":
        return "yes" if value else "no"
    return value.split(", ") if fact.kind == "several" else value


def repeat_in(repeats, box):
    """Return what stands in a box for one of the repeats of a test; nothing in those left over."""
    return repeats[int(box) - 1] if box.isdecimal() and int(box) <= len(repeats) else ""


def inputs_of(drawn):
    """Return the inputs of a form, by the fact that each asks for."""
    parts = [part for each in drawn for part in [each, *each._traverse()]]
    ids = [(part, getattr(part, "id", None)) for part in parts]
    return [(part, own) for part, own in ids if isinstance(own, dict) and own["type"] == FORM]


def fill(study, what):
    """Fill in every input of a form that a choice opens, as somebody would who saves it."""
    drawn, seen, _, _, code, _ = opened_form(study, what, {"person": 1})
    keys, values = [], []
    for part, key in inputs_of(drawn):
        name, _, box = key["name"].partition("#")
        value = VALUES[name][0]
        value = (
            str(ratings_of(value)[key["n"]])
            if name == RATING
            else repeat_in(value.split("; "), box)
            if box
            else typed(FACTS[key["part"]][name], value)
        )
        offered = getattr(part, "data", None)
        assert (
            offered is None
            or not value
            or {*(value if isinstance(value, list) else [value])} <= {*offered}
        )
        keys.append(key)
        values.append(value)
    keep_form(study, (what, {"person": 1}, seen), given_in(keys, values), (code, ""), "tester")


def by_form(folder, study):
    """Fill a study with nothing but a walk from the forms of the screen Overview."""
    visit = folder / "P01" / "v1"
    (visit / "brace").mkdir(parents=True)
    write_walk(visit / "brace" / "walk-1.c3d", seed=3)
    of_recording = toml_of(first_values(NOT_IN_FORMS))
    (visit / "conditions.toml").write_text(f"[person]\n[conditions.brace]\n{of_recording}")
    list(import_files(study, plan_folders([folder]), who="tester", new_people=True))
    things = ("new-brace:1", "new-setting:1", "new-aim:1")
    for what in ("person:1", *things, "visit:1", "condition:1"):
        fill(study, what)


def by_sheet(folder):
    write_walk(folder / "walk-1.c3d", seed=3)
    cells = {"file": "walk-1.c3d", "person": "P01", "visit": "v1", "condition": "brace"}
    cells["aim"] = "A1"
    cells |= {name: value[0] for name, value in VALUES.items()}
    words = {True: "yes", False: "no"}
    row = [words[each] if isinstance(each, bool) else each for each in cells.values()]
    with (folder / "list.csv").open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([list(cells), row])
    return plan_sheet(folder / "list.csv", [folder])


@pytest.fixture(scope="module", params=[by_toml, by_sheet, by_form])
def arrived(request, tmp_path_factory):
    """Give a study that was filled by one of these."""
    folder = tmp_path_factory.mktemp("files")
    study = create_study(tmp_path_factory.mktemp("study") / "study")
    if request.param is by_form:
        by_form(folder, study)
    else:
        rows = list(import_files(study, request.param(folder), who="tester", new_people=True))
        assert [row.state for row in rows if row.state != "passed over"] == ["added"], rows
    yield study
    study.close()


@pytest.fixture(scope="module")
def kept(arrived):
    """Give what is stored of the only person before anything is corrected."""
    return stored(arrived)


@pytest.fixture(scope="module")
def shown(arrived):
    """Give the rows of each table of an export of it."""
    clean, _ = deidentify(cohort_source(arrived))
    made = {
        "people": people_table(clean),
        "visits": visits_table(clean),
        "bodies": visits_table(clean),
        "legs": legs_table(clean),
        "conditions": conditions_table(clean),
        "settings": settings_table(clean),
        "aims": aims_table(clean),
        "ratings": ratings_table(clean),
    }
    everything = unprotected(counted_closed([clean]), least=1, selection=EVERYBODY)
    told = {name: allowed(name, everything.told(table)) for name, table in made.items()}
    return {name: table.to_dict("records") for name, table in told.items()}


def stored(study):
    """Return all that is stored of the only person, by part."""
    person = facts_of_person(study, 1)
    (worn,) = conditions_of(study, 1)
    of_visit = person.visits[0].facts
    things = {part: recorded(study, part, 1).facts for part in ("brace", "setting", "aim")}
    return {"person": person.facts, "visit": of_visit, "condition": worn.worn.facts, **things}


def test_no_fact_of_two_parts_has_the_same_name():
    """A sheet has one column for each, and a legs' fact may stand without its leg."""
    names = [fact.name for fact in LINES] + [name for _, name in EVERY]
    assert len(BY_NAME) == len(EVERY)
    assert {name for name in names if names.count(name) > 2} == set()


def test_every_value_of_the_test_says_something():
    """A correction changes it, but where a contradiction leaves no other value."""
    same = [name for name, (first, second) in VALUES.items() if first == second]
    assert same == []


def test_every_fact_is_stored_as_it_was_written(kept):
    """From a file with tables, from a sheet and from forms."""
    found = {name: kept[part][name] for part, name in EVERY}
    assert found == {name: first for name, (first, _) in VALUES.items()}


def test_every_fact_is_exported_or_not_as_its_line_says(shown):
    """In its table, a brace's also with what was worn: a word, a band or a number; else nowhere."""
    for part, name in EVERY:
        assert_leaves_as_said(shown, name, FACTS[part][name])


def assert_leaves_as_said(shown, name, fact):
    """Look for a fact in every row of every table."""
    found = [
        (table, row)
        for table, rows in shown.items()
        for row in rows
        if fact.plain in row and row.get("side", fact.side) in (fact.side, None)
    ]
    if fact.leaves == "never":
        assert found == [] or name == COUNTED, name
        return
    wanted = columns_of(fact, leaving(fact, VALUES[name][0]))
    if name in BANDED_IN_EXPORTS:
        wanted = {name: word_of_value(name, VALUES[name][0])}
    if fact.kind == "ratings":
        wanted = {name: ratings_of(VALUES[name][0])["A1"]}
    assert len(found) == 1 + (fact.of in OF_BRACE), name
    for _, row in found:
        assert {column: row[column] for column in wanted} == wanted
    assert not {None, NOT_RECORDED} & set(wanted.values()), name


def test_the_dictionary_has_what_leaves_and_nothing_else():
    """With unit, words and a definition."""
    of_facts = ("people", "visits", "bodies", "legs", "conditions", "settings", "aims", "ratings")
    fields = [field for table in of_facts for field in TABLES[table]]
    for fact in LINES:
        found = [field for field in fields if field.name == fact.plain]
        assert bool(found) is (fact.leaves != "never" or fact.name == COUNTED), fact.name
        for field in found:
            assert field.unit == fact.unit and field.definition, fact.name
            assert not fact.list or set(fact.words) <= set(field.levels), fact.name


def test_no_text_reaches_an_exported_byte(arrived, tmp_path):
    """Every note of people, visits, legs and conditions has the canary in it."""
    out, names = tmp_path / "out", tmp_path / "names.csv"
    options = ExportOptions(override_reason="test", with_bodies=True, with_curves=True)
    export_cohort(cohort_source(arrived), out, id_map=names, options=options)
    files = [path for path in out.rglob("*") if path.is_file()]
    assert files
    for path in files:
        assert b"Quill" not in path.read_bytes(), path.name


def another_brace(study):
    """Record what a correction of the condition names."""
    side = {"orthosis_side": "both"}
    add_thing(study, "brace", recorded(study, "person", 1), "B2", side, who="tester")
    add_thing(study, "setting", recorded(study, "brace", 2), "b", {}, who="tester")


@pytest.mark.parametrize("part", ["person", "visit", "brace", "setting", "aim", "condition"])
def test_every_fact_is_corrected_with_history_and_said_in_words(arrived, part):
    """One change of all; the history has what it was, the words what it is."""
    seen = recorded(arrived, part, 1)
    if part == "condition":
        another_brace(arrived)
    given = {name: VALUES[name][1] for place, name in EVERY if place == part}
    change_facts(arrived, seen, given, who="tester", why="all wrong")
    with arrived.read() as connection:
        last = entries(connection, person="P01")[-1]
    now = stored(arrived)[part]
    for name, value in given.items():
        assert last["before"][name] == VALUES[name][0]
        assert last["after"][name] == value == now.get(name)
        fact = FACTS[part][name]
        assert full_label(fact) and said_of(fact, value)

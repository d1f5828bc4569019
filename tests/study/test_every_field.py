"""Whatever may be recorded of a person, a visit or what was worn arrives, from either kind of file.

Every field of the study's tables has a line here: what is written, and what an export shows of it.
A new field without a line fails.
"""

import csv
import json
import typing

import pytest
from sqlalchemy import select

from gaittrack.cohort.allow_list import allowed
from gaittrack.cohort.deidentify import deidentify
from gaittrack.cohort.from_study import cohort_source
from gaittrack.cohort.table import CONDITION_FIELDS, conditions_table, people_table, visits_table
from gaittrack.compare.condition import Condition
from gaittrack.study.people.description import AT_THE_VISIT, PERSON_FACTS, VISIT_FACTS
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import plan_folders
from gaittrack.study.recordings.planning_sheet import plan_sheet
from gaittrack.study.results.comparing import conditions_of
from gaittrack.study.store import create_study
from gaittrack.study.tables import CONDITION, PERSON, VISIT
from tests.made_up_files import write_walk

NOWHERE = object()
"""Free text, or a name: stays in the study."""

PERSON_VALUES = {
    "sex": ("woman", "people", "female"),
    "cause": ("stroke of the left side", "people", "stroke"),
    "affected_side": ("left", "people", "left"),
}
VISIT_VALUES = {
    "age_years": (61.5, "people", {"age_band": "60-69"}),
    "age_band": ("60-69", "people", "60-69"),
    "height_cm": (171.0, "bodies", "170-179"),
    "mass_kg": (83.0, "bodies", "80-89"),
    "months_since_onset": (7.0, "bodies", "6-11"),
    "number": (3, "visits", {"visit_no": 1}),
    "date": ("2026-03-17", "visits", {"days_since_baseline": 0.0}),
    "days_since_first_visit": (0.0, "visits", {"days_since_baseline": 0.0}),
    "kind": ("fitting of the brace", "visits", "fitting"),
    "quadriceps_strength": ("4+ of 5", "visits", "4"),
    "dorsiflexor_strength": ("1", "visits", "1"),
    "tone": ("spastic", "visits", "raised"),
    "clonus": ("sustained", "visits", "present"),
    "passive_dorsiflexion_knee_straight_deg": (3.0, "visits", 5.0),
    "passive_dorsiflexion_knee_bent_deg": (11.0, "visits", 10.0),
    "correctable_to_neutral": (False, "visits", False),
    "mediolateral_stability": ("tilts into varus", "visits", "tilts into varus"),
    "comfort": ("pinches XQ1", "visits", NOWHERE),
    "skin": ("red XQ2", "visits", NOWHERE),
    "wear": ("daily XQ3", "visits", NOWHERE),
}
WORN_VALUES = {
    "orthosis": ("ankle-foot orthosis XQ", "ankle-foot orthosis"),
    "orthosis_side": ("left", "left"),
    "orthosis_class": ("dorsal leaf", "dorsal-leaf"),
    "orthosis_make": ("bespoke XQ", "custom"),
    "orthosis_material": ("carbon XQ", "carbon fibre"),
    "footwear": ("trainer XQ", "shoe"),
    "footwear_other_side": ("boot XQ", "boot"),
    "walking_aid": ("stick XQ", "cane"),
    "hand_support": ("rail XQ", "rail"),
    "speed_instruction": ("usual XQ", "comfortable"),
    "surface": ("floor XQ", "level floor"),
    "orthosis_stiffness_n_m_per_deg": (1.75, 1.75),
    "orthosis_stiffness_direction": ("both", NOWHERE),
    "heel_height_mm": (25.5, 25.5),
    "fore_sole_height_mm": (12.0, 12.0),
    "heel_sole_differential_mm": (13.5, 13.5),
    "order": (2, 2),
    "orthosis_tuned": (True, True),
    "same_footwear": (False, False),
    "order_randomised": (True, True),
    "markers_replaced": (True, True),
    "markers_put_on_again": ("foot, shank", NOWHERE),
}
"""Words of lists and values with rules; the other fields are filled below by their kind."""
NOT_GIVEN = {"name", "standing_trial"}
"""The condition's own name, and a file: columns of their own in a sheet, tested there."""


def worn_values():
    """Give every field of a condition a value of its own, so that no two can be mixed up."""
    found = {}
    for place, (name, hint) in enumerate(typing.get_type_hints(Condition).items()):
        kinds = typing.get_args(hint)
        if name in NOT_GIVEN:
            continue
        if name in WORN_VALUES:
            found[name] = WORN_VALUES[name]
        elif float in kinds:
            found[name] = (place + 0.25, place + 0.25)
        else:
            assert str in kinds, f"{name}: give it a line in WORN_VALUES"
            found[name] = (f"words {place} XQ", NOWHERE)
    return found


WORN = worn_values()
GIVEN = {name: value[0] for name, value in (PERSON_VALUES | VISIT_VALUES).items()}


def toml_of(values):
    return "\n".join(f"{name} = {json.dumps(value)}" for name, value in values.items())


def by_toml(folder):
    visit = folder / "P01" / "v1"
    (visit / "brace").mkdir(parents=True)
    write_walk(visit / "brace" / "walk-1.c3d", seed=3)
    person = {name: GIVEN[name] for name in (*PERSON_FACTS, *AT_THE_VISIT)}
    facts = {name: GIVEN[name] for name in VISIT_FACTS}
    worn = {name: value[0] for name, value in WORN.items()}
    text = f"[person]\n{toml_of(person)}\n[visit]\n{toml_of(facts)}\n[conditions.brace]\n"
    (visit / "conditions.toml").write_text(text + toml_of(worn))
    return plan_folders([folder])


def by_sheet(folder):
    write_walk(folder / "walk-1.c3d", seed=3)
    cells = {"file": "walk-1.c3d", "person": "P01", "visit": "v1", "condition": "brace"}
    cells |= GIVEN | {name: value[0] for name, value in WORN.items()}
    words = {True: "yes", False: "no"}
    row = [words[each] if isinstance(each, bool) else each for each in cells.values()]
    with (folder / "list.csv").open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([list(cells), row])
    return plan_sheet(folder / "list.csv", [folder])


@pytest.fixture(scope="module", params=[by_toml, by_sheet])
def arrived(request, tmp_path_factory):
    """Give a study that was filled by one of both, and its tables as exported."""
    folder = tmp_path_factory.mktemp("files")
    study = create_study(tmp_path_factory.mktemp("study") / "study")
    plan = request.param(folder)
    rows = list(import_files(study, plan, who="tester", new_people=True))
    assert [row.state for row in rows if row.state != "passed over"] == ["added"], rows
    clean, _ = deidentify(cohort_source(study))
    made = {
        "people": people_table(clean),
        "visits": visits_table(clean),
        "bodies": visits_table(clean),
        "conditions": conditions_table(clean),
    }
    yield study, {name: allowed(name, table) for name, table in made.items()}
    study.close()


def test_every_field_has_a_line():
    """A column or a field that is added needs a value here, and a decision on the export."""
    assert set(PERSON_VALUES) == set(PERSON.c.keys()) - {"id", "code"} == set(PERSON_FACTS)
    assert set(VISIT_VALUES) == set(VISIT.c.keys()) - {"id", "person_id", "code"}
    assert set(WORN) == set(typing.get_type_hints(Condition)) - NOT_GIVEN
    exported = {name for name, (_, shown) in WORN.items() if shown is not NOWHERE}
    assert exported == set(CONDITION_FIELDS)


@pytest.mark.parametrize("name", [*PERSON_VALUES, *VISIT_VALUES])
def test_a_fact_is_stored_as_it_was_written(arrived, name):
    """The row of the person or the visit holds it."""
    table = PERSON if name in PERSON_VALUES else VISIT
    with arrived[0].read() as connection:
        assert connection.execute(select(table.c[name])).scalar_one() == GIVEN[name]


@pytest.mark.parametrize("name", WORN)
def test_what_was_worn_is_stored_and_read_as_it_was_written(arrived, name):
    """The row holds it, and the condition that screens and commands show has it."""
    study, value = arrived[0], WORN[name][0]
    with study.read() as connection:
        stored = json.loads(connection.execute(select(CONDITION.c.description)).scalar_one())
        person = connection.execute(select(PERSON.c.id)).scalar_one()
    assert stored[name] == value
    (shown,) = conditions_of(study, person)
    assert getattr(shown.worn, name) == value


@pytest.mark.parametrize("name", [*PERSON_VALUES, *VISIT_VALUES])
def test_a_fact_is_exported_in_closed_words_or_not_at_all(arrived, name):
    """In its table, as a word of its list, a band or a rounded number."""
    _, table, shown = (PERSON_VALUES | VISIT_VALUES)[name]
    (row,) = arrived[1][table].to_dict("records")
    if shown is NOWHERE:
        assert not any(name in columns for columns in arrived[1].values())
        return
    wanted = shown if isinstance(shown, dict) else {name: shown}
    assert {key: row[key] for key in wanted} == wanted


@pytest.mark.parametrize("name", WORN)
def test_what_was_worn_is_exported_in_closed_words_or_not_at_all(arrived, name):
    """Numbers and yes/no as they are, words of lists as such, other text nowhere."""
    shown = WORN[name][1]
    (row,) = arrived[1]["conditions"].to_dict("records")
    if shown is NOWHERE:
        assert name not in row
        return
    assert row[name] == shown and type(row[name]) is type(shown)


def test_no_free_text_is_in_any_table(arrived):
    """Every text above has the same two letters in it, which no closed word has."""
    for table in arrived[1].values():
        assert not any("XQ" in str(cell) for cell in table.to_numpy().ravel())

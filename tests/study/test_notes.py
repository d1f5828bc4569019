"""Notes are found again, and stay in the laboratory."""

import pytest
from click.testing import CliRunner

from gaittrack.commands import main
from gaittrack.record.registry import LINES
from gaittrack.study.history import entries
from gaittrack.study.people.fact_changes import change_facts, recorded
from gaittrack.study.people.notes import find_notes
from gaittrack.study.store import create_study
from tests.study.test_things import AIMED, FITTED, WORN, keep


@pytest.fixture
def noted(tmp_path):
    """Give a study with a note on a person, a visit, a brace and a setting."""
    study = create_study(tmp_path / "study")
    keep(study, FITTED + AIMED + WORN.format("a"))
    for part, name in (
        ("person", "person_notes"),
        ("visit", "visit_notes"),
        ("brace", "orthosis_notes"),
        ("setting", "orthosis_change"),
    ):
        change_facts(study, recorded(study, part, 1), {name: f"Squeaks, {part}"}, who="tester")
    yield study
    study.close()


def test_notes_are_found_by_their_words(noted):
    """Case aside; one of a brace stands once, not wherever the brace was worn."""
    found = find_notes(noted, "squeaks")
    assert [each.place for each in found] == ["P01", "P01/v1", "P01/B1", "P01/B1/a"]
    assert [each.text for each in find_notes(noted, "KS, BRACE")] == ["Squeaks, brace"]
    assert find_notes(noted, "hinge") == []
    assert {each.text for each in found} < {each.text for each in find_notes(noted)}


def test_notes_stand_in_the_history(noted):
    """Who wrote it, and when."""
    with noted.read() as connection:
        last = entries(connection, person="P01")[-4:]
    assert [each["what"].partition(" ")[2] for each in last] == [
        "person",
        "visit",
        "brace",
        "setting",
    ]
    assert all("Squeaks" in str(each["after"]) and each["who"] == "tester" for each in last)


def test_no_note_may_leave():
    """Whatever line of the registry holds text leaves never."""
    assert {fact.leaves for fact in LINES if fact.kind == "note"} == {"never"}


def test_the_command_lists_them(noted):
    """Where each stands, what it is of, and its words."""
    noted.close()
    found = CliRunner().invoke(main, ["study", "notes", "BRACE", "--study", str(noted.folder)])
    assert found.output == "P01/B1: notes on the brace: Squeaks, brace\n"

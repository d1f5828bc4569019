"""Words of no closed list: kept as they were written, asked about, and settled once for good."""

import pytest

from gaittrack.cohort.people.deidentify import deidentify
from gaittrack.cohort.people.from_study import cohort_source
from gaittrack.errors import LayoutError
from gaittrack.study.history import entries, faults
from gaittrack.study.people.asked_words import asked_words, settle_words, told_weakness
from gaittrack.study.people.fact_changes import change_facts, recorded
from gaittrack.study.people.facts import facts_of_person
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import plan_folders
from gaittrack.study.store import create_study
from tests.study.conftest import write_visit

TYPED = "hemiplegia, not a stroke"


def ask(study):
    """Give the person a cause that is in no list."""
    change_facts(study, recorded(study, "person", 1), {"cause": TYPED}, who="Ada", why="letter")


def waiting(study):
    return [(one.list, one.typed, one.becomes) for one in asked_words(study) if not one.is_settled]


def exported_cause(study):
    clean, _ = deidentify(cohort_source(study, with_walks=False))
    return clean.people["cause"].tolist()


def test_it_leaves_as_other_until_somebody_says_what_it_means(study):
    """Then the fact is the word of the list, and the history of the person has what was written."""
    ask(study)
    assert waiting(study) == [("cause", TYPED, "other")]
    assert exported_cause(study) == ["other"]
    n = settle_words(study, {"cause": {TYPED.upper(): "brain injury"}}, who="Ada", why="asked")
    assert (n, waiting(study), exported_cause(study)) == (1, [], ["brain injury"])
    assert facts_of_person(study, 1).facts["cause"] == "brain injury"
    with study.read() as connection:
        assert faults(connection) == []
        last = entries(connection, person="P01")[-1]
    assert (last["before"], last["after"]) == ({"cause": TYPED}, {"cause": "brain injury"})
    (known,) = asked_words(study)
    assert (known.typed, known.becomes, known.is_settled) == (TYPED, "brain injury", True)


def test_nobody_is_asked_twice(study, tmp_path):
    """What comes later in the same words is the word of the list at once, also when known."""
    settle_words(study, {"footwear": {"Quill's shoes": "sandal"}}, who="Ada")
    folder = write_visit(tmp_path / "P01" / "visit-3", number=3, days=60, seed=9, standing=False)
    path = folder / "conditions.toml"
    path.write_text(path.read_text().replace('"shoe"', '"quill\'s  shoes"'))
    for state in ("added", "known"):
        rows = list(import_files(study, plan_folders([folder]), who="tester"))
        assert {row.state for row in rows} == {state}, rows
    assert waiting(study) == []


def test_an_import_tells_words_of_no_list_once(study, tmp_path):
    """With the fact and what becomes of it; the files go in."""
    folder = write_visit(tmp_path / "P01" / "visit-3", number=3, days=60, seed=9, standing=False)
    path = folder / "conditions.toml"
    path.write_text(path.read_text().replace('"shoe"', '"orthopaedic slipper"', 1))
    rows = list(import_files(study, plan_folders([folder]), who="tester"))
    (told,) = [row.message for row in rows if "slipper" in row.message]
    assert "exported as other: footwear: orthopaedic slipper" in told


def test_none_of_the_list_is_an_answer(study):
    """Then it stays as it was written, leaves as other, and nobody is asked again."""
    ask(study)
    assert settle_words(study, {"cause": {TYPED: "other"}}, who="Ada") == 0
    assert waiting(study) == [] and exported_cause(study) == ["other"]
    assert facts_of_person(study, 1).facts["cause"] == TYPED


def test_a_meaning_of_no_list_is_refused_and_nothing_changes(study):
    """The message has the words of the list."""
    ask(study)
    with pytest.raises(LayoutError, match="hemi.*stroke, multiple sclerosis"):
        settle_words(study, {"cause": {TYPED: "hemiplegia"}}, who="Ada")
    with pytest.raises(LayoutError):
        settle_words(study, {"nothing": {TYPED: "stroke"}}, who="Ada")
    assert waiting(study) == [("cause", TYPED, "other")]


def test_a_fact_beside_words_of_no_list_can_be_corrected(study):
    """The words stay as they are."""
    ask(study)
    change_facts(study, recorded(study, "person", 1), {"sex": "male"}, who="Ada", why="letter")
    assert facts_of_person(study, 1).facts["cause"] == TYPED


WEAK = {"left_dorsiflexor_strength": "2", "right_dorsiflexor_strength": "5"}


@pytest.mark.parametrize(
    ("affected", "facts", "asked"),
    [
        ("left", WEAK, False),
        ("right", WEAK, True),
        ("both", WEAK, False),
        (None, WEAK, False),
        ("right", WEAK | {"right_dorsiflexor_strength": "not tested"}, False),
        ("right", WEAK | {"right_dorsiflexor_strength": "2"}, False),
    ],
)
def test_weakness_that_contradicts_the_affected_side_is_asked_about(affected, facts, asked):
    """In words that name the strength; where nothing contradicts, nothing is said."""
    said = told_weakness(facts, affected)
    assert ("strength of the dorsiflexors" in said) is asked
    assert bool(said) is asked


def test_odd_weakness_is_stored_and_told_at_import(tmp_path):
    """Beside the first file of each condition."""
    file = write_visit(tmp_path / "P01" / "v1", n_walks=1, standing=False) / "conditions.toml"
    legs = '[visit.left]\nquadriceps_strength = "3"\n[visit.right]\nquadriceps_strength = "4"\n'
    file.write_text(file.read_text().replace('"left"', '"right"') + legs)
    study = create_study(tmp_path / "study")
    rows = list(import_files(study, plan_folders([tmp_path / "P01"]), who="Ada", new_people=True))
    told = [row.message for row in rows if "strength of the quadriceps" in row.message]
    assert len(told) == 2 and {row.state for row in rows} == {"added"}
    assert facts_of_person(study, 1).visits[0].facts["left_quadriceps_strength"] == "3"
    study.close()

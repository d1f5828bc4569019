"""An outside reader of data packages takes the export for what its descriptor says."""

import json

import pytest
from frictionless import Package, system

from gaittrack.cohort.error_words import error_words
from gaittrack.cohort.export import ExportOptions, export_cohort
from gaittrack.compare.walks import MEASURE_BY_NAME
from tests.cohort.made_up_cohort import cohort


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    place = tmp_path_factory.mktemp("package")
    export_cohort(
        cohort(5, n_visits=2, n_walks=2),
        place / "out",
        id_map=place / "ids.csv",
        options=ExportOptions(with_curves=True),
    )
    return place / "out"


def report_of(folder, names):
    """Validate the CSV files of some tables: descriptor, types, keys, closed lists, missing."""
    descriptor = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))
    kept = [each for each in descriptor["resources"] if each["name"] in names]
    with system.use_context(trusted=True):
        package = Package.from_descriptor(descriptor | {"resources": kept}, basepath=str(folder))
        return package.validate()


TABLES = ("people", "visits", "conditions", "statistics", "exclusions", "measures", "values_wide")


def test_the_export_is_valid(folder):
    """Every cell has the type and words its field promises; keys are keys and refer to people."""
    report = report_of(folder, TABLES)
    assert report.valid, report.flatten(["type", "message"])
    assert {task.name for task in report.tasks} == set(TABLES)


@pytest.mark.parametrize(
    ("name", "old", "new"),
    [
        ("people", "stroke", "Quill"),
        ("people", ",2\r\n", ",two\r\n"),
        ("exclusions", ",false", ",perhaps"),
    ],
)
def test_a_cell_that_breaks_its_promise_is_found(folder, tmp_path, name, old, new):
    """The validator is not blind: a wrong word, number or truth value makes the package invalid."""
    for path in folder.iterdir():
        (tmp_path / path.name).write_bytes(path.read_bytes())
    text = (tmp_path / f"{name}.csv").read_bytes()
    assert old.encode() in text
    (tmp_path / f"{name}.csv").write_bytes(text.replace(old.encode(), new.encode(), 1))
    assert not report_of(tmp_path, (name, "people")).valid


@pytest.mark.parametrize(
    ("measure", "said"),
    [
        ("walking_speed_m_s", "at least 0.1 (smallest detectable change"),
        ("loading_response_plantarflexion_rate_deg_s", "untouched: at least 25; same day,"),
        ("mid_swing_dorsiflexion_deg", "untouched: 3; same day, same tester: 2.77; other day,"),
        ("heel_contact_share_percent", "no error figure known"),
    ],
)
def test_the_dictionary_says_what_is_known_of_a_measures_error(measure, said):
    """By how markers were put on; that of speed and rates grows with the value."""
    assert error_words(MEASURE_BY_NAME[measure]).startswith(said)

"""An outside reader of data packages takes the export for what its descriptor says."""

import copy
import functools
import json
import operator
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from frictionless import Package, system
from jsonschema import Draft7Validator, FormatChecker

from gaittrack.cohort.export import ExportOptions
from gaittrack.cohort.release.error_words import error_words
from gaittrack.cohort.release.finishing import CRATE, PackageRelease, changed_files, export_hash
from gaittrack.compare.walked.questions import QUESTION_CODES
from gaittrack.compare.walked.walks import MEASURE_BY_NAME
from gaittrack.errors import LayoutError, StudyError
from gaittrack.record.release_facts import read_release_facts
from tests.cohort.made_up_cohort import cohort
from tests.cohort.whole_source import export_cohort

REFERENCE = Path(__file__).parents[1] / "reference"
SAID = """
title = "Made-up walks"
licence = "CC-BY-4.0"
licence_address = "https://creativecommons.org/licenses/by/4.0/"
[[creators]]
name = "Made-up laboratory"
[[sources]]
title = "Nobody's protocol"
"""


@pytest.fixture(scope="module")
def release(tmp_path_factory):
    path = tmp_path_factory.mktemp("said") / "releases.toml"
    path.write_text(SAID, encoding="utf-8")
    return PackageRelease(read_release_facts(path), 3, "2026-01-31")


def exported(place, source, said, release="controlled"):
    """Export a cohort, and return its folder."""
    options, ids = ExportOptions(release), place / "ids.csv"
    return export_cohort(source, place / "out", id_map=ids, options=options, release=said).folder


@pytest.fixture(scope="module")
def folder(tmp_path_factory, release):
    place = tmp_path_factory.mktemp("package")
    source = cohort(5, n_walks=2, effects=[4.0, 5.0, 6.5, 7.0, 8.0])
    named = {
        key: worn.known_as(brace="B1", setting="a") if worn.is_braced else worn
        for key, worn in source.conditions.items()
    }
    aims = {person: {"A1": {"aim_question": QUESTION_CODES[0]}} for person, _, _ in named}
    return exported(place, replace(source, conditions=named, aims=aims), release)


def descriptor_of(folder):
    return json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))


def broken_promises(descriptor):
    """Return where a descriptor is not as version 2.0 of the standard asks."""
    asked = json.loads((REFERENCE / "data_package_2_0.json").read_text(encoding="utf-8"))
    found = Draft7Validator(asked, format_checker=FormatChecker()).iter_errors(descriptor)
    return [each.json_path for each in found]


def test_the_descriptor_is_as_the_standard_asks(folder):
    """Its published profile holds of package, resources and schemas; what breaks it is found."""
    whole = descriptor_of(folder)
    assert broken_promises(whole) == []
    for keys, wrong in (
        (("licenses",), []),
        (("created",), 5),
        (("resources", 0, "path"), "../people.csv"),
        (("resources", 1, "hash"), "md5 of it"),
        (("resources", 2, "schema", "fields", 0, "type"), "text"),
        (("resources", 3, "schema", "foreignKeys", 0), {"fields": ["export_id"]}),
        (("resources", 4, "schema", "primaryKey"), 1),
    ):
        broken = copy.deepcopy(whole)
        place = functools.reduce(operator.getitem, keys[:-1], broken)
        assert place[keys[-1]] != wrong
        place[keys[-1]] = wrong
        assert broken_promises(broken), keys


def report_of(folder, names=None, **more):
    """Validate resources: types, keys, closed lists, what refers to what, size and hash."""
    descriptor = descriptor_of(folder)
    kept = [each for each in descriptor["resources"] if names is None or each["name"] in names]
    with system.use_context(trusted=True):
        package = Package.from_descriptor(descriptor | {"resources": kept}, basepath=str(folder))
        return package.validate(**more)


def test_every_key_leads_to_its_table(folder):
    """Of the dictionary each column that names a row of another table: checked by the validator."""
    named = {
        "export_id": "people",
        "visit_no": "visits",
        "condition_code": "conditions",
        "reference_code": "conditions",
        "walk_no": "walks",
        "setting_id": "settings",
        "aim_no": "aims",
        "measure_id": "measures",
    }
    for each in (one for one in descriptor_of(folder)["resources"] if one["format"] == "csv"):
        columns = {field["name"] for field in each["schema"]["fields"]}
        if "export_id" not in columns:  # of all people together
            columns -= {"condition_code", "reference_code"}
        found = {
            (key["fields"][-1], key["reference"]["resource"])
            for key in each["schema"].get("foreignKeys", ())
        }
        assert found == {
            (name, table)
            for name, table in named.items()
            if name in columns and table != each["name"]
        }, each["name"]


def test_every_resource_is_valid(folder):
    """Every file has the types and words its fields promise, and in them keys lead somewhere.

    Of a table in its further forms the first rows: all of them are held against the CSV elsewhere.
    """
    told = {each["name"]: each for each in descriptor_of(folder)["resources"]}
    further = {name for name, each in told.items() if each["format"] != "csv"}
    for names, more in ((set(told) - further, {}), (further, {"limit_rows": 5})):
        report = report_of(folder, names, **more)
        assert report.valid, report.flatten(["name", "type", "message"])[:5]
        assert {task.name for task in report.tasks} == names
    keys = {key["reference"]["resource"] for key in told["strides"]["schema"]["foreignKeys"]}
    assert keys == {"people", "visits", "conditions", "walks", "measures"}
    assert pd.read_csv(folder / "conditions.csv")["setting_id"].nunique() == 5
    assert {"dictionary", "people-parquet", "people-xlsx"} <= set(told)
    units = [field.get("unit", "") for each in told.values() for field in each["schema"]["fields"]]
    assert not [unit for unit in units if " " in unit]


@pytest.mark.parametrize(
    ("name", "old", "new"),
    [
        ("people", "stroke", "Quill"),
        ("people", ",1\r\n", ",one\r\n"),
        ("conditions", '-1-1"', '-1-2"'),
        ("exclusions", ",false", ",perhaps"),
    ],
)
def test_a_cell_that_breaks_its_promise_is_found(folder, tmp_path, name, old, new):
    """The validator is not blind: a wrong word, number or truth value makes the package invalid."""
    others = ("people", "visits", "conditions", "settings")
    for end in (f"{each}.csv" for each in (name, *others)):
        (tmp_path / end).write_bytes((folder / end).read_bytes())
    text = (tmp_path / f"{name}.csv").read_bytes()
    assert old.encode() in text
    (tmp_path / f"{name}.csv").write_bytes(text.replace(old.encode(), new.encode(), 1))
    descriptor = descriptor_of(folder)
    for each in descriptor["resources"]:
        each.pop("hash"), each.pop("bytes", None)
    (tmp_path / "datapackage.json").write_text(json.dumps(descriptor), encoding="utf-8")
    assert not report_of(tmp_path, (name, *others)).valid


def test_the_package_says_whose_it_is_and_how_it_was_made(folder, release):
    """Licence, makers, version, day, method in clear, citation and research object: all alike."""
    about = descriptor_of(folder)
    assert about["licenses"][0]["name"] == "CC-BY-4.0"
    assert about["contributors"] == [{"title": "Made-up laboratory", "roles": ["creator"]}]
    assert (about["version"], about["created"]) == ("3.0.0", "2026-01-31T00:00:00Z")
    assert about["sources"] == [{"title": "Nobody's protocol"}]
    method = json.loads((folder / "method.json").read_text(encoding="utf-8"))
    assert method["cut_offs_hz"] == {"angles_and_clearance": 6.0, "loading_response_rate": 15.0}
    assert method["protection"]["fewest_people_alike"] == 5
    assert method["rules"]["level"] == 0.05
    citation = (folder / "CITATION.cff").read_text(encoding="utf-8")
    assert 'title: "Made-up walks"' in citation
    assert "license: CC-BY-4.0" in citation
    graph = json.loads((folder / "ro-crate-metadata.json").read_text(encoding="utf-8"))["@graph"]
    root = next(each for each in graph if each["@id"] == "./")
    files = {each["@id"] for each in graph if each["@type"] == "File"}
    assert {each["@id"] for each in root["hasPart"]} == files
    there = {path.name for path in folder.iterdir()} - {"ro-crate-metadata.json"}
    assert files == there
    assert root["identifier"] == about["gaittrack"]["export_hash"] == export_hash(folder)


def test_the_notebook_makes_the_main_table_again(folder, monkeypatch, capsys):
    """Its cells, run one after the other in the folder, find every mean that is published."""
    notebook = json.loads((folder / "analysis.ipynb").read_text(encoding="utf-8"))
    monkeypatch.chdir(folder)
    names = {}
    for cell in notebook["cells"]:
        if cell["cell_type"] == "code":
            exec("".join(cell["source"]), names)
    published = pd.read_csv(folder / "statistics.csv")["mean_difference"].notna().sum()
    assert published > 1
    assert f"{published} means made again" in capsys.readouterr().out
    changes = names["changes"]
    changes.loc[changes["difference"].notna(), "difference"] += 1.0
    again = names["over_people"](changes[changes["measure_id"] == "peak_swing_dorsiflexion_deg"])
    assert not np.isclose(again["mean"], names["again"]["mean"].dropna()).any()


@pytest.mark.skipif(shutil.which("Rscript") is None, reason="R is not installed here")
def test_the_script_makes_the_main_table_again(folder):
    """As the notebook does, in R."""
    done = subprocess.run(
        ["Rscript", "analysis.R"], cwd=folder, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert "means made again" in done.stdout


def test_another_selection_or_a_changed_number_has_another_hash(folder, tmp_path):
    """One hash is one export: of whom, by what rules, with which numbers."""
    place = tmp_path / "copy"
    shutil.copytree(folder, place)
    hashes = [export_hash(place)]
    assert hashes == [descriptor_of(folder)["gaittrack"]["export_hash"]]
    assert changed_files(place) == []
    for name, old, new in (
        ("method.json", b'"selection": {}', b'"selection": {"sex": ["female"]}'),
        ("values_long.csv", b",m/s,1.", b",m/s,2."),
    ):
        text = (place / name).read_bytes()
        (place / name).write_bytes(text.replace(b'"m/s"', b"m/s").replace(old, new, 1))
        hashes.append(export_hash(place))
    assert len(set(hashes)) == 3
    assert changed_files(place) == ["method.json", "values_long.csv"]
    (place / "of mine.txt").touch()
    (place / "visits.csv").unlink()
    assert changed_files(place)[1:] == ["of mine.txt", "values_long.csv", "visits.csv"]
    listed = (place / CRATE).read_text(encoding="utf-8")
    (place / CRATE).write_text(listed.replace('"values_long.csv"', "null"), encoding="utf-8")
    assert "None" in changed_files(place)
    with pytest.raises(StudyError, match="no folder that was exported"):
        changed_files(tmp_path)


def test_nothing_is_released_to_everybody_without_a_licence(tmp_path, release):
    """The words say what to write and where; for fewer readers it passes."""
    nobody = replace(release, facts=replace(release.facts, licence=""))
    with pytest.raises(StudyError, match="needs a licence.*settings --releases"):
        exported(tmp_path, cohort(12, n_walks=1), nobody, "open")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('licence = "CC-BY-4.0"', "", "No licence"),
        ('"CC-BY-4.0"', '"free for all"', "No licence"),
        ('[[creators]]\nname = "Made-up laboratory"', "", "Nobody is named"),
        ('name = "Made-up laboratory"', 'affiliation = "x"', "name is missing"),
        ("[[sources]]", "[sources]", "Tables"),
        ('"Made-up walks"', '"two\\nlines"', "plain text"),
        ('"https://creativecommons.org/licenses/by/4.0/"', '"../terms"', "no address in the web"),
        ('name = "Made-up laboratory"', 'name = "x"\norcid = "12"', "no ORCID"),
    ],
)
def test_what_is_said_of_exports_is_refused_with_its_form(tmp_path, old, new, said):
    """Each slip by its own words."""
    assert old in SAID
    path = tmp_path / "releases.toml"
    path.write_text(SAID.replace(old, new), encoding="utf-8")
    with pytest.raises(LayoutError, match=said):
        read_release_facts(path)


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

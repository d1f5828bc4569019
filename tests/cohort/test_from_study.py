"""A study comes out whole: as many people, walks and corrections as went in, and no more names."""

import csv
import json
import shutil

import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner

from gaittrack.cohort.disclosure.lost_words import EXACT_VALUES
from gaittrack.cohort.export import ExportOptions
from gaittrack.cohort.people.from_study import cohort_source
from gaittrack.commands import main
from gaittrack.measures import walk_values
from gaittrack.pipeline import measure_file
from gaittrack.study.history import entries
from gaittrack.study.recordings.importing import import_files
from gaittrack.study.recordings.planning import plan_folders
from gaittrack.study.results.keeping import find_trial
from gaittrack.study.store import create_study, open_study
from tests.cohort.whole_source import export_cohort
from tests.correcting import exclude_stride
from tests.made_up_files import write_walk

SWING = "peak_swing_dorsiflexion_deg"
CANARY = "ZachariahQuill"
CONDITIONS = f"""
[person]
code = "{CANARY}"
sex = "female"
cause = "stroke, says Dr {CANARY}"
affected_side = "left"
age_years = 44

[visit]
date = 2024-03-17
skin = "{CANARY}"
comfort = "{CANARY}"

[conditions.without]
orthosis = "none"
footwear = "shoe of {CANARY}"
notes = "{CANARY}"

[conditions.{CANARY}-brace]
orthosis = "ankle-foot orthosis"
orthosis_side = "left"
orthosis_model = "{CANARY}"
footwear = "shoe"
"""


@pytest.fixture(scope="module")
def walks_folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("people") / CANARY / f"{CANARY}-visit"
    folder.mkdir(parents=True)
    (folder / "conditions.toml").write_text(CONDITIONS)
    for place, condition in enumerate(("without", f"{CANARY}-brace")):
        (folder / condition).mkdir()
        for walk in (1, 2):
            path = folder / condition / f"{CANARY}-{walk}.c3d"
            write_walk(path, seed=200 + 10 * place + walk)
    return folder


@pytest.fixture(scope="module")
def study_folder(walks_folder, tmp_path_factory):
    folder = tmp_path_factory.mktemp("study") / "study"
    study = create_study(folder)
    rows = list(import_files(study, plan_folders([walks_folder.parent.parent]), who="tester"))
    assert {row.state for row in rows} == {"added"}, rows
    with study.read() as connection:
        trial = find_trial(connection, f"{CANARY}/{CANARY}-visit/without/{CANARY}-1")
    walk = measure_file(walks_folder / "without" / f"{CANARY}-1.c3d")
    first = next(cycle for cycle in walk.cycles if cycle.is_kept and cycle.side == "left")
    exclude_stride(study, trial, first.id, who=CANARY, why=f"{CANARY} stumbled")
    study.close()
    return folder


@pytest.fixture
def source(study_folder):
    study = open_study(study_folder)
    yield cohort_source(study)
    study.close()


def test_everything_in_the_study_is_in_the_source(source):
    """One person, one visit, two conditions, four walks, one exclusion."""
    assert list(source.people["person"]) == [CANARY]
    assert list(source.visits["date"]) == ["2024-03-17"]
    assert len(source.conditions) == 2
    assert len(source.walks) == 4
    assert list(source.exclusions["kind"]) == ["exclude_stride"]
    codes = [why.code for left in source.rejected.values() for each in left for why in each.reasons]
    assert codes.count("excluded_because") == 1


def test_exported_means_are_those_of_the_files(source, walks_folder, tmp_path):
    """Measured from the files one by one, to the precision of the store (float32)."""
    options = ExportOptions(override_reason="test")
    export_cohort(source, tmp_path / "out", id_map=tmp_path / "ids.csv", options=options)
    long = pd.read_csv(tmp_path / "out" / "values_long.csv")
    rows = long[(long["measure_id"] == SWING) & (long["side"] == "left")]
    found = rows.set_index("condition_code")["mean"]["orthosis_shod"]
    expected = [
        walk_values(measure_file(path).rows).set_index(["measure", "side"])["value"][SWING, "left"]
        for path in sorted((walks_folder / f"{CANARY}-brace").glob("*.c3d"))
    ]
    assert len(expected) == 2
    assert found == pytest.approx(np.mean(expected), rel=1e-6)


def run(*arguments):
    return CliRunner().invoke(main, ["export", *map(str, arguments)])


def test_the_command_refuses_too_few_people(study_folder, tmp_path):
    """One person is not enough: exit code 2, nothing written, and what would be."""
    result = run("--study", study_folder, "--out", tmp_path / "out")
    assert result.exit_code == 2
    said = " ".join(result.output.split())
    assert "1 people fit; 5 have to share" in said
    assert "--release" not in said and "--least-alike" not in said, "neither would help one person"
    assert list(tmp_path.iterdir()) == []


def test_the_command_exports_with_a_reason_and_no_name(study_folder, tmp_path):
    """The export is there, the reason in the study's history, the name in no file of it."""
    out, ids = tmp_path / "out", tmp_path / "ids.csv"
    reason = "known readers only"
    options = ("--id-map", ids, "--override-reason", reason, "--by", "tester")
    result = run("--study", study_folder, "--out", out, *options)
    assert result.exit_code == 0, result.output
    for path in out.iterdir():
        assert CANARY.encode() not in path.read_bytes()
    for path in out.glob("*.csv"):
        with path.open(encoding="utf-8", newline="") as file:
            assert "quill" not in json.dumps(list(csv.reader(file))).lower()
    assert CANARY in ids.read_text()
    study = open_study(study_folder)
    with study.read() as connection:
        last = entries(connection)[-1]
    study.close()
    assert (last["what"], last["who"], last["why"]) == ("export", "tester", reason)
    assert last["after"]["smallest_group"] == 1


def test_the_filters_of_the_screen_are_options(study_folder, tmp_path):
    """What is meant stands in the README without a code; a mistyped word is refused with advice."""
    given = ("--study", study_folder, "--by", "tester", "--override-reason", "a test")
    mistyped = run(*given, "--out", tmp_path / "out", "--cause", "other", "--brace", "sollid")
    assert mistyped.exit_code == 2
    said = " ".join(mistyped.output.split())
    assert "brace classes: Nothing in this study is: sollid. Choose among: not recorded." in said
    assert list(tmp_path.iterdir()) == []
    chosen = ("--person", CANARY, "--visit", 1, "--condition", "orthosis_shod")
    made = run(*given, "--out", tmp_path / "out", "--id-map", tmp_path / "ids.csv", *chosen)
    assert made.exit_code == 0, made.output
    assert set(pd.read_csv(tmp_path / "out" / "strides.csv")["condition_code"]) == {"orthosis_shod"}
    assert pd.read_csv(tmp_path / "out" / "changes.csv").empty
    readme = (tmp_path / "out" / "README.md").read_text(encoding="utf-8")
    assert "visit_no: 1; condition_code: orthosis_shod; people chosen by code: 1" in readme
    few = run("--study", study_folder, "--out", tmp_path / "few", "--visit", 1)
    told = " ".join(few.output.split())
    assert "visit_no: 1: 1 people fit; 5 have to share" in told
    assert EXACT_VALUES in told and "Releases before this one: " in told  # before it is written


def test_a_folder_is_matched_to_its_release_and_an_erased_person_to_theirs(study_folder, tmp_path):
    """Licence asked once; a folder known by its tables; who was erased is still in it."""
    folder, out, said = tmp_path / "study", tmp_path / "out", tmp_path / "releases.toml"
    shutil.copytree(study_folder, folder)
    said.write_text('licence = "CC-BY-4.0"\n[[creators]]\nname = "Made-up laboratory"\n')

    def study(*words):
        done = CliRunner().invoke(main, ["study", *map(str, words), "--study", str(folder)])
        return done.exit_code, " ".join(done.output.split())

    assert study("settings", "--releases", said, "--why", "asked", "--by", "me")[0] == 0
    done = run("--study", folder, "--out", out, "--override-reason", "a test", "--by", "tester")
    assert done.exit_code == 0, done.output
    about = json.loads((out / "datapackage.json").read_text(encoding="utf-8"))
    assert about["licenses"][0]["name"] == "CC-BY-4.0"
    number = int(about["version"].removesuffix(".0.0"))
    code, words = study("releases", out)
    assert code == 0
    assert f"{number}: " in words and "by tester, controlled, 1 people" in words
    assert about["gaittrack"]["export_hash"] in words
    erased = study("erase", CANARY, "--why", "asked for", "--yes", "--by", "tester")
    assert f"hold the person under an id: {number};" in erased[1]
    code, words = study("releases", out)
    assert code == 0 and "1 people; 1 of them erased since; hash" in words
    text = (out / "walks.csv").read_bytes()
    (out / "walks.csv").write_bytes(text.replace(b"shod", b"odhs", 1))
    code, words = study("releases", out)
    assert code == 1
    assert "walks.csv" in words and "tables were changed" in words
    assert study("releases", tmp_path)[0] == 2
    opened = open_study(folder)
    with opened.read() as connection:
        last = entries(connection)[-1]
    opened.close()
    assert last["after"]["releases"] == [number]
    assert CANARY not in json.dumps(last)

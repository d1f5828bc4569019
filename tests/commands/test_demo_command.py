"""``gaittrack demo``: from a checkout and from an installed package."""

import json
from collections import Counter
from dataclasses import replace

import pytest
from sqlalchemy import select

from gaittrack.commands import made_up_study, sample_walks
from gaittrack.simulate.scenario import PATIENTS
from gaittrack.study.people import person_codes
from gaittrack.study.results import known_trials
from gaittrack.study.store import open_study
from gaittrack.study.tables import RESULT


@pytest.mark.parametrize("beside_checkout", [True, False])
def test_measures_each_persons_first_walks(run, monkeypatch, tmp_path, beside_checkout):
    """Both conditions of every made-up person, whether the files lie there or are made anew."""
    if not beside_checkout:
        monkeypatch.setattr(sample_walks, "_BESIDE_CHECKOUT", tmp_path / "nowhere")
    done = run("demo", "--json")
    assert done.exit_code == 0, done.stderr
    values = json.loads(done.stdout)
    assert len(values) == 2 * len(PATIENTS)
    assert all(entry["measures"] for entry in values)


def test_files_made_anew_are_the_ones_in_the_checkout(run, monkeypatch, tmp_path):
    """The installed package shows the same bytes as the checkout, hence the same numbers."""
    here = json.loads(run("demo", "--json").stdout)
    monkeypatch.setattr(sample_walks, "_BESIDE_CHECKOUT", tmp_path / "nowhere")
    anew = json.loads(run("demo", "--json").stdout)
    assert [entry["sha256"] for entry in here] == [entry["sha256"] for entry in anew]


def test_makes_a_study_to_follow_and_to_export(run, monkeypatch, tmp_path):
    """The sample people over their visits and more people, all measured; then the commands told."""
    few = tuple(replace(patient, n_walks=(1, 1, 1)) for patient in PATIENTS[:2])
    for module in (made_up_study, sample_walks):
        monkeypatch.setattr(module, "PATIENTS", few)
    monkeypatch.setattr(sample_walks, "_BESIDE_CHECKOUT", tmp_path / "nowhere")
    folder = tmp_path / "study"
    done = run("demo", "--study", folder, "--people", "1")
    assert done.exit_code == 0, done.stderr
    assert f"gaittrack follow P01 --study {folder}" in done.stdout
    assert f"gaittrack export --study {folder}" in done.stdout
    study = open_study(folder)
    with study.read() as connection:
        codes = person_codes(connection)
        n_walks = Counter(trial.person for trial in known_trials(connection))
        refusals = connection.execute(select(RESULT.c.refusal)).scalars().all()
    study.close()
    assert codes == ["P01", "P02", "P05"]
    assert n_walks == {"P01": 6, "P02": 6, "P05": 6}
    assert set(refusals) == {""}
    assert "visit-3" in run("follow", "P01", "--study", folder).stdout
    assert run("demo", "--study", folder).exit_code == 2


@pytest.mark.parametrize("option", [["--all"], ["--json"], ["--csv", "out.csv"]])
def test_a_study_does_not_go_with_options_of_measuring(run, tmp_path, option):
    """What would be passed over is refused, and nothing is made."""
    done = run("demo", "--study", tmp_path / "study", *option)
    assert done.exit_code == 2 and "--study does not go" in done.stderr
    assert list(tmp_path.iterdir()) == []

"""``gaittrack demo``: from a checkout and from an installed package."""

import json

import pytest

from gaittrack.commands import sample_walks
from gaittrack.simulate.scenario import PATIENTS


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

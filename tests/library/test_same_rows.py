"""Python and the command line give the same rows, to the last digit."""

import json
import math
from pathlib import Path

import pandas as pd
import pytest
from click.testing import CliRunner

import gaittrack
from gaittrack.commands import main

SAMPLES = Path(__file__).parents[2] / "sample_trials"


def printed(*arguments):
    """Run a command and return the JSON it prints."""
    done = CliRunner().invoke(main, [*map(str, arguments), "--json"])
    return json.loads(done.stdout)


def as_cell(value):
    """Return a value of JSON as a table holds it."""
    if isinstance(value, list):
        return "; ".join(map(as_cell, value))
    return value["words"] if isinstance(value, dict) else value


def assert_same(cells, values):
    """Compare one row of a table with the values of JSON, every one of them."""
    for name, value in values.items():
        found = cells[name]
        if value is None:
            assert found is None or math.isnan(found), name
        else:
            assert found == as_cell(value), name


@pytest.mark.parametrize("person", ["P01", "P02", "P03", "P04"])
def test_every_row_of_a_comparison_is_the_commands(person):
    """All fields of all rows, the speed-matched ones too; and the same settings."""
    visit = SAMPLES / person / "visit-1"
    folders = {"without brace": visit / "without-brace", "with brace": str(visit / "with-brace")}
    told = printed("compare", *sum(([f"--{n[:-6]}", p] for n, p in folders.items()), []))
    found = gaittrack.compare(folders)
    rows = found.changes().to_dict("records")
    assert len(rows) == len(told["rows"]) > 80
    for cells, values in zip(rows, told["rows"], strict=True):
        matched = values.pop("matched") or {}
        assert_same(cells, values)
        assert_same(cells, {f"matched_{name}": value for name, value in matched.items()})
    told_settings, settings = told["settings"], found.comparison.settings
    assert set(settings) == set(told_settings)
    for name in ("affected", "typical", "standing", "conditions_file", "conditions", "refused"):
        assert settings[name] == told_settings[name], name


def test_a_visit_is_its_described_conditions():
    """The folder of a visit gives what its two folders give by the same names."""
    visit = SAMPLES / "P04" / "visit-1"
    named = {name: visit / name for name in ("without-brace", "with-brace")}
    by_visit, by_name = gaittrack.compare(visit), gaittrack.compare(named)
    pd.testing.assert_frame_equal(by_visit.changes(), by_name.changes())
    assert by_visit.comparison.settings["reference"] == "without-brace"


@pytest.mark.parametrize("folder", ["P03/visit-1", "broken"])
def test_every_stride_is_the_commands(folder, tmp_path):
    """JSON and CSV of ``gaittrack measure`` hold the strides of the library, and its refusals."""
    out = tmp_path / "out.csv"
    told = printed("measure", SAMPLES / folder, "--csv", out)
    found = gaittrack.measure(SAMPLES / folder)
    strides = found.strides()
    own = pd.read_csv(out, keep_default_na=False, dtype=str)
    text = strides.to_csv(index=False, lineterminator="\n")
    assert out.read_text(encoding="utf-8") == text and len(own) == len(strides) > 0
    plain = [row for one in told for row in one.get("measures", ())]
    for cells, values in zip(strides.to_dict("records"), plain, strict=True):
        assert_same(cells, values)
    assert found.files()["file"].tolist() == [one["file"] for one in told]
    refused = [one["file"] for one in told if "error" in one]
    assert found.refusals()["file"].drop_duplicates().tolist() == refused


def test_values_of_walks_are_what_is_compared():
    """The mean of the walk values is the value in the row, for each measure and side."""
    found = gaittrack.compare(SAMPLES / "P04" / "visit-1")
    means = found.values().groupby(["condition", "measure", "side"])["value"].mean()
    rows = found.changes().set_index(["condition", "measure", "side"])["value"]
    assert rows.notna().sum() > 20
    pd.testing.assert_series_equal(means.reindex(rows.index), rows, check_exact=False, rtol=1e-12)


def test_strides_of_a_comparison_give_its_walk_values():
    """Mean of the defined strides of each walk, clearances apart; counts of both kinds."""
    found = gaittrack.compare(SAMPLES / "P04" / "visit-1")
    place = ["condition", "file", "measure", "side"]
    strides = found.strides().groupby(place, sort=False)["value"]
    values = found.values().set_index(place)
    assert (strides.count() == values["n_defined"]).all()
    assert (
        strides.size() == values["n_defined"] + values["n_not_defined"] + values["n_not_trusted"]
    ).all()
    means = strides.mean()[values.index]
    is_mean = ~values.index.get_level_values("measure").str.contains("clearance")
    pd.testing.assert_series_equal(means[is_mean], values["value"][is_mean], rtol=1e-12)

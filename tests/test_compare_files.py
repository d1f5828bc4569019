"""From files of several conditions to a comparison: what is used, refused, set aside."""

from dataclasses import replace

import pytest

from gaittrack.compare.fair.condition import Condition
from gaittrack.compare_files import compare_files, described_standing, worn_by
from gaittrack.errors import ComparisonError, LayoutError
from gaittrack.pipeline import measure_file
from tests.made_up_files import RECIPE, write_standing, write_walk

SLOWER = replace(RECIPE, speed_m_s=0.9)


@pytest.fixture(scope="module")
def walks(tmp_path_factory):
    """Give two walks of each of two conditions and a standing trial, as files."""
    folder = tmp_path_factory.mktemp("conditions")
    found = {}
    for name, recipe in (("shoe", RECIPE), ("brace", SLOWER)):
        found[name] = [folder / f"{name}-{seed}.c3d" for seed in (1, 2)]
        for seed, path in enumerate(found[name], 1):
            write_walk(path, seed=seed + 10 * (name == "brace"), recipe=recipe)
    write_standing(folder / "standing.c3d")
    return found


def test_someone_standing_is_no_walk(walks):
    """Whatever the file is called; it is named in the settings and told."""
    standing = walks["shoe"][0].with_name("standing.c3d")
    odd = standing.with_name("trial-9.c3d")
    odd.write_bytes(standing.read_bytes())
    result = compare_files({**walks, "shoe": [*walks["shoe"], odd]}, reference="shoe")
    assert len(result.records) == 4
    assert result.comparison.settings["not_walks"] == [{"condition": "shoe", "file": odd.name}]
    assert any("trial-9.c3d" in problem.where for problem in result.problems)


def test_condition_without_a_walk_left_is_refused_with_reasons(walks, tmp_path):
    """The error names the file and why."""
    broken = tmp_path / "broken.c3d"
    broken.write_text("nothing")
    with pytest.raises(ComparisonError, match=r"broken\.c3d.*No walk of 'brace'"):
        compare_files({"shoe": walks["shoe"], "brace": [broken]}, reference="shoe")


def test_standing_trial_is_only_of_a_condition_there_is(walks):
    """A slip in a name is not passed over."""
    with pytest.raises(ComparisonError, match="Conditions are: shoe, brace"):
        compare_files(walks, reference="shoe", standing={"boot": walks["shoe"][0]})


def test_own_events_table_goes_with_its_file(walks, tmp_path):
    """Only that walk's events come from the table."""
    table = tmp_path / "events.csv"
    seen = measure_file(walks["shoe"][0]).events.events
    lines = [f"{event.time_s + 0.01:.3f},{event.side},{event.kind}" for event in seen]
    lines.insert(0, "time_s,side,kind")
    table.write_text("\n".join(lines))
    result = compare_files(walks, reference="shoe", events={walks["shoe"][0]: table})
    sources = {record.file_name: record.event_source for record in result.records}
    assert sources["shoe-1.c3d"].startswith("file")
    assert sources["shoe-2.c3d"] == "markers"


def test_description_is_found_under_a_name_that_means_the_same():
    """And takes the name of the comparison."""
    worn = worn_by(["with brace"], {"with-brace": Condition("with-brace", orthosis="leaf")})
    assert worn == {"with brace": Condition("with brace", orthosis="leaf")}


def test_standing_trial_that_is_not_there_is_an_error(tmp_path):
    """A path in the description that leads nowhere."""
    with pytest.raises(LayoutError, match=r"gone\.c3d"):
        described_standing({"a": Condition("a", standing_trial="gone.c3d")}, tmp_path)

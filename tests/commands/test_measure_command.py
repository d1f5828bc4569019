"""``gaittrack measure`` as a person or a script uses it."""

import json
import shutil
from pathlib import Path

import pandas as pd
import pytest

from gaittrack.measures import MEASURES
from gaittrack.notice import NOTICE

SAMPLES = Path(__file__).parents[2] / "sample_trials"


def flat(text):
    """Return a text with all white space as single blanks."""
    return " ".join(text.split())


def test_prints_one_line_per_step_with_the_headline_measures(run, walk_folder):
    """Each kept step has its line; titles, units, walk values and the notice stand there."""
    done = run("measure", walk_folder / "walk-1.c3d")
    values = json.loads(run("measure", "--json", walk_folder / "walk-1.c3d").stdout)
    assert done.exit_code == 0
    kept = [cycle["id"] for cycle in values[0]["cycles"] if not cycle["reject_reasons"]]
    steps = [line.split()[0] for line in done.stdout.splitlines() if line[:5] in ("left-", "right")]
    assert kept and set(kept) <= set(steps)
    for words in ("walk value", "n defined", "°/s", "clearance", "dorsiflexion", "(pelvis-"):
        assert words in done.stdout
    assert flat(done.stdout).endswith(flat(NOTICE))


def test_no_line_is_wider_than_a_terminal(run, walk_folder):
    """100 columns are enough."""
    done = run("measure", walk_folder / "walk-1.c3d")
    lines = done.stdout.splitlines()[1:]
    assert max(map(len, lines)) <= 100


def test_json_is_a_list_also_for_one_file(run, walk_folder):
    """The top level never depends on how many files there are."""
    one = json.loads(run("measure", "--json", walk_folder / "walk-1.c3d").stdout)
    assert isinstance(one, list) and len(one) == 1
    two = json.loads(
        run("measure", "--json", walk_folder, "--standing", walk_folder / "standing.c3d").stdout
    )
    assert [entry["file"].rpartition("/")[2] for entry in two] == ["walk-1.c3d", "walk-2.c3d"]


def test_csv_holds_every_measure_of_every_kept_cycle(run, walk_folder, tmp_path, monkeypatch):
    """The long table has all measures, also those that are not defined, with their reasons."""
    out, walk = tmp_path / "out.csv", tmp_path / "=1+1.c3d"
    shutil.copy(walk_folder / "walk-1.c3d", walk)
    monkeypatch.chdir(tmp_path)
    done = run("measure", walk.name, "--csv", out)
    table = pd.read_csv(out, keep_default_na=False)
    assert done.exit_code == 0
    assert set(table["file"].str[:2]) == {"'="}, "a program would run the name"
    assert set(table["measure"]) == {measure.name for measure in MEASURES}
    assert ((table["value"] == "") == (table["reason"] != "")).all()
    assert "wrote" in done.stderr and "wrote" not in done.stdout


def test_refused_file_gives_exit_code_1_and_the_others_are_measured(run, walk_folder, tmp_path):
    """Refusals go to stderr with file and reason, and the count says so."""
    broken = tmp_path / "broken.c3d"
    broken.write_bytes(b"")
    done = run("measure", broken, walk_folder / "walk-1.c3d")
    assert done.exit_code == 1
    assert "refused" in done.stderr and "broken.c3d" in done.stderr
    assert "2 files: 1 measured, 1 refused" in done.stdout
    values = json.loads(run("measure", "--json", broken, walk_folder / "walk-1.c3d").stdout)
    assert "error" in values[0] and "measures" in values[1]


def test_notes_that_are_not_shown_are_counted(run, walk_folder):
    """What level info says of a file stands in the JSON and in ``check``; here only how often."""
    file = SAMPLES / "broken" / "duplicate_labels.c3d"
    problems = json.loads(run("measure", "--json", file).stdout)[0]["problems"]
    notes = [problem["what"] for problem in problems if problem["level"] == "info"]
    done = run("measure", file)
    assert f"{len(notes)} notes on the files are not shown" in done.stderr
    assert notes and all(note not in done.stderr for note in notes)
    checked = flat(run("check", file).stdout)
    assert all(note in checked for note in notes)
    assert "not shown" not in run("measure", walk_folder / "walk-1.c3d").stderr


@pytest.mark.parametrize(
    "arguments",
    [
        [],
        ["nowhere.c3d"],
        ["{walk}", "--rate", "0"],
        ["{walk}", "--rate", "fast"],
        ["{walk}", "--standing", "nowhere.c3d"],
        ["{walk}", "--map", "{walk}"],
        ["{walk}", "--standing", "{empty}"],
        ["{walk}", "{standing}", "--events", "{empty}"],
        ["{walk}", "--csv", "{walk}"],
        ["{walk}", "--standing", "{standing}", "--csv", "{standing}"],
        ["{walk}", "--csv", "no-such-folder/out.csv"],
        ["{empty_folder}"],
    ],
    ids=" ".join,
)
def test_wrong_use_gives_exit_code_2(run, walk_folder, tmp_path, arguments):
    """What cannot be meant is said at once, without a traceback, and no file is changed."""
    names = {
        "walk": shutil.copy(walk_folder / "walk-1.c3d", tmp_path / "walk.c3d"),
        "standing": shutil.copy(walk_folder / "standing.c3d", tmp_path / "standing.c3d"),
        "empty": tmp_path / "empty.csv",
        "empty_folder": tmp_path / "folder",
    }
    names["empty"].touch()
    names["empty_folder"].mkdir()
    before = {path: path.read_bytes() for path in tmp_path.iterdir() if path.is_file()}
    done = run("measure", *(argument.format(**names) for argument in arguments))
    assert done.exit_code == 2, done.output
    assert "Error:" in done.stderr and done.stdout == ""
    assert {path: path.read_bytes() for path in tmp_path.iterdir() if path.is_file()} == before


def test_events_table_that_cannot_be_read_refuses_the_file(run, walk_folder, tmp_path):
    """The walk is not measured with other events than those asked for."""
    table = tmp_path / "events.csv"
    table.write_text("side,kind\nleft,toe-off\n")
    done = run("measure", walk_folder / "walk-1.c3d", "--events", table)
    assert done.exit_code == 1
    assert "events.csv" in done.stderr and "time_s" in done.stderr


def test_link_to_an_input_is_an_input(run, walk_folder, tmp_path):
    """An output that is an input by another name is refused."""
    link = tmp_path / "out.csv"
    link.symlink_to(walk_folder / "walk-1.c3d")
    assert run("measure", walk_folder / "walk-1.c3d", "--csv", link).exit_code == 2


def test_earlier_output_in_the_folder_is_replaced(run, walk_folder, tmp_path):
    """Measuring a folder twice with the output inside it gives the same twice."""
    shutil.copy(walk_folder / "walk-1.c3d", tmp_path / "walk.c3d")
    out = tmp_path / "out.csv"
    first = run("measure", tmp_path, "--csv", out)
    text = out.read_text()
    second = run("measure", tmp_path, "--csv", out)
    assert (first.exit_code, second.exit_code) == (0, 0), second.output
    assert out.read_text() == text

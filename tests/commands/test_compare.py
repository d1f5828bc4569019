"""Comparing files from the command line: what is printed, in JSON, and on the page."""

import functools
import json
import re
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

import gaittrack
from gaittrack.commands import main

SAMPLES = Path(__file__).parents[2] / "sample_trials"
ROW_KEYS = {
    *("measure", "side", "condition", "reference", "n_walks", "n_strides", "value"),
    *("reference_value", "difference", "low", "high", "measurement_error"),
    *("measurement_error_source", "verdict", "labels"),
}
SWING = "peak_swing_dorsiflexion_deg"


@functools.cache
def comparing(person, *more):
    """Compare one visit of a sample person once per set of options and return the run."""
    visit = SAMPLES / person / "visit-1"
    without, with_ = visit / "without-brace", visit / "with-brace"
    given = ["--without", without, "--with", with_]
    return CliRunner().invoke(main, ["compare", *map(str, given), *map(str, more)])


@pytest.fixture
def compare():
    """Give a function that compares one visit of a sample person."""
    return comparing


def rows_of(result):
    """Return the JSON rows of a run by measure and side."""
    rows = json.loads(result.stdout)["rows"]
    return {(row["measure"], row["side"]): row for row in rows}


@pytest.mark.parametrize("person", ["P01", "P03", "P04"])
def test_files_of_every_kind_are_compared(compare, person):
    """C3D, text and workbook give JSON with the promised keys, walks counted, exit code 0."""
    result = compare(person, "--json")
    assert result.exit_code == 0, result.output
    found = json.loads(result.stdout)
    assert {"rows", "watch", "fairness", "settings"} <= set(found)
    assert all(set(row) >= ROW_KEYS for row in found["rows"])
    row = rows_of(result)[SWING, "left"]
    n_files = len(list((SAMPLES / person / "visit-1" / "with-brace").iterdir()))
    assert row["n_walks"] == n_files
    assert row["difference"] == pytest.approx(row["value"] - row["reference_value"])
    assert found["settings"]["conditions_file"]["file"] == "conditions.toml"


def test_a_visit_is_compared_as_its_conditions_are():
    """The folder of a visit stands for the conditions in it, in Python and on the command line."""
    visit = SAMPLES / "P04" / "visit-1"
    told = CliRunner().invoke(main, ["compare", str(visit), "--json"])
    assert told.exit_code == 0, told.output
    changes = gaittrack.compare(visit).changes()
    found = {
        (row["measure"], row["side"]): row["difference"] for row in json.loads(told.stdout)["rows"]
    }
    wanted = changes.set_index(["measure", "side"])["difference"].dropna()
    assert len(wanted) > 10
    assert {key: found[key] for key in wanted.index} == pytest.approx(dict(wanted))
    both = CliRunner().invoke(main, ["compare", str(visit), "--with", str(visit)])
    assert (both.exit_code, "or VISIT alone" in both.output) == (2, True)


def test_made_up_lift_of_the_brace_is_found(compare):
    """The scenario lifts the left foot of P01 in swing; the other foot is left as it was."""
    rows = rows_of(compare("P01", "--json"))
    assert rows[SWING, "left"]["verdict"] == "larger"
    assert rows[SWING, "left"]["difference"] > 0
    assert rows[SWING, "right"]["verdict"] != "larger"


def test_the_answer_stands_first_and_the_signs_with_it(compare):
    """Above the questions; what each sign is made of below them, before the table."""
    text = compare("P02", "--all").stdout
    examined = json.loads(compare("P02", "--json").stdout)["examined"]
    assert examined[1] == "muscle tone of the calf, right: 1+"
    assert text.startswith("WITH BRACE AGAINST WITHOUT BRACE, RIGHT LEG")
    places = [
        "With the brace: the right heel meets the floor first",
        "Signs to look at, from the examination: mediolateral stability of the ankle under load",
        "Signs to look at: new: knee",
        *(
            "How the foot meets the floor",
            "WATCH LIST",
            "This recording cannot show",
            "Stride time",
        ),
    ]
    assert [text.index(each) for each in places] == sorted(text.index(each) for each in places)


@pytest.mark.parametrize("person", ["P01", "P04"])
def test_table_is_narrow_and_says_all_with_all(compare, person):
    """At most 100 columns; --all adds measures; the notice is shown."""
    short, whole = compare(person).stdout, compare(person, "--all").stdout
    assert max(map(len, [*short.splitlines(), *whole.splitlines()])) <= 100
    assert "Stride time" in whole
    assert "Stride time" not in short
    assert "not a medical device" in short


def test_copy_of_a_walk_is_refused(run, tmp_path):
    """A duplicate would feign certainty."""
    visit = SAMPLES / "P04" / "visit-1"
    shutil.copytree(visit / "with-brace", tmp_path / "with")
    shutil.copy(tmp_path / "with" / "walk-1.xlsx", tmp_path / "with" / "walk-9.xlsx")
    result = run("compare", "--without", visit / "without-brace", "--with", tmp_path / "with")
    assert result.exit_code == 2
    assert "given twice" in result.stderr


def test_refused_file_costs_itself_only(run, tmp_path):
    """The comparison goes on with the rest; exit code 1."""
    visit = SAMPLES / "P04" / "visit-1"
    shutil.copytree(visit / "with-brace", tmp_path / "with")
    (tmp_path / "with" / "walk-5.c3d").write_text("not a recording")
    result = run(
        *("compare", "--json", "--without", visit / "without-brace", "--with", tmp_path / "with")
    )
    assert result.exit_code == 1
    assert "refused: " in result.stderr
    assert "walk-5.c3d" in result.stderr
    assert rows_of(result)[SWING, "right"]["n_walks"] == 4


def test_standing_file_in_the_folder_is_used_and_told(run, tmp_path):
    """It is no walk, and gives the foot's zero."""
    visit = SAMPLES / "P01" / "visit-1"
    for name in ("without-brace", "with-brace"):
        (tmp_path / name).mkdir()
        for number in (1, 2):
            shutil.copy(visit / name / f"walk-{number}.c3d", tmp_path / name)
        shutil.copy(visit / "standing" / f"{name}.c3d", tmp_path / name / "standing-1.c3d")
    pattern = tmp_path / "with-brace" / "*.c3d"
    result = run(*("compare", "--json", "--without", tmp_path / "without-brace", "--with", pattern))
    assert result.exit_code == 0, result.output
    assert result.stderr.count("Standing trial: ") == 2
    walks = json.loads(result.stdout)["settings"]["walks"]
    assert [walk["file"] for walk in walks] == ["walk-1.c3d", "walk-2.c3d"] * 2
    assert {walk["neutral_source"] for walk in walks} == {"standing trial"}


def test_sheet_with_two_conditions_is_compared_with_itself(run, tmp_path):
    """One file given for both conditions, each taking the cycles of its own name."""
    lines = ["condition,cycle,side,percent,ankle dorsiflexion (deg),toe-off (%),cycle time (s)"]
    for name, lift in (("without", 0), ("with", 6)):
        for cycle in range(1, 4):
            for percent in range(101):
                angle = 10 - abs(percent - 45) / 5 + lift * (percent >= 60) + cycle / 10
                lines.append(f"{name},{cycle},left,{percent},{angle:.3f},60,1.1")
    sheet = tmp_path / "both.csv"
    sheet.write_text("\n".join(lines))
    result = run("compare", "--json", "--without", sheet, "--with", sheet)
    assert result.exit_code == 0, result.output
    row = rows_of(result)[SWING, "left"]
    assert row["n_strides"] == row["n_strides_reference"] == 3
    assert row["difference"] == pytest.approx(6, abs=0.01)
    assert row["low"] is None


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--without", "nowhere", "--with", "."], "no such file"),
        (["--with", "."], "Give --without PATH and --with PATH"),
        (["--condition", "a=.", "--condition", "b=."], "Say which is the reference: a, b."),
        (["--condition", "here"], "NAME=PATH"),
    ],
)
def test_wrong_use_is_explained(run, arguments, said):
    """Exit code 2 and what to write instead."""
    result = run("compare", *arguments)
    assert result.exit_code == 2
    assert said in result.stderr


def test_three_conditions_are_one_family_of_questions(run):
    """Any number of conditions against a reference one; with more, a p-value weighs less."""
    visit = SAMPLES / "P04"
    named = {
        "shoe": visit / "visit-1" / "without-brace",
        "brace": visit / "visit-1" / "with-brace",
        "brace later": visit / "visit-2" / "with-brace",
    }
    given = [text for name, path in named.items() for text in ("--condition", f"{name}={path}")]
    result = run("compare", "--json", *given, "--reference", "shoe")
    assert result.exit_code == 0, result.output
    found = json.loads(result.stdout)
    asked = [row for row in found["rows"] if row["question"] and row["p"] is not None]
    assert min(row["adjusted_p"] / row["p"] for row in asked) >= 1
    assert max(row["adjusted_p"] / row["p"] for row in asked) > 16
    assert {row["condition"] for row in found["rows"]} == {"brace", "brace later"}


def test_page_is_whole_small_and_loads_nothing(compare, tmp_path):
    """At most 2 MB, no address that is fetched, no file name, the notice and hashes on it."""
    page_file = tmp_path / "page.html"
    result = compare("P01", "--html", page_file)
    assert result.exit_code == 0, result.output
    page = page_file.read_text(encoding="utf-8")
    assert len(page.encode()) <= 2_000_000
    assert not re.search(r"(?:src|href)\s*=|url\((?!.data:font)|@import|<link|<iframe|<img", page)
    assert set(re.findall(r"https?://[^\"' <]+", page)) <= {"http://www.w3.org/2000/svg"}
    assert "walk-1.c3d" not in page
    assert str(SAMPLES) not in page
    assert "not a medical device" in page
    assert len(set(re.findall(r"\b[0-9a-f]{64}\b", page))) >= 12
    assert page.count("<svg") > 10
    assert list(tmp_path.iterdir()) == [page_file]


def test_page_never_overwrites_a_walk(compare):
    """An output that is also an input is wrong use."""
    walk = SAMPLES / "P04" / "visit-1" / "with-brace" / "walk-1.xlsx"
    before = walk.read_bytes()
    result = compare("P04", "--html", walk)
    assert result.exit_code == 2
    assert walk.read_bytes() == before


def test_description_of_other_conditions_is_told(run):
    """A description that fits no name is wrong use when given, and told when found."""
    visit = SAMPLES / "P04" / "visit-1"
    named = (
        *("compare", "--condition", f"a={visit / 'without-brace'}", "--reference", "a"),
        *("--condition", f"b={visit / 'with-brace'}"),
    )
    found = run(*named)
    assert found.exit_code == 0
    assert "a, b not described; described are: without-brace, with-brace" in found.stderr
    assert run(*named, "--conditions", visit / "conditions.toml").exit_code == 2

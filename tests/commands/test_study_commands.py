"""The commands on a study as a person or a script uses them."""

import json

import pytest

from gaittrack.errors import StudyError
from gaittrack.study.recordings import together
from tests.made_up_files import write_walk

WALK = "P01/visit-1/without-brace/walk-1"
WORDS = """
[person]
code = "P01"
[visit]
number = {number}
days_since_first_visit = {days}
[conditions.without-brace]
orthosis = "none"
"""


@pytest.fixture(scope="module")
def people(tmp_path_factory):
    """Give P01 at two visits, one walk each, and a file that is no recording."""
    folder = tmp_path_factory.mktemp("people")
    for number in (1, 2):
        visit = folder / "P01" / f"visit-{number}"
        (visit / "without-brace").mkdir(parents=True)
        (visit / "conditions.toml").write_text(WORDS.format(number=number, days=42 * number - 42))
        write_walk(visit / "without-brace" / "walk-1.c3d", seed=number)
    (folder / "P01" / "visit-2" / "without-brace" / "bad.c3d").write_bytes(b"no recording")
    return folder


@pytest.fixture
def study(run, people, tmp_path):
    """Give the folder of a study with these people."""
    folder = tmp_path / "study"
    assert run("import", people, "--study", folder).exit_code == 1
    return folder


def test_import_reports_each_file_and_the_counts(run, people, tmp_path):
    """What goes in stands on stdout, what does not on stderr; a dry run makes no study."""
    folder = tmp_path / "study"
    dry = run("import", people, "--study", folder, "--dry-run")
    assert dry.exit_code == 1 and not folder.exists()
    assert "2 would add, 1 refused" in dry.stdout and "nothing was written" in dry.stdout
    done = run("import", people, "--study", folder)
    assert done.exit_code == 1 and "2 added, 1 refused" in done.stdout
    assert "bad.c3d" in done.stderr and "bad.c3d" not in done.stdout
    again = run("import", people / "P01" / "visit-1", "--study", folder)
    assert again.exit_code == 0 and "1 known" in again.stdout


def test_the_guide_is_a_file_to_print(run, study, tmp_path):
    """The same page as on screen, printed or written."""
    printed = run("study", "guide", "--study", study)
    assert printed.exit_code == 0 and "brace trial" in printed.stdout
    page = tmp_path / "guide.html"
    assert run("study", "guide", "--study", study, "--out", page).exit_code == 0
    assert page.read_text("utf-8") == printed.stdout


FULL = StudyError("The disk is full.", where="x", action="Make room.")


@pytest.mark.parametrize(("stop", "code"), [(KeyboardInterrupt(), 1), (FULL, 2)])
def test_an_import_broken_off_says_what_is_kept(run, people, tmp_path, monkeypatch, stop, code):
    """The last word is how many went in; the second run says that they are known and goes on."""
    plain, calls = together.add_files, []

    def stops(*given, **named):
        calls.append(given)
        if len(calls) == 2:
            raise stop
        return plain(*given, **named)

    monkeypatch.setattr(together, "add_files", stops)
    broken = run("import", people, "--study", tmp_path / "study")
    assert broken.exit_code == code
    assert "stopped: 1 added; run it again to go on from there" in broken.stderr
    monkeypatch.undo()
    again = run("import", people, "--study", tmp_path / "study")
    assert "1 known, 1 refused, 1 added" in again.stdout


def test_a_sheet_says_where_files_belong(run, people, tmp_path):
    """New people need a word, then their files go in."""
    sheet = tmp_path / "list.csv"
    sheet.write_text("file,person,visit,condition\nwalk-1.c3d,P05,first,without-brace\n")
    folder = people / "P01" / "visit-1" / "without-brace"
    arguments = ("import", folder, "--sheet", sheet, "--study", tmp_path / "study")
    refused = run(*arguments)
    assert refused.exit_code == 1 and "Unknown person 'P05'" in refused.stderr
    assert "1 added" in run(*arguments, "--new-people").stdout


def test_follow_prints_a_table_or_json(run, study):
    """Both visits stand there; JSON is plain and carries the notice."""
    text = run("follow", "P01", "--study", study)
    assert text.exit_code == 0 and "visit-2" in text.stdout and "day 42" in text.stdout
    assert "measurement error across days: " in text.stdout and "other tester" in text.stdout
    values = json.loads(run("follow", "P01", "--study", study, "--json").stdout)
    assert values["person"] == "P01" and values["n_stale"] == 0 and values["notice"]
    assert {row["visit"] for row in values["rows"]} == {"visit-1", "visit-2"}


def test_a_correction_is_made_listed_undone_and_told(run, study):
    """From the command line to the history and back."""
    out = run("correct", "exclude-stride", WALK, "left-02", "--study", study, "--why", "stumbled")
    assert out.exit_code == 0 and "strides kept" in out.stdout, out.stderr
    assert "1: exclude_stride" in run("correct", "list", WALK, "--study", study).stdout
    assert run("correct", "undo", WALK, 1, "--study", study, "--why", "did not").exit_code == 0
    assert "(undone)" in run("correct", "list", WALK, "--study", study).stdout
    lines = run("study", "history", "--study", study).stdout.splitlines()
    assert [json.loads(line)["what"] for line in lines[-2:]] == ["exclude_stride", "undo"]


def test_what_the_screen_may_say_of_a_walk_the_terminal_may_too(run, study):
    """Left out whole and taken in again; found right; the sign only of an angle of the file."""
    why = ("--study", study, "--why", "seen in the film")
    assert "0 of" in run("correct", "exclude-walk", WALK, *why).stdout
    again = run("correct", "exclude-walk", WALK, *why)
    assert again.exit_code != 0 and "Undo correction 1" in again.stderr
    assert "0 of" not in run("correct", "undo", WALK, 1, *why).stdout
    assert run("correct", "looked-at", WALK, *why).exit_code == 0
    for command in ("turn-angle", "keep-angle"):
        out = run("correct", command, WALK, "knee", *why)
        assert "holds no angle knee" in out.stderr


def test_a_correction_needs_a_reason(run, study):
    """Without --why nothing is changed."""
    out = run("correct", "swap-sides", WALK, "--study", study)
    assert out.exit_code == 2 and "--why" in out.stderr


def test_recompute_lists_and_measures_what_is_stale(run, study, tmp_path):
    """A new map makes results stale; afterwards none is."""
    (tmp_path / "map.toml").write_text("[sheet]\nrate_hz = 100.0\n")
    out = run("study", "settings", "--study", study, "--map", tmp_path / "map.toml", "--why", "new")
    assert "2 results are stale" in out.stdout
    assert "other settings" in run("recompute", "--list", "--study", study).stdout
    assert run("recompute", "--study", study).exit_code == 0
    assert run("recompute", "--list", "--study", study).stdout == "0 stale\n"


def test_backup_verify_and_erase(run, study, tmp_path):
    """A sound study says so, a damaged one exits with 1; erasing asks first."""
    assert run("study", "backup", tmp_path / "copy", "--study", study).exit_code == 0
    assert run("study", "verify", "--study", tmp_path / "copy").stdout == "sound\n"
    next((tmp_path / "copy" / "originals").rglob("*.c3d")).write_bytes(b"changed")
    damaged = run("study", "verify", "--study", tmp_path / "copy")
    assert damaged.exit_code == 1 and "was changed" in damaged.stderr
    assert "import the recording again" in damaged.stderr
    asked = run("study", "erase", "P01", "--study", study, "--why", "asked for")
    assert asked.exit_code == 1 and run("follow", "P01", "--study", study).exit_code == 0
    assert run("study", "erase", "P01", "--study", study, "--why", "asked", "--yes").exit_code == 0
    gone = run("follow", "P01", "--study", study)
    assert gone.exit_code == 2 and "no person 'P01'" in gone.stderr


def test_an_erasure_names_the_lists_of_who_is_who(run, study, tmp_path):
    """An export's list beside the study still says who the person is in it: exit code 1."""
    options = ("--override-reason", "made up", "--study", study, "--out", tmp_path / "out")
    assert run("export", *options).exit_code == 0
    (kept,) = (tmp_path / "study-id-maps").glob("*.csv")
    (kept.parent / "letter.csv").write_bytes(b"\xff no list")
    done = run("study", "erase", "P01", "--study", study, "--why", "asked", "--yes")
    assert done.exit_code == 1
    assert f"still names the person, delete it or the line: {kept}" in done.stderr
    assert "letter" not in done.stderr


def test_a_backup_is_restored(run, study, tmp_path):
    """Into a new folder; never over a study, and not from what is none."""
    assert run("study", "backup", tmp_path / "copy", "--study", study).exit_code == 0
    done = run("study", "restore", tmp_path / "copy", "--study", tmp_path / "again")
    assert done.exit_code == 0 and "restored with 2 originals" in done.stdout
    assert run("study", "verify", "--study", tmp_path / "again").stdout == "sound\n"
    over = run("study", "restore", tmp_path / "copy", "--study", study)
    assert over.exit_code == 2 and "not empty" in over.stderr
    none = run("study", "restore", tmp_path, "--study", tmp_path.with_name("new"))
    assert none.exit_code == 2 and "not a backup" in none.stderr


def test_an_empty_study_is_made_once(run, tmp_path):
    """It is sound, and says how walks come in; a folder that holds something stays as it is."""
    made = run("study", "new", tmp_path / "study")
    assert made.exit_code == 0 and f"import PATHS --study {tmp_path / 'study'}" in made.stdout
    assert run("study", "verify", "--study", tmp_path / "study").stdout == "sound\n"
    again = run("study", "new", tmp_path / "study")
    assert again.exit_code == 2 and "not empty" in again.stderr


@pytest.mark.parametrize("command", [("follow", "P01"), ("recompute",), ("study", "verify")])
def test_what_is_no_study_is_said(run, tmp_path, command):
    """Each command names the folder and how to make a study."""
    out = run(*command, "--study", tmp_path)
    assert out.exit_code == 2 and "not a study" in out.stderr and "gaittrack import" in out.stderr


def test_maps_are_listed_shown_renamed_removed_and_taken_back(run, study, tmp_path):
    """Each act says what there is now; what is shown can be added again; undo leads back."""

    def maps(*words, code=0):
        done = run("study", "maps", "--study", study, *words)
        assert done.exit_code == code, done.output
        return done.stdout + done.stderr

    text = 'standing_only = ["left_knee_medial"]\n[landmarks]\nleft_heel = "left toe"\n'
    (tmp_path / "hall.toml").write_text(text)
    assert "No map" in maps()
    told = maps("--add", tmp_path / "hall.toml", "--why", "new")
    assert "hall: 1 label, 1 worn only standing; 2 walks" in told and "2 results are stale" in told
    assert maps("--show", "hall") == text
    assert maps("--rename", "hall", "room B").startswith("room B: 1 label")
    assert maps("--undo", "room B").startswith("hall: 1 label")
    assert "No map" in maps("--remove", "hall")
    assert maps("--undo", "hall").startswith("hall: 1 label")
    (tmp_path / "hall.toml").write_text(text.replace("left toe", "right toe"))
    maps("--add", tmp_path / "hall.toml")
    maps("--undo", "hall")
    assert maps("--show", "hall") == text
    for words, said in (
        (("--show", "x"), "Maps: hall"),
        (("--undo", "x"), "Maps: hall"),
        (("--name", "x"), "--add"),
        (("--show", "hall", "--remove", "hall"), "one of"),
    ):
        assert said in maps(*words, code=2)

"""``gaittrack check``: everything a laboratory asks before it believes a file."""

from dataclasses import replace

from tests.made_up_files import RECIPE, write_walk


def test_shows_what_is_in_the_file(run, walk_folder):
    """Format, rate, length, landmarks with their labels, events by source, cycles, problems."""
    done = run("check", walk_folder / "walk-1.c3d")
    assert done.exit_code == 0
    for words in (
        *("C3D, 100 Hz", "landmarks:", "left_heel = left heel", "from markers:"),
        *("left initial contact", "cycles:", "left-01", "kept", "problems:"),
    ):
        assert words in done.stdout, words


def test_says_what_a_missing_landmark_costs(run, tmp_path):
    """Without a left toe side and use are named, and the measures that are not defined."""
    path = tmp_path / "walk.c3d"
    gone = ("left toe", "left metatarsal 5", "left heel")
    write_walk(path, recipe=replace(RECIPE, left_out=gone))
    text = " ".join(run("check", path).stdout.split())
    assert "missing: left_heel: needed for" in text
    assert "missing: left_toe_point: needed for toe clearance" in text
    assert "right_toe_point: needed" not in text


def test_refused_file_gives_exit_code_1(run, tmp_path):
    """What cannot be read is refused on stderr."""
    text = tmp_path / "text.c3d"
    text.write_text("not a recording")
    done = run("check", text)
    assert done.exit_code == 1
    assert "refused" in done.stderr and "text.c3d" in done.stderr

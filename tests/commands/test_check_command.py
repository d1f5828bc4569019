"""``gaittrack check``: everything a laboratory asks before it believes a file."""

from dataclasses import replace

from gaittrack.simulate.c3d_writer import write_c3d
from gaittrack.simulate.walk import simulate_walk
from tests.made_up_files import RECIPE


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
    """Without a heel the file is named, and what needs the heel."""
    recipe = replace(RECIPE, left_out=("left asis", "right asis", "left psis", "right psis"))
    walk = simulate_walk(recipe, seed=3)
    assert len(walk.trial.markers) < len(simulate_walk(RECIPE, seed=3).trial.markers)
    path = tmp_path / "no-pelvis.c3d"
    write_c3d(path, rate_hz=100.0, markers=walk.trial.markers)
    done = run("check", path)
    assert done.exit_code == 0, done.output
    assert "hip (pelvis-thigh)" in done.stdout or "pelvis" in done.stdout


def test_refused_file_gives_exit_code_1(run, tmp_path):
    """What cannot be read is refused on stderr."""
    text = tmp_path / "text.c3d"
    text.write_text("not a recording")
    done = run("check", text)
    assert done.exit_code == 1
    assert "refused" in done.stderr and "text.c3d" in done.stderr

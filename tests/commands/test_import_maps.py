"""What a refusal of ``import`` advises, ``import`` takes, keeps and knows again."""

import numpy as np

from tests.read.completed_maps import completed, offered_map
from tests.read.made_up_sheets import walk, written

CONDITIONS = '[conditions.bare]\northosis = "none"\nfootwear = "barefoot"\n'


def place(folder, name, text):
    """Put a sheet where an import finds it: person K1, first visit, barefoot."""
    path = folder / "K1" / "v1" / "bare" / name
    path.parent.mkdir(parents=True, exist_ok=True)
    (folder / "K1" / "v1" / "conditions.toml").write_text(CONDITIONS, encoding="utf-8")
    path.write_text(text, encoding="utf-8")


def sheet(shift=0, knees=("left knee", "right knee")):
    """Return a sheet that counts frames and tells no rate."""
    columns = {knees[0]: walk("knee"), knees[1]: np.roll(walk("knee"), 50 + shift)}
    return written({"frame": np.arange(1.0, 201)} | columns)


def test_a_rate_is_kept_for_all_tables_with_the_same_columns(run, tmp_path):
    """Asked for, given once, known to recompute and to the next import; a dry run keeps nothing."""
    tree, study = tmp_path / "tree", tmp_path / "study"
    place(tree, "walk 1.csv", sheet())
    told = ("import", tree, "--study", study, "--new-people")
    asked = run(*told)
    assert asked.exit_code == 1 and "--rate HZ" in asked.stdout + asked.stderr
    dry = run(*told, "--rate", 100, "--dry-run")
    assert "1 would add" in dry.stdout and "kept in" not in dry.stdout
    done = run(*told, "--rate", 100)
    assert "1 added" in done.stdout and "map 'rate 100 Hz' kept" in done.stdout
    assert "rate_hz = 100" in run("study", "maps", "--study", study, "--show", "rate 100 Hz").stdout
    assert run("recompute", "--study", study, "--list").stdout == "0 stale\n"
    place(tree, "walk 2.csv", sheet(shift=3))
    again = run(*told)
    assert "1 added, 1 known" in again.stdout or "1 known, 1 added" in again.stdout
    assert "100 Hz are as told" in again.stdout, "said of each file whose rate is an old word"


def test_the_offered_map_is_taken_and_kept(run, tmp_path):
    """The map that the refusal prints, completed as it says and given with --map."""
    tree, study = tmp_path / "tree", tmp_path / "study"
    place(tree, "walk 1.csv", sheet(knees=("A", "B")))
    told = ("import", tree, "--study", study, "--new-people")
    asked = run(*told)
    said = asked.stdout + asked.stderr
    assert "--map" in said
    with_names = {"joint": "knee", "sign": 1, "zero_deg": 0}
    sides = {"A": with_names | {"side": "left"}, "B": with_names | {"side": "right"}}
    text = completed(offered_map(said), sides, {"layout": "time_series", "rate_hz": 100})
    own = tmp_path / "our sheets.toml"
    own.write_text(text, encoding="utf-8")
    done = run(*told, "--map", own)
    assert "1 added" in done.stdout and "map 'our sheets' kept" in done.stdout
    own.write_text(text.replace("100", "50"), encoding="utf-8")
    other = run(*told, "--map", own)
    assert other.exit_code == 2 and "called 'our sheets' already" in other.stderr

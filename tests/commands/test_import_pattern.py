"""An archive comes in by a pattern as a person would do it, who reads only the messages."""

import hashlib
import re
import shlex

import pandas as pd
import pytest

from tests.made_once import made_once
from tests.made_up_files import write_standing, write_walk
from tests.several_in_a_sheet import SHEET_WALKS, sheet_of

PATTERN = "{person}/{date}_{condition}/{trial}"
NAMES = ("ohne/Gehen 1", "mit/Gehen 1", "mit/Gehen 2")


@pytest.fixture(scope="session")
def archive(tmp_path_factory):
    """Give K7 on one day, three walks and two still recordings, one of them called a walk."""

    def make(folder):
        for seed, name in enumerate(NAMES, 1):
            worn, trial = name.split("/")
            path = folder / "K7" / f"2024-03-05_{worn}" / f"{trial}.c3d"
            path.parent.mkdir(parents=True, exist_ok=True)
            write_walk(path, seed=seed)
        write_standing(folder / "K7" / "2024-03-05_ohne" / "static.c3d", seed=1)
        write_standing(folder / "K7" / "2024-03-05_mit" / "Gehen 3.c3d", seed=2)

    return made_once(tmp_path_factory, "archive_by_names", make)


def hashes(folder):
    """Return what every file of a folder holds."""
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    return {path: hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


def test_the_advice_leads_from_a_strange_tree_to_stored_walks(run, archive, tmp_path):
    """Each message is followed to the letter; nothing is stored before the last."""
    study = tmp_path / "study"
    first = run("import", archive, "--study", study)
    assert first.exit_code == 2 and not study.exists()
    proposed = shlex.split(re.search(r"import PATHS (--pattern '.*?')", first.stderr)[1])
    assert proposed[1] == "{person}/{date}_{condition}/{trial}"
    second = run("import", archive, "--study", study, *proposed)
    assert second.exit_code == 2 and "nothing was stored" in second.stderr and not study.exists()
    side = shlex.split(re.search(r"--condition '.*?=with brace left'", second.stderr)[0])
    assert "add --new-people" in second.stderr
    asked = [*proposed, *side, "--new-people"]
    dry = run("import", archive, "--study", study, *asked, "--dry-run")
    assert "would add" in dry.stdout and not study.exists()
    done = run("import", archive, "--study", study, *asked)
    assert "K7/2024-03-05/mit/Gehen 1" in done.stdout and "4 added, 1 refused" in done.stdout
    assert "Gehen 3" in done.stderr and "--plan SHEET finds such files" in done.stderr
    before = hashes(study)
    again = run("import", archive, "--study", study, *asked, "--dry-run")
    assert "4 known, 1 refused" in again.stdout and hashes(study) == before


def test_a_sheet_of_the_tree_says_what_each_file_is_and_comes_back(run, archive, tmp_path):
    """Contents decide what stands; the sheet, its last cell filled in, stores what it says."""
    study, sheet = tmp_path / "study", tmp_path / "plan.xlsx"
    wrote = run("import", archive, "--study", study, "--pattern", PATTERN, "--plan", sheet)
    assert wrote.exit_code == 1 and not study.exists()
    assert "on which side" in wrote.stderr and f"--sheet {sheet} --new-people" in wrote.stdout
    table = pd.read_excel(sheet, dtype=str, keep_default_na=False, engine="calamine")
    uses = dict(zip(table["file"], table["use"], strict=True))
    assert uses["K7/2024-03-05_mit/Gehen 3.c3d"] == uses["K7/2024-03-05_ohne/static.c3d"]
    assert list(uses.values()).count("standing") == 2
    assert set(table["date"]) == {"2024-03-05"}
    assert table["guessed_from"].str.contains("nobody moves in it").sum() == 1
    table.loc[table["condition"] == "mit", "orthosis_side"] = "left"
    table.to_excel(sheet, index=False)
    done = run("import", archive, "--study", study, "--sheet", sheet, "--new-people")
    assert done.exit_code == 0 and done.stdout.endswith("5 added\n"), done.stderr
    again = run("import", archive, archive, "--study", study, "--sheet", sheet)
    assert again.exit_code == 0 and again.stdout.endswith("5 known\n"), again.stderr


def test_a_sheet_of_several_people_has_a_row_for_each_in_the_plan(run, tmp_path):
    """The folder names nobody of them; filled in and given back, each walk is its person's."""
    place = tmp_path / "tree" / "group" / "2024-03-05_ohne" / "day.csv"
    place.parent.mkdir(parents=True)
    place.write_text(sheet_of(Subject=SHEET_WALKS[:2]))
    study, plan = tmp_path / "study", tmp_path / "plan.csv"
    asked = ["import", tmp_path / "tree", "--study", study]
    made = run(*asked, "--pattern", PATTERN, "--plan", plan)
    assert "Each person has a row of the plan" in made.stderr and not study.exists()
    table = pd.read_csv(plan, dtype=str)
    assert [name.rpartition("/")[2] for name in table["file"]] == [
        "day#person-1.csv",
        "day#person-2.csv",
    ]
    assert table["person"].isna().all()
    table["person"] = ["G1", "G2"]
    table.to_csv(plan, index=False)
    done = run(*asked, "--sheet", plan, "--new-people")
    assert "2 added" in done.stdout, done.stderr
    assert "G2/2024-03-05/ohne/day" in done.stdout

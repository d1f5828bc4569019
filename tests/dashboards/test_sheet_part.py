"""Which column of a sheet is which angle: shown, guessed, chosen, kept as a map that reads it."""

import numpy as np
import pytest

from dashboards.add_walks.look_and_store import Looked
from dashboards.add_walks.sheets.sheet_draft import (
    after,
    draft_of_sheets,
    is_asked_about,
    map_of,
    what_is_open,
)
from dashboards.add_walks.sheets.sheet_part import sheet_part
from gaittrack.errors import LayoutError, StudyError
from gaittrack.lab_map import read_lab_map
from gaittrack.read import read_trial
from gaittrack.study.laboratory import laboratory_maps
from gaittrack.study.recordings.planning import ReportRow
from tests.dashboards.axe_check import violations
from tests.read.made_up_sheets import curve, walk, written


def looked(path, text):
    """Return what a look at a sheet gives."""
    path.write_text(text, encoding="utf-8")
    row = ReportRow(path, "refused")
    try:
        read_trial(path, in_child=False)
    except LayoutError as error:
        return Looked(row, path.name, error=error)
    return Looked(row, path.name)


def said(draft, **columns):
    """Return the draft after choices: column to joint and side."""
    names = [one["name"] for one in draft["columns"]]
    for name, (joint, side) in columns.items():
        for key, given in (("joint", joint), ("side", side)):
            press = {"act": "column", "n": names.index(name), "key": key, "chosen": given}
            draft = after(draft, press)
    return draft


@pytest.fixture
def files(tmp_path):
    """Give two sheets alike that tell no rate, one of another kind, and one that reads."""
    alike = {"K1": walk("knee"), "K2": walk("knee"), "Moment": walk("ankle")}
    texts = [
        written({"frame": np.arange(1.0, 201)} | alike),
        written({"frame": np.arange(1.0, 201)} | alike | {"K2": walk("hip")}),
        written({"%": np.linspace(0, 100, 51), "knee": curve("knee", 51)}),
        written({"time": np.arange(200) / 100, "left knee": walk("knee")}),
    ]
    return [looked(tmp_path / f"{n}.csv", text) for n, text in enumerate(texts)]


def test_a_sheet_is_said_column_by_column_and_its_map_reads_it(files, tmp_path):
    """Most files first; guesses are filled in, what is open is told; said, it reads."""
    assert [is_asked_about(one) for one in files] == [True, True, True, False]
    draft = draft_of_sheets(files, ())
    assert (draft["file"], draft["n"]) == ("0.csv", 2)
    joints = {one["name"]: one["joint"] for one in draft["columns"]}
    assert joints == {"frame": "ignore", "K1": "?", "K2": "?", "Moment": "ignore"}
    assert draft["columns"][1]["first"] == [3, 4, 5, 6]
    assert "frames per second" in what_is_open(draft) and "angle of 'K1'" in what_is_open(draft)
    with pytest.raises(StudyError, match="side of 'K2'"):
        map_of(draft)
    draft = said(draft, K1=("knee", "left"), K2=("knee", "right"))
    draft = after(draft, {"act": "key", "key": "rate_hz", "chosen": "100"})
    assert what_is_open(draft) == []
    path = tmp_path / "map.toml"
    path.write_text(map_of(draft), encoding="utf-8")
    for one in files[:2]:
        trial = read_trial(one.row.path, lab_map=read_lab_map(path), in_child=False)
        assert (len(trial.angles), trial.rate_hz) == (2, 100)
    assert not read_trial(files[3].row.path, lab_map=read_lab_map(path), in_child=False).curves


def test_curves_take_the_toe_off_and_nothing_else_is_believed(files, tmp_path):
    """Toe-off said once stands in the map; what no sheet holds changes nothing."""
    draft = draft_of_sheets(files[2:], ())
    draft = said(draft, knee=("knee", "left"))
    draft = after(draft, {"act": "key", "key": "toe_off_percent", "chosen": "61"})
    path = tmp_path / "map.toml"
    path.write_text(map_of(draft), encoding="utf-8")
    trial = read_trial(files[2].row.path, lab_map=read_lab_map(path), in_child=False)
    assert trial.curves[0].toe_off_percent == 61
    for press in ({"act": "key", "key": "path", "chosen": "/"}, {"act": "column", "n": 99,
                  "key": "joint", "chosen": "knee"}, {"act": "other"}):  # fmt: skip
        assert after(draft, press) == draft
    unwanted = said(draft, knee=("ignore", "left"))
    with pytest.raises(StudyError, match="No column"):
        map_of(unwanted)


def test_names_of_columns_are_words_on_the_screen(tmp_path):
    """First rows as they stand; HTML stays words; who may not set maps is told whom to ask."""
    hostile = looked(tmp_path / "a.csv", written({"frame": np.arange(1.0, 201),
                                                  "<b>k</b>": walk("knee")}))  # fmt: skip
    shown = str(sheet_part([hostile], (), may_set=True)[-1])
    rows = shown[shown.index("sheet-rows") : shown.index("map-names")]
    assert 'class=header><th scope="row">1 names</th><td>frame</td><td>&lt;b&gt;k' in rows
    assert '<th scope="row">2</th><td>1.0000</td><td>3.0000</td>' in rows
    assert "&lt;b&gt;k" in shown and "<b>k" not in shown
    assert "administers" in str(sheet_part([hostile], (), may_set=False))
    assert "No sheet waits" in str(sheet_part([], (), may_set=True))


def test_two_sheets_are_said_on_the_screen_and_are_ready(open_page, served_copy, tmp_path):
    """Their columns name no side; chosen once, both files are ready and the map is kept."""
    folder = tmp_path / "3" / "ohne"
    folder.mkdir(parents=True)
    for n in (1, 2):
        knees = {"knee a": walk("knee"), "knee b": np.roll(walk("knee"), 50 + n)}
        text = written({"time (s)": np.arange(200) / 100} | knees)
        (folder / f"gang {n}.csv").write_text(text, encoding="utf-8")
    page = open_page(served_copy, "/add-walks", choice={"person": 2})
    page.set_default_timeout(30_000)
    page.wait_for_selector("#add-walks-person-words:has-text('known')")
    page.set_input_files("#add-walks-folder-input", str(tmp_path / "3"))
    page.get_by_role("button", name="choose columns").nth(1).wait_for()
    page.get_by_role("button", name="choose columns").first.click()
    page.wait_for_selector("h2:has-text('2 points to say, then use it for 2 files')")
    assert violations(page) == []
    page.get_by_role("combobox", name="side of knee a").select_option("left")
    page.wait_for_selector("h2:has-text('1 point to say')")
    page.get_by_role("combobox", name="side of knee b").select_option("right")
    page.get_by_role("button", name="Use “angle sheets” for 2 files").click()
    page.wait_for_selector("#add-walks-which tr:has-text('gang 2'):has-text('ready')")
    with served_copy.study.read() as connection:
        assert [one.name for one in laboratory_maps(connection)] == ["angle sheets"]

"""A sheet says where files belong; each mistake in it has its message."""

import pandas as pd
import pytest

from gaittrack.errors import LayoutError
from gaittrack.study.recordings.planning_sheet import plan_sheet

COLUMNS = "file,person,visit,condition,orthosis,orthosis_side,affected_side,standing,days_worn"
GOOD = "a.c3d,P01,first,brace,ankle-foot orthosis,left,left,s.c3d,30"


@pytest.fixture
def folder(tmp_path):
    """Give a folder with files; nothing is read from them here."""
    for name in ("a.c3d", "b.c3d", "s.c3d"):
        (tmp_path / name).write_bytes(name.encode())
    return tmp_path


def plan_of(folder, *lines, header=COLUMNS, encoding="utf-8"):
    path = folder / "list.csv"
    path.write_text("\n".join([header, *lines]), encoding=encoding)
    return plan_sheet(path, [folder])


@pytest.mark.parametrize("kind", ["comma", "semicolon", "workbook"])
def test_a_sheet_places_files(folder, kind):
    """CSV with either separator (and a byte-order mark) and XLSX give the same plan."""
    if kind == "workbook":
        table = pd.DataFrame([GOOD.split(",")], columns=COLUMNS.split(","))
        table.to_excel(folder / "list.xlsx", index=False)
        plan = plan_sheet(folder / "list.xlsx", [folder])
    elif kind == "semicolon":
        plan = plan_of(
            folder,
            GOOD.replace(",", ";"),
            header=COLUMNS.replace(",", ";"),
            encoding="utf-8-sig",
        )
    else:
        plan = plan_of(folder, GOOD)
    standing, walk = plan.files
    assert (standing.kind, standing.path.name) == ("standing", "s.c3d")
    assert walk.place == "P01/first/brace/a" and walk.standing == standing.path
    condition = walk.visit.conditions["brace"]
    assert (condition.orthosis_side, condition.days_worn) == ("left", 30)
    assert walk.visit.person_facts == {"affected_side": "left"}
    left_out = [row.path.name for row in plan.refused if row.state == "passed over"]
    assert "b.c3d" in left_out and "a.c3d" not in left_out


@pytest.mark.parametrize(
    ("line", "words"),
    [
        (GOOD.replace("a.c3d", "c.c3d"), "There is no file 'c.c3d'"),
        (GOOD.replace("P01", ""), "Empty: person"),
        (GOOD.replace("left,left", ",left"), "not on which side"),
        (GOOD.replace("left,left", "left,right"), "on the left, the affected side is right"),
        (GOOD.replace(",30", ",long"), "no number"),
        (GOOD.replace("s.c3d", "t.c3d"), "There is no file 't.c3d'"),
    ],
)
def test_a_bad_row_costs_itself(folder, line, words):
    """The message names sheet and row; other rows are planned."""
    plan = plan_of(folder, line, "b.c3d,P01,first,brace,ankle-foot orthosis,left,left,,30")
    refused = [row for row in plan.refused if row.state == "refused"]
    assert len(refused) == 1 and words in refused[0].message
    assert "list.csv row 2" in refused[0].message
    assert [file.path.name for file in plan.files] == ["b.c3d"]


def test_a_file_named_twice_is_refused_the_second_time(folder):
    """Both rows are named."""
    plan = plan_of(folder, GOOD, GOOD.replace("brace", "other"))
    (refused,) = [row for row in plan.refused if row.state == "refused"]
    assert "row 3" in refused.message and "row 2" in refused.message


@pytest.mark.parametrize(
    "header", [COLUMNS.replace("person,", "who,"), COLUMNS.replace(",visit", "")]
)
def test_a_sheet_without_its_columns_is_refused(folder, header):
    """The message names what is missing or unknown."""
    with pytest.raises(LayoutError, match="missing|unknown"):
        plan_of(folder, GOOD, header=header)

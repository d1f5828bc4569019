"""A sheet in doubt is asked about, and the printed map answers."""

import re

import numpy as np
import pytest

from gaittrack.errors import LayoutError
from gaittrack.lab_map import read_lab_map
from gaittrack.pipeline import MeasureOptions, measure_file
from gaittrack.read import read_trial
from tests.read.made_up_sheets import curve, read_sheet, series, walk, written


def printed_map(error):
    """Return the map file that a question prints."""
    text = str(error)
    return text[text.index("[sheet]") :]


def completed(text, path, answers, dropped=()):
    """Return the map with its question marks replaced and some columns' tables deleted."""
    blocks = text.split("\n\n")
    kept = [b for b in blocks if not any(f'name = "{name}"' in b for name in dropped)]
    text = "\n\n".join(kept)
    for key, value in answers.items():
        text = re.sub(rf'(?m)^{key} = "\?"', f"{key} = {value}", text)
    path.write_text(text, encoding="utf-8")
    return read_lab_map(path)


def ask_about(text, **options):
    with pytest.raises(LayoutError) as caught:
        read_sheet(text, **options)
    return caught.value


CASES = {
    "no side": (
        written({"time": np.arange(200) / 100, "knee": walk("knee")}),
        {"side": '"left"'},
        (),
    ),
    "axis letters": (
        written({"time": np.arange(200) / 100}
                | {f'L "Knee" Angles {a}': walk("knee") for a in "XYZ"}),
        {"joint": '"knee"'},
        ('L \\"Knee\\" Angles Y', 'L \\"Knee\\" Angles Z'),
    ),
    "unknown words": (
        written({"time": np.arange(200) / 100, "c 1": walk("knee"), "größe": walk("knee")}),
        {"joint": '"knee"', "side": '"left"'},
        ("größe",),
    ),
    "no header": (
        written({"time": np.arange(200) / 100, "k": walk("knee")}).split("\n", 1)[1],
        {"joint": '"knee"', "side": '"left"', "layout": '"time_series"',
         "rate_hz": "100.0"},
        ("column 1",),
    ),
    "turned knee": (
        written({"time": np.arange(200) / 100, "left knee": -0.45 * walk("knee")}),
        {"sign": "-1", "zero_deg": "0"},
        (),
    ),
    "right angle": (
        written({"time": np.arange(200) / 100, "left knee": walk("knee"),
                 "left ankle": 90 - walk("ankle"), "right ankle": 90 - walk("ankle")}),
        {"sign": "-1", "zero_deg": "90"},
        (),
    ),
    "semicolons": (
        written({"time": np.arange(200) / 100, "knee": walk("knee")}, delimiter=";", decimal=","),
        {"side": '"left"'},
        (),
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_the_completed_map_is_accepted(case, tmp_path):
    """Question, answer, reading: the printed map needs only its question marks replaced."""
    text, answers, dropped = CASES[case]
    asked = printed_map(ask_about(text))
    lab_map = completed(asked, tmp_path / "map.toml", answers, dropped)
    trial = read_sheet(text, lab_map=lab_map, rate_hz=100.0 if case == "no header" else None)
    knee = trial.angles["left", "knee"].values
    factor = 0.45 if case == "turned knee" else 1.0
    np.testing.assert_allclose(knee, factor * walk("knee"), atol=1e-3)


@pytest.mark.parametrize("case", [name for name in CASES if name != "semicolons"])
def test_an_unanswered_map_is_refused(case, tmp_path):
    """A map with question marks is never taken as an answer."""
    text, _, _ = CASES[case]
    path = tmp_path / "map.toml"
    path.write_text(printed_map(ask_about(text)), encoding="utf-8")
    with pytest.raises(LayoutError):
        read_sheet(text, lab_map=read_lab_map(path))


def test_cycles_or_conditions_are_answered(tmp_path):
    """Two columns of one name become two conditions by the map."""
    text = written({"%": np.linspace(0, 100, 51), "a": curve("ankle", 51), "b": curve("ankle", 51)})
    text = text.replace("%,a,b", "%,left ankle,left ankle")
    asked = printed_map(ask_about(text))
    path = tmp_path / "map.toml"
    for word in ("bare", "brace"):
        asked = asked.replace('condition = "?"', f'condition = "{word}"', 1)
    path.write_text(asked.replace('cycle = "?"', 'cycle = "1"'), encoding="utf-8")
    trial = read_sheet(text, lab_map=read_lab_map(path))
    assert [c.condition for c in trial.curves] == ["bare", "brace"]


def test_the_layout_is_answered(tmp_path):
    """Over time or over a cycle: one word in the map."""
    text = written({"left ankle": curve("ankle", 90), "left knee": curve("knee", 90)})
    asked = printed_map(ask_about(text))
    cycles = completed(asked, tmp_path / "a.toml", {"layout": '"cycles"'})
    assert len(read_sheet(text, lab_map=cycles).curves) == 2
    answers = {"layout": '"time_series"', "rate_hz": '"50"'}
    series_map = completed(asked, tmp_path / "b.toml", answers)
    assert read_sheet(text, lab_map=series_map).n_frames == 90


def test_the_question_lists_what_was_seen():
    """Columns, first numbers and the doubt stand in the message."""
    text = str(ask_about(written({"time": np.arange(200) / 100, "knee": walk("knee")})))
    assert "sheet.csv: Not sure how to read this sheet. In doubt: side of 'knee'" in text
    assert "'time': 0, 0.01, 0.02, 0.03 … time" in text
    assert "'knee': 3, 4, 5, 6 … knee" in text
    assert "--map" in text


@pytest.mark.parametrize(
    ("line", "word"),
    [('unit = "grad"', "grad"), ("rate_hz = 'fast'", "kind"), ("header_row = true", "kind"),
     ("colour = 1", "colour"), ('layout = "?"', "question mark")],
)  # fmt: skip
def test_a_wrong_map_is_refused_with_what_is_allowed(line, word, tmp_path):
    """Unknown keys, words and kinds of value."""
    path = tmp_path / "map.toml"
    path.write_text(f"[sheet]\n{line}\n", encoding="utf-8")
    with pytest.raises(LayoutError, match=word):
        read_lab_map(path)


def test_all_keys_of_the_map_are_obeyed(tmp_path):
    """Encoding, delimiter, decimal sign and header row as told."""
    path = tmp_path / "map.toml"
    path.write_text(
        '[sheet]\nencoding = "cp1252"\ndelimiter = ";"\ndecimal = ","\nheader_row = 2\n'
    )
    text = "a;b;c;d;e\n" + written(series(), delimiter=";", decimal=",")
    steps = read_sheet(text, lab_map=read_lab_map(path)).provenance.steps
    assert steps[:3] == ("encoding: cp1252", "delimiter: semicolon", "decimal sign: comma")
    assert steps[3].startswith("header in row 2;")


def test_columns_that_look_like_places_are_angles_where_a_map_says_so(tmp_path):
    """Joints in three planes, X, Y and Z, look like markers: the map of the advice reads them."""
    sheet = {"time": np.arange(200) / 100}
    for side, joint in ((s, j) for s in "LR" for j in ("ankle", "knee")):
        angles = walk(joint)
        sheet |= {f"{side}{joint}_{axis}": angles / n for n, axis in enumerate("XYZ", 1)}
    path, own = tmp_path / "planes.csv", tmp_path / "map.toml"
    path.write_text(written(sheet))
    refused = measure_file(path, MeasureOptions())
    assert "if the columns of a table are joint angles" in refused.error.action
    tables = [
        f'[[columns]]\nname = "{name}_X"\njoint = "{name[1:]}"\nside = "{side}"\n'
        for name, side in (("Lankle", "left"), ("Lknee", "left"), ("Rankle", "right"))
    ]
    own.write_text("\n".join(tables))
    trial = read_trial(path, lab_map=own, in_child=False)
    assert set(trial.angles) == {("left", "ankle"), ("left", "knee"), ("right", "ankle")}

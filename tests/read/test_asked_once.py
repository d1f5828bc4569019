"""Whatever is in doubt about a sheet is asked at once: the completed map reads it."""

import io
from itertools import product
from pathlib import Path

import numpy as np
import openpyxl
import pytest

from gaittrack.errors import LayoutError
from gaittrack.read import read_trial
from tests.broken_files import BROKEN
from tests.read.completed_maps import complete
from tests.read.made_up_sheets import curve, walk, written

LEGS = {("left", "knee"): walk("knee", 121), ("right", "knee"): np.roll(walk("knee", 121), 50)}
NAMED = {
    "full": ("left knee", "right knee"),
    "no side": ("knee a", "knee b"),
    "nothing": ("A", "B"),
}
AXES = {
    "time": {"time (s)": np.arange(121) / 100},
    "frames": {"frame": np.arange(1.0, 122)},
    "none": {},
}


def in_a_workbook(**sheets):
    """Write tables of text as the sheets of one workbook."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, text in sheets.items():
        page = book.create_sheet(name)
        for line in text.splitlines():
            page.append([_cell(cell) for cell in line.split(",")])
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def _cell(word):
    try:
        return float(word)
    except ValueError:
        return word


def stacked(columns, **keys):
    """Return a table twice, one below the other, behind columns that differ."""
    head = {name: [words[0]] * 121 + [words[1]] * 121 for name, words in keys.items()}
    return written(head | {name: np.tile(values, 2) for name, values in columns.items()})


HOLDING = {
    "one": written,
    "two people": lambda columns: stacked(columns, Subject=("Smith", "Jones")),
    "two trials": lambda columns: stacked(columns, Trial=("t 1", "t 2")),
    "two blocks": lambda columns: written(columns) + "\nsecond\n\n" + written(columns),
    "two sheets": lambda columns: in_a_workbook(one=written(columns), two=written(columns)),
    "a moment": lambda columns: written(columns | {"knee moment": 20 * walk("ankle", 121)}),
}


def over_time():
    """Yield what a sheet over time may lack, combined, and the truth about it."""
    ways = [("plain", holding) for holding in HOLDING] + [("stiff", "one"), ("small", "one")]
    for named, axis, (way, holding) in product(NAMED, AXES, ways):
        factor = {"plain": 1.0, "stiff": -0.45, "small": np.radians(0.1)}[way]
        pairs = zip(NAMED[named], LEGS.values(), strict=True)
        content = HOLDING[holding](AXES[axis] | {name: factor * v for name, v in pairs})
        sign = -1 if way == "stiff" else 1
        columns = {
            name: {"joint": "knee", "side": side, "sign": sign, "zero_deg": 0}
            for name, (side, _) in zip(NAMED[named], LEGS, strict=True)
        }
        keys = {"layout": "time_series", "unit": "rad" if way == "small" else "deg",
                "rate_hz": 100}  # fmt: skip
        scale = {"plain": 1.0, "stiff": 0.45, "small": 0.1}[way]
        yield f"{named}, {axis}, {holding}, {way}", content, columns, keys, scale


def read_with_one_question(content, path, columns, keys):
    """Return the trial, and how often was asked: never or once."""
    sheet = path.with_name("sheet.csv")
    sheet.write_bytes(content if isinstance(content, bytes) else content.encode())
    try:
        return read_trial(sheet, in_child=False), 0
    except LayoutError as asked:
        assert "Smith" not in str(asked)
        lab_map = complete(asked, path, columns, keys)
        return read_trial(sheet, lab_map=lab_map, in_child=False), 1


def test_a_sheet_over_time_is_asked_about_once(tmp_path):
    """Names, rate, unit, sign and recording in doubt, one or several of them: one question."""
    n_asked = 0
    for case, content, columns, keys, scale in over_time():
        trial, asked = read_with_one_question(content, tmp_path / "map.toml", columns, keys)
        n_asked += asked
        assert set(trial.angles) == set(LEGS), case
        assert trial.rate_hz == pytest.approx(100), case
        if "nothing" not in case or "stiff" not in case:
            for key, values in LEGS.items():
                got = trial.angles[key].values
                np.testing.assert_allclose(got, scale * values, atol=2e-2, err_msg=case)
    assert n_asked > 60


KNEES = {"joint": "knee", "sign": 1, "zero_deg": 0}
PERCENT = {"%": np.linspace(0, 100, 101)}
ROWS = [f"Knie {word}," + ",".join(f"{v:.2f}" for v in curve("knee", 100)) for word in "ab"]
CURVES = {
    "columns without a side": (
        written(PERCENT | {"knee 1": curve("knee"), "knee 2": curve("knee"),
                           "knee 3": curve("knee")}),
        {f"knee {n}": KNEES | {"side": "left", "cycle": n, "condition": ""} for n in (1, 2, 3)},
        {}, 3,
    ),
    "columns of one name": (
        written(PERCENT | {"left knee": curve("knee"), "c": curve("knee")})
        .replace("left knee,c", "left knee,left knee"),
        {"left knee": KNEES | {"side": "left", "cycle": 1, "condition": "bare"},
         "left knee (2)": KNEES | {"side": "left", "cycle": 1, "condition": "brace"}},
        {}, 2,
    ),
    "no index and no names": (
        written({"A": curve("knee", 90), "B": curve("knee", 90)}),
        {"A": KNEES | {"side": "left"}, "B": KNEES | {"side": "right"}},
        {"layout": "cycles", "rate_hz": 100}, 2,
    ),
    "rows of points or per cent": (
        "\n".join(["curve," + ",".join(map(str, range(1, 101))), *ROWS]) + "\n",
        {"Knie a": KNEES | {"side": "left"}, "Knie b": KNEES | {"side": "right"}},
        {"header_numbers": "points"}, 2,
    ),
    "rows of two people": (
        "\n".join(["subject,curve," + ",".join(map(str, range(0, 101, 2)))]
                  + [f"{who},{side} knee," + ",".join(f"{v:.2f}" for v in curve("knee", 51))
                     for who in ("Smith", "Jones") for side in ("left", "right")]) + "\n",
        {}, {}, 2,
    ),
    "rows of axis letters": (
        "\n".join(f"left knee {axis}," + ",".join(f"{v:.2f}" for v in curve("knee", 51))
                  for axis in "xyz") + "\n",
        {"left knee x": KNEES | {"side": "left"}},
        {}, 1,
    ),
    "stacked without a side": (
        written({"percent": np.tile(np.linspace(0, 100, 51), 2),
                 "joint": ["knee"] * 51 + ["ankle"] * 51,
                 "result": np.concatenate((curve("knee", 51), curve("ankle", 51)))}),
        {"knee": KNEES | {"side": "left"},
         "ankle": {"joint": "ankle", "side": "left", "sign": 1, "zero_deg": 0}},
        {}, 2,
    ),
    "stacked with two columns of numbers": (
        written({"percent": np.tile(np.linspace(0, 100, 51), 2),
                 "joint": ["left knee"] * 51 + ["right knee"] * 51,
                 "one": np.tile(curve("knee", 51), 2), "two": np.zeros(102)}),
        {}, {"value_column": "one"}, 2,
    ),
    "stacked, cycles that repeat": (
        written({"percent": np.tile(np.linspace(0, 100, 51), 4),
                 "cycle": [n for n in ("1", "2", "1", "2") for _ in range(51)],
                 "left knee": np.tile(curve("knee", 51), 4)}),
        {"left knee": KNEES | {"side": "left", "cycle": "", "condition": ""}},
        {"cycle_column": "none", "condition_column": "none"}, 4,
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", CURVES)
def test_curves_are_asked_about_once(case, tmp_path):
    """Columns, rows and stacks of curves: the completed map reads all of them."""
    content, columns, keys, n_curves = CURVES[case]
    trial, asked = read_with_one_question(content, tmp_path / "map.toml", columns, keys)
    assert (len(trial.curves), asked) == (n_curves, 1)


def test_every_file_that_is_wrong_on_purpose_is_asked_about_once(tmp_path):
    """The sheets among the broken files: whatever they offer reads, when it is completed."""
    n_asked = 0
    for broken in BROKEN:
        path: Path = tmp_path / broken.name
        if path.suffix in (".csv", ".xlsx"):
            broken.write(path)
            plain = {"side": "left", "sign": 1, "zero_deg": 0}
            columns = {"A": plain | {"joint": "ankle"}, "B": plain | {"joint": "knee"}}
            keys = {"layout": "time_series", "rate_hz": 100, "unit": "deg"}
            _, asked = read_with_one_question(
                path.read_bytes(), tmp_path / "map.toml", columns, keys
            )
            n_asked += asked
    assert n_asked >= 1

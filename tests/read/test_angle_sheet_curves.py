"""Joint angles over 0–100 % of a cycle, in columns, in rows and stacked."""

import math

import numpy as np
import pytest

from gaittrack.errors import DataError, LayoutError, TruncatedFileError
from gaittrack.lab_map import ColumnMap, LabMap, SheetMap
from tests.read.made_up_sheets import curve, messages, read_sheet, written


def found(trial):
    """Return curves by (side, joint, condition, cycle)."""
    curves = {(c.side, c.joint, c.condition, c.cycle): c for c in trial.curves}
    assert len(curves) == len(trial.curves)
    return curves


@pytest.mark.parametrize("n_points", [51, 101, 120, 201])
@pytest.mark.parametrize("name", ["%", "Gait cycle (%)", "percent", ""])
def test_one_column_per_cycle(n_points, name):
    """Any count of points; a per cent column by its name or by its numbers."""
    columns = {
        name: np.linspace(0, 100, n_points),
        "left ankle 1": curve("ankle", n_points),
        "left ankle 2": curve("ankle", n_points) + 1,
        "left knee 1": curve("knee", n_points),
        "left knee 2": curve("knee", n_points),
    }
    trial = read_sheet(written(columns))
    assert math.isnan(trial.rate_hz)
    assert trial.n_frames == 0
    curves = found(trial)
    assert set(curves) == {("left", j, "", c) for j in ("ankle", "knee") for c in ("1", "2")}
    one = curves["left", "ankle", "", "2"]
    np.testing.assert_allclose(one.values_deg, curve("ankle", n_points) + 1, atol=1e-4)


def test_without_times_there_are_none():
    """Cycle time and toe-off are NaN when the sheet does not give them, and that is said."""
    trial = read_sheet(written({"%": np.linspace(0, 100, 51), "left knee": curve("knee", 51)}))
    (one,) = trial.curves
    assert math.isnan(one.cycle_time_s)
    assert math.isnan(one.toe_off_percent)
    assert "no cycle time. They give no rates" in messages(trial)
    assert "no toe-off. They give no swing measures" in messages(trial)


@pytest.mark.parametrize(
    ("rows", "expected"),
    [
        ("cycle time (s),1.1,1.2\ntoe-off (%),61,62.5\n", [(1.1, 61), (1.2, 62.5)]),
        ("stride time (ms),1100,1200\ntoe off (s),0.66,0.72\n", [(1.1, 60), (1.2, 60)]),
        ("cycle time (s),1.1\n", [(1.1, math.nan)] * 2),
        ("toe off,0.62,0.61\n", [(math.nan, math.nan)] * 2),
        ("toe off,12,13\n", [(math.nan, math.nan)] * 2),
        ("cycle time,98,99\n", [(math.nan, math.nan)] * 2),
    ],
)
@pytest.mark.parametrize("above", [True, False])
def test_rows_of_cycle_time_and_toe_off(rows, expected, above):
    """Rows above or below give them; what has no clear unit is not used."""
    body = written({"%": np.linspace(0, 100, 51), "left knee 1": curve("knee", 51),
                    "left knee 2": curve("knee", 51)})  # fmt: skip
    trial = read_sheet(rows + "\n" + body if above else body + rows)
    values = [(c.cycle_time_s, c.toe_off_percent) for c in trial.curves]
    np.testing.assert_allclose(values, expected)


def test_conditions_and_means():
    """Leftover words are the condition; mean and spread are told apart."""
    columns = {
        "percent": np.linspace(0, 100, 51),
        "left ankle no brace mean": curve("ankle", 51),
        "left ankle no brace SD": np.ones(51),
        "left ankle with brace": curve("ankle", 51) + 3,
        "SD": np.ones(51),
        "left knee with brace": curve("knee", 51),
    }
    trial = read_sheet(written(columns))
    means = {(c.joint, c.condition): c.is_mean for c in trial.curves}
    assert means == {
        ("ankle", "no brace"): True,
        ("ankle", "with brace"): True,
        ("knee", "with brace"): False,
    }
    assert "A spread, not an angle" in messages(trial)


def test_equal_names_are_asked_about():
    """Two columns of one name may be cycles or conditions."""
    text = written({"%": np.linspace(0, 100, 51), "a": curve("ankle", 51), "b": curve("ankle", 51)})
    with pytest.raises(LayoutError, match="cycles or conditions"):
        read_sheet(text.replace("%,a,b", "%,left ankle,left ankle"))


def test_cycle_numbers_in_a_row_below_the_names():
    """A name over several columns, numbered in the next row."""
    columns = {c: v for c, v in zip("abcde", [np.linspace(0, 100, 101), curve("ankle"),
               curve("ankle") + 1, curve("knee"), curve("knee") + 1], strict=True)}  # fmt: skip
    head = "Percent,Left ankle,,Right knee,\n,1,2,1,2\n"
    curves = found(read_sheet(head + written(columns).split("\n", 1)[1]))
    assert set(curves) == {("left", "ankle", "", "1"), ("left", "ankle", "", "2"),
                           ("right", "knee", "", "1"), ("right", "knee", "", "2")}  # fmt: skip
    second = curves["right", "knee", "", "2"].values_deg
    np.testing.assert_allclose(second, curve("knee") + 1, atol=1e-4)


def rows_of(header, rows):
    lines = [",".join(header), *(",".join(map(str, row)) for row in rows)]
    return "\n".join(lines) + "\n"


@pytest.mark.parametrize("n_points", [51, 101, 60])
@pytest.mark.parametrize("style", ["percent", "points", "percent sign"])
def test_one_row_per_cycle(n_points, style):
    """Words, facts, then one number per point."""
    grid = np.linspace(0, 100, n_points)
    heads = {
        "percent": [f"{p:.2f}" for p in grid],
        "percent sign": [f"{p:.2f}%" for p in grid],
        "points": [f"p{n + 1}" for n in range(n_points)],
    }
    rows = [
        ["left", joint, cycle, 1.1, 62, *np.round(curve(joint, n_points) + cycle, 3)]
        for joint in ("ankle", "knee")
        for cycle in (1, 2)
    ]
    header = ["side", "joint", "cycle", "cycle time (s)", "toe off (%)", *heads[style]]
    curves = found(read_sheet(rows_of(header, rows)))
    assert set(curves) == {("left", j, "", c) for j in ("ankle", "knee") for c in ("1", "2")}
    one = curves["left", "knee", "", "2"]
    assert (one.cycle_time_s, one.toe_off_percent) == (1.1, 62)
    np.testing.assert_allclose(one.values_deg, curve("knee", n_points) + 2, atol=1e-3)


def test_one_row_per_condition_without_a_header():
    """Rows named in words alone."""
    rows = [
        [f"left {joint} {worn}", *np.round(curve(joint, 51), 3)]
        for joint in ("ankle", "knee")
        for worn in ("no AFO", "AFO")
    ]
    text = "\n".join(",".join(map(str, row)) for row in rows)
    curves = found(read_sheet(text + "\n"))
    assert ("left", "knee", "no AFO", "1") in curves
    assert len(curves) == 4


def stacked(percents, cycles=(1, 2), conditions=("bare", "brace"), extra="stride time (s)"):
    lines = [f"condition,stride,percent,left ankle,left knee,{extra}"]
    for condition in conditions:
        for cycle in cycles:
            for percent in percents:
                ankle, knee = (np.interp(percent, np.linspace(0, 100, 101), curve(j)) + cycle
                               for j in ("ankle", "knee"))  # fmt: skip
                lines.append(f"{condition},{cycle},{percent:g},{ankle:.3f},{knee:.3f},1.{cycle}")
    return "\n".join(lines) + "\n"


@pytest.mark.parametrize("n_points", [51, 101])
def test_stacked_cycles(n_points):
    """Cycle, condition and per cent columns; one column per joint."""
    curves = found(read_sheet(stacked(np.linspace(0, 100, n_points))))
    assert len(curves) == 8
    one = curves["left", "ankle", "brace", "2"]
    assert one.cycle_time_s == 1.2
    np.testing.assert_allclose(one.values_deg, curve("ankle", n_points) + 2, atol=1e-3)


def test_one_value_per_row():
    """Cycle, side, joint, per cent and angle: the tidy form."""
    lines = ["cycle,side,joint,percent,angle"]
    lines += [
        f"{cycle},{side},{joint},{p},{curve(joint)[p]:.3f}"
        for cycle in (1, 2)
        for side in ("left", "right")
        for joint in ("ankle", "knee", "hip")
        for p in range(101)
    ]
    curves = found(read_sheet("\n".join(lines) + "\n"))
    assert len(curves) == 12
    values = curves["right", "hip_pelvis_thigh", "", "2"].values_deg
    np.testing.assert_allclose(values, curve("hip"), atol=1e-3)


def test_a_cut_last_cycle_is_a_cut_file():
    """A curve that stops at 57 % is not taken for a whole one."""
    text = stacked(np.linspace(0, 100, 101))
    lines = text.splitlines(keepends=True)
    with pytest.raises(TruncatedFileError, match="0 to 57 %"):
        read_sheet("".join(lines[: -(100 - 57)]))
    columns = {"%": np.linspace(0, 57, 58), "left knee": curve("knee")[:58]}
    with pytest.raises(TruncatedFileError, match="57"):
        read_sheet(written(columns))


def test_a_missing_end_point_is_a_gap():
    """1 to 100 and 0 to 99 % are curves with one point not recorded."""
    for first, last, gap in ((1, 100, 0), (0, 99, 100)):
        percent = np.arange(first, last + 1.0)
        (one,) = read_sheet(written({"%": percent, "left knee": curve("knee")[first : last + 1]})
                            ).curves  # fmt: skip
        assert len(one.values_deg) == 101
        assert np.flatnonzero(np.isnan(one.values_deg)).tolist() == [gap]


def test_an_uneven_per_cent_column_is_refused():
    """Points are never interpolated while reading."""
    percent = np.linspace(0, 10, 51) ** 2
    with pytest.raises(DataError, match="not evenly spaced"):
        read_sheet(written({"%": percent, "left knee": curve("knee", 51)}))


def test_without_an_index_column():
    """51 or 101 rows that close on themselves are a cycle, said so; else the question."""
    trial = read_sheet(written({"left ankle": curve("ankle"), "left knee": curve("knee")}))
    assert len(trial.curves) == 2
    assert "each angle ends where it began" in messages(trial)
    with pytest.raises(LayoutError, match="over time"):
        read_sheet(written({"left knee": curve("knee", 90)}) + "")
    series = read_sheet(written({"left ankle": curve("ankle"), "left knee": curve("knee")}),
                        rate_hz=100)  # fmt: skip
    assert series.curves == ()
    assert series.n_frames == 101


def test_time_from_0_to_1():
    """101 rows from 0 to 1 may be one second: asked; an odd count and a closed curve are not."""
    with pytest.raises(LayoutError, match="seconds, or parts of a cycle"):
        read_sheet(written({"time": np.linspace(0, 1, 101), "left knee": curve("knee")}))
    columns = {"time": np.linspace(0, 1, 120), "left knee": curve("knee", 120)}
    trial = read_sheet(written(columns, digits=6))
    assert len(trial.curves[0].values_deg) == 120
    assert "parts of a cycle" in messages(trial)


def test_a_map_describes_columns_of_curves():
    """Cycle, times, mean and condition come from the map."""
    text = written(
        {"p": np.linspace(0, 100, 51), "c1": -curve("ankle", 51), "c2": curve("knee", 51)}
    )
    sheet = SheetMap(
        layout="cycles",
        percent_column="p",
        columns=(
            ColumnMap("c1", "ankle", "right", sign=-1, cycle="7", cycle_time_s=1.3,
                      toe_off_percent=60, mean=True, condition="brace"),
        ),
    )  # fmt: skip
    (one,) = read_sheet(text, lab_map=LabMap(sheet=sheet)).curves
    assert (one.side, one.joint, one.cycle, one.condition) == ("right", "ankle", "7", "brace")
    assert (one.cycle_time_s, one.toe_off_percent, one.is_mean) == (1.3, 60, True)
    np.testing.assert_allclose(one.values_deg, curve("ankle", 51), atol=1e-4)


def test_signs_of_curves_are_settled_like_those_of_series():
    """A knee at -60 in swing is turned; ankles that move the wrong way are asked about."""
    columns = {"%": np.linspace(0, 100, 101), "left knee": -curve("knee"),
               "left ankle": curve("ankle"), "right ankle": curve("ankle")}  # fmt: skip
    curves = found(read_sheet(written(columns)))
    np.testing.assert_allclose(curves["left", "knee", "", "1"].values_deg, curve("knee"), atol=1e-4)
    turned = columns | {f"{side} ankle": -curve("ankle") for side in ("left", "right")}
    with pytest.raises(LayoutError, match="plantarflexion were positive"):
        read_sheet(written(turned))

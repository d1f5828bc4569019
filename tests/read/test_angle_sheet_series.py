"""Joint angles over time: rate, signs, units, neutral, events."""

import numpy as np
import pytest

from gaittrack.errors import DataError, LayoutError
from gaittrack.lab_map import ColumnMap, EventColumnMap, LabMap, SheetMap
from gaittrack.read.marker_texts import marker_text
from gaittrack.read.sheets import angle_sheet
from tests.read.made_up_sheets import messages, read_sheet, series, walk, written


def test_values_sides_and_rate_are_those_of_the_sheet():
    """A plain sheet gives its own numbers, unfiltered, at its own rate."""
    trial = read_sheet(written(series()))
    assert trial.rate_hz == pytest.approx(100.0)
    assert trial.n_frames == 200
    assert set(trial.angles) == {(s, j) for s in ("left", "right") for j in ("ankle", "knee")}
    np.testing.assert_allclose(trial.angles["left", "knee"].values, walk("knee"), atol=1e-4)
    assert trial.angles["left", "knee"].unit == "deg"
    assert trial.provenance.format == "joint-angle sheet"


def test_tab_text_named_xls_with_a_long_preamble_reads():
    """Twenty key and value lines, double blanks in names, CRLF, fewer values than names."""
    columns = {
        "Frame": np.arange(301, 501),
        "Left Ankle Angle": walk("ankle"),
        "Right  Ankle Angle": walk("ankle"),
        "Left Knee  Flexion": walk("knee"),
        "Comment": [],
    }
    keys = "".join(f"Setting {n}\t{n * 1.5}\n" for n in range(24))
    text = keys + "Frame rate\t120\n\n" + written(columns, delimiter="\t", digits=2)
    text = text.replace("\t\n", "\n").replace("\n", "\r\n")
    assert angle_sheet.looks_like(text.encode(), ".xls")
    assert not marker_text.looks_like(text.encode(), ".xls")
    trial = read_sheet(text, name="walk.xls")
    assert trial.rate_hz == 120.0
    assert trial.first_frame == 301
    assert set(trial.angles) == {("left", "ankle"), ("right", "ankle"), ("left", "knee")}


@pytest.mark.parametrize("rate_hz", [59.94, 100.0, 150.0, 200.0, 240.0])
@pytest.mark.parametrize("unit", ["s", "ms"])
def test_times_rounded_to_a_millisecond_give_the_right_rate(rate_hz, unit):
    """The rate is the mean from first to last row, not a difference of neighbours."""
    time = np.round(np.arange(200) / rate_hz, 3)
    columns = series() | {"Time (s)": time if unit == "s" else time * 1000}
    for name in ("Time", f"Time ({unit})"):
        renamed = {name if key == "Time (s)" else key: v for key, v in columns.items()}
        assert read_sheet(written(renamed)).rate_hz == pytest.approx(rate_hz, rel=2e-3)


def test_a_told_rate_comes_first_and_a_contradiction_is_said():
    """--rate wins over the time column, with a warning when they differ."""
    trial = read_sheet(written(series()), rate_hz=50.0)
    assert trial.rate_hz == 50.0
    assert "100.00 Hz, told were 50 Hz" in messages(trial)
    told = LabMap(sheet=SheetMap(rate_hz=101.0))
    assert read_sheet(written(series()), lab_map=told).rate_hz == 101.0


@pytest.mark.parametrize(
    ("line", "told_hz", "rate_hz", "code"),
    [
        ("Frame rate\t120\n\n", None, 120.0, None),
        ("Frame rate\t120\n\n", 120.0, 120.0, None),
        ("Frame rate\t120\n\n", 100.0, 100.0, "told_rate_differs"),
        ("", 100.0, 100.0, "rate_as_told"),
    ],
)
def test_a_rate_kept_in_a_map_is_held_against_what_the_file_declares(line, told_hz, rate_hz, code):
    """A map may be of other recordings: where the file says otherwise, or nothing, it is told."""
    columns = {"Frame": np.arange(1, 201), "left knee": walk("knee"), "right knee": walk("knee")}
    columns["right knee"] = np.roll(walk("knee"), 50)
    lab_map = LabMap(sheet=SheetMap(rate_hz=told_hz))
    trial = read_sheet(line + written(columns, delimiter="\t"), lab_map=lab_map)
    said = [p.reason.code for p in trial.problems if "rate" in p.reason.code]
    assert trial.rate_hz == rate_hz
    assert said == ([code] if code else [])


def test_a_frame_column_needs_a_rate():
    """Frames alone give no time: the message asks for --rate."""
    columns = {"Frame": np.arange(1, 201), "left knee": walk("knee")}
    with pytest.raises(LayoutError, match=r"(?s)--rate.*rate_hz = \"\?\""):
        read_sheet(written(columns))
    assert read_sheet(written(columns), rate_hz=100).duration_s == pytest.approx(1.99)


def test_rows_left_out_come_back_as_gaps():
    """Missing frames are NaN at their place; the rate stays."""
    columns = series()
    kept = [row for row in range(200) if not 50 <= row < 55]
    trial = read_sheet(written({key: np.asarray(v)[kept] for key, v in columns.items()}))
    assert trial.n_frames == 200
    assert trial.rate_hz == pytest.approx(100.0)
    gaps = np.flatnonzero(np.isnan(trial.angles["left", "knee"].values))
    assert gaps.tolist() == [50, 51, 52, 53, 54]
    assert "5 frames are left out" in messages(trial)


def test_a_stretch_of_zeros_is_a_gap():
    """Missing written as 0: a swing dorsiflexion of exactly 0 must not come out of it."""
    ankle = walk("ankle")
    start = int(np.argmax(ankle))
    ankle[start : start + 20] = 0.0
    trial = read_sheet(written(series(**{"Left Ankle": ankle})))
    values = trial.angles["left", "ankle"].values
    assert np.isnan(values[start : start + 20]).all()
    assert "20 numbers are exactly 0" in messages(trial)


def test_whole_degrees_that_pass_zero_are_no_gap():
    """Rounded angles stay at 0 for some frames, without a jump."""
    trial = read_sheet(written(series(**{"Left Ankle": np.round(walk("ankle"))})))
    assert not np.isnan(trial.angles["left", "ankle"].values).any()


def test_times_that_do_not_rise_evenly_are_refused():
    """A time that falls, or random times, give no rate."""
    twice = np.concatenate((np.arange(100), np.arange(50, 150))) / 100
    with pytest.raises(DataError, match="does not rise"):
        read_sheet(written(series(**{"Time (s)": twice})))
    uneven = np.cumsum(np.random.default_rng(1).uniform(0.004, 0.03, 200))
    with pytest.raises(DataError, match="not evenly spaced"):
        read_sheet(written(series(**{"Time (s)": uneven})))


def test_a_time_unit_that_gives_no_rate_is_refused():
    """A header that says s over numbers in ms is a contradiction, not a 0.1 Hz recording."""
    with pytest.raises(LayoutError, match="header says s"):
        read_sheet(written(series(**{"Time (s)": np.arange(200) * 10.0})))


@pytest.mark.parametrize("header", ["", " (rad)", " [radians]"])
def test_radians_become_degrees(header):
    """Said by the header or told by their size, radians are converted."""
    columns = {
        (key if "Time" in key else key + header): (v if "Time" in key else np.radians(v))
        for key, v in series().items()
    }
    trial = read_sheet(written(columns, digits=6))
    np.testing.assert_allclose(trial.angles["left", "knee"].values, walk("knee"), atol=1e-3)
    assert any("unit: rad" in step for step in trial.provenance.steps)
    if not header:
        assert "as small as radians" in messages(trial)


def test_a_unit_that_contradicts_the_numbers_is_asked_about():
    """Degrees under a header that says rad are not multiplied by 57."""
    columns = {(k if "Time" in k else k + " (rad)"): v for k, v in series().items()}
    with pytest.raises(LayoutError, match="says rad, the numbers look like deg"):
        read_sheet(written(columns))


def test_numbers_too_small_to_tell_are_asked_about():
    """Angles below 0.1 may be radians or a person who stands still."""
    columns = {(k if "Time" in k else k): (v if "Time" in k else v * 1e-3)
               for k, v in series().items()}  # fmt: skip
    with pytest.raises(LayoutError, match="deg or rad"):
        read_sheet(written(columns, digits=6))
    told = LabMap(sheet=SheetMap(unit="deg"))
    assert read_sheet(written(columns, digits=6), lab_map=told).n_frames == 200


def test_plantarflexion_positive_by_name_is_turned():
    """A column that names plantarflexion comes out dorsiflexion positive."""
    columns = series()
    columns["Left Ankle plantarflexion"] = -columns.pop("Left Ankle")
    trial = read_sheet(written(columns))
    np.testing.assert_allclose(trial.angles["left", "ankle"].values, walk("ankle"), atol=1e-4)
    assert any("turned" in step for step in trial.provenance.steps)


def test_a_knee_that_hyperextends_by_sixty_degrees_is_turned_and_said():
    """No knee does that: flexion was negative."""
    columns = series(**{"Left Knee": -walk("knee"), "Right Knee": -walk("knee")})
    trial = read_sheet(written(columns))
    for side in ("left", "right"):
        np.testing.assert_allclose(trial.angles[side, "knee"].values, walk("knee"), atol=1e-4)
    assert messages(trial).count("no knee hyperextends so") == 2
    assert sum("flexion was negative" in step for step in trial.provenance.steps) == 2


def test_a_stiff_negative_knee_is_asked_about():
    """-25 to 0 may be a stiff knee with turned sign or a hyperextending one."""
    columns = {"Time (s)": np.arange(200) / 100, "Left Knee": -walk("knee") * 0.45}
    with pytest.raises(LayoutError, match="is flexion negative") as caught:
        read_sheet(written(columns))
    assert 'sign = "?"' in str(caught.value)


def test_a_hyperextending_knee_is_left_alone():
    """-10 degrees in stance and 50 in swing is a finding, not a sign error."""
    knee = walk("knee") - 13
    trial = read_sheet(written(series(**{"Left Knee": knee})))
    np.testing.assert_allclose(trial.angles["left", "knee"].values, knee, atol=1e-4)


def test_ninety_is_taken_off_an_ankle_and_said():
    """A sheet that calls the right angle 90."""
    columns = series(**{"Left Ankle": walk("ankle") + 90, "Right Ankle": walk("ankle") + 90})
    trial = read_sheet(written(columns))
    np.testing.assert_allclose(trial.angles["left", "ankle"].values, walk("ankle"), atol=1e-4)
    assert messages(trial).count("a right angle is called 90") == 2
    assert sum("90 deg taken off" in step for step in trial.provenance.steps) == 2


def test_ninety_with_plantarflexion_positive_is_asked_about():
    """90 plus plantarflexion looks as if pushed off upwards: a person must say."""
    columns = series(**{"Left Ankle": 90 - walk("ankle"), "Right Ankle": 90 - walk("ankle")})
    with pytest.raises(LayoutError, match="plantarflexion were positive") as caught:
        read_sheet(written(columns))
    assert str(caught.value).count('sign = "?"') == 2


def test_an_ankle_that_pushes_off_upwards_on_both_sides_is_asked_about():
    """Never a value of the wrong sign; a map that gives the sign is believed."""
    columns = series(**{"Left Ankle": -walk("ankle"), "Right Ankle": -walk("ankle")})
    with pytest.raises(LayoutError, match="on both sides the ankle moves as if") as caught:
        read_sheet(written(columns))
    assert str(caught.value).count('sign = "?"') == 2


def test_a_name_that_says_dorsiflexion_is_believed_and_told_of():
    """Both feet may be impaired: what the sheet says outright is no guess."""
    time_s = {"Time (s)": np.arange(len(walk("ankle"))) / 100}
    sides = ("Left", "Right")
    told = {f"{side} Ankle Dorsiflexion": -walk("ankle") for side in sides}
    trial = read_sheet(written(time_s | told))
    np.testing.assert_allclose(trial.angles["left", "ankle"].values, -walk("ankle"), atol=1e-4)
    assert "plantarflexion were positive" in messages(trial)
    both_words = {f"{side} Ankle Dorsi/Plantarflexion": -walk("ankle") for side in sides}
    with pytest.raises(LayoutError, match="on both sides"):
        read_sheet(written(time_s | both_words))


def test_one_ankle_alone_is_not_turned_on_looks():
    """It may be the impaired one: of two nothing is said, of one alone a warning."""
    one = read_sheet(written(series(**{"Left Ankle": -walk("ankle")})))
    assert "plantarflexion" not in messages(one)
    columns = {"Time (s)": np.arange(len(walk("ankle"))) / 100, "Left Ankle": -walk("ankle")}
    alone = read_sheet(written(columns))
    np.testing.assert_allclose(alone.angles["left", "ankle"].values, -walk("ankle"), atol=1e-4)
    assert "plantarflexion were positive" in messages(alone)


def test_a_hip_that_is_mostly_extended_is_asked_about():
    """Nobody walks with the hip behind all the way: flexion may be negative."""
    columns = series(**{"Left Hip": -walk("hip"), "Right Hip": -walk("hip")})
    with pytest.raises(LayoutError, match="mostly extended"):
        read_sheet(written(columns))


def test_a_knee_called_180_when_straight_is_asked_about():
    """An inner angle of the knee is not read as flexion."""
    columns = series(**{"Left Knee": 180 - walk("knee")})
    with pytest.raises(LayoutError, match="zero_deg = 180"):
        read_sheet(written(columns))


def test_axis_letters_are_asked_about():
    """X, Y, Z of an angle do not tell which is flexion."""
    columns = {"time": np.arange(200) / 100} | {
        f"Left knee angles {a}": walk("knee") for a in "XYZ"
    }
    assert not marker_text.looks_like(written(columns).encode(), ".csv")
    with pytest.raises(LayoutError, match="sagittal") as caught:
        read_sheet(written(columns))
    assert "Left knee angles Y" in str(caught.value)


def test_other_planes_and_spreads_are_left_out_and_said():
    """Hip adduction is not a hip flexion."""
    others = {"Left hip adduction": walk("hip") * 0.1, "Right H.ip": walk("hip")}
    columns = series(**others, **{"Left hip": walk("hip")})
    trial = read_sheet(written(columns))
    np.testing.assert_allclose(
        trial.angles["left", "hip_pelvis_thigh"].values, walk("hip"), atol=1e-4
    )
    assert "'Left hip adduction': 1 column is left out" in messages(trial)
    assert "'Right H.ip': 1 column names a side, and no angle" in messages(trial)
    assert "plain hip angle is taken as thigh against pelvis" in messages(trial)


def test_two_columns_for_one_angle():
    """The plainest name is used; equal names with different numbers are asked about."""
    columns = {
        "time": np.arange(200) / 100,
        "left knee": walk("knee"),
        "left knee beta": walk("ankle"),
    }
    trial = read_sheet(written(columns))
    np.testing.assert_allclose(trial.angles["left", "knee"].values, walk("knee"), atol=1e-4)
    text = written({"time": columns["time"], "a": walk("knee"), "b": walk("ankle")})
    with pytest.raises(LayoutError, match="which of"):
        read_sheet(text.replace("time,a,b", "time,left knee,left knee"))
    same = written({"time": columns["time"], "a": walk("knee"), "b": walk("knee")})
    assert read_sheet(same.replace("time,a,b", "time,left knee,left knee")).n_frames == 200


def test_a_side_is_never_guessed():
    """A knee without a side is asked about, unless a line says which leg was measured."""
    columns = {"time": np.arange(200) / 100, "knee": walk("knee")}
    with pytest.raises(LayoutError, match="side of 'knee'"):
        read_sheet(written(columns))
    trial = read_sheet("side,left\n\n" + written(columns))
    assert set(trial.angles) == {("left", "knee")}


def test_sides_in_a_row_above_the_names():
    """Left and right written once over three columns each."""
    angles = [walk("hip"), walk("knee"), walk("ankle")]
    numbers = [np.arange(200) / 100, *angles, angles[0], angles[1] * 0.9, angles[2]]
    columns = dict(zip("abcdefg", numbers, strict=True))
    head = ",Left,,,Right,,\nTime,Hip,Knee,Ankle,Hip,Knee,Ankle\n"
    trial = read_sheet(head + written(columns).split("\n", 1)[1])
    assert len(trial.angles) == 6
    np.testing.assert_allclose(trial.angles["right", "knee"].values, walk("knee") * 0.9, atol=1e-4)


def events_of(trial):
    return [(round(e.time_s, 3), e.side, e.kind) for e in trial.events]


EXPECTED = [
    (0.1, "left", "initial_contact"),
    (0.62, "left", "toe_off"),
    (1.1, "left", "initial_contact"),
]


def marks(*rows, length=1):
    """Return 0/1 marks at some rows."""
    values = np.zeros(200)
    for row in rows:
        values[row : row + length] = 1
    return values


@pytest.mark.parametrize(
    "columns",
    [
        {"L IC": marks(10, 110), "L toe off": marks(62)},
        {"left contact": marks(10, 110, length=52), "left toe off": marks(62)},
        {"left heel strike": [0.1, 1.1], "left foot off": [0.62]},
        {
            "event": [
                {10: "L IC", 62: "left toe-off", 110: "IC left"}.get(r, "") for r in range(200)
            ]
        },
    ],
)
def test_events_of_columns(columns):
    """Marks, states, lists of times and words give the same events."""
    trial = read_sheet(written(series() | columns))
    assert events_of(trial) == EXPECTED
    assert {event.source for event in trial.events} == {"file"}


def test_events_of_rows_count_the_rows_of_the_sheet():
    """Whole numbers beyond the recording's seconds are 1-based rows of this export."""
    rows = "Left initial contact,11,111\nLeft toe-off,63\n\n"
    assert events_of(read_sheet(rows + written(series()))) == EXPECTED
    below = "\nLeft initial contact,0.1,1.1\nLeft toe-off,0.62\n"
    assert events_of(read_sheet(written(series()) + below)) == EXPECTED


def test_event_times_are_on_the_sheets_own_clock():
    """A sheet that starts at 5 s marks its events after 5 s."""
    columns = series(**{"Time (s)": 5 + np.arange(200) / 100, "L IC": [5.1, 6.1]})
    assert [e[0] for e in events_of(read_sheet(written(columns)))] == [0.1, 1.1]


def test_events_that_fit_nowhere_are_not_used_and_said():
    """Times outside of the recording, or without a side, become a Problem."""
    trial = read_sheet(written(series() | {"L IC": [7.1, 8.1], "toe off": [0.62]}))
    assert trial.events == ()
    assert "none fits into the recording" in messages(trial)
    assert "names no side" in messages(trial)


def test_a_map_names_columns_signs_and_events():
    """What a map says is done, and only that."""
    columns = {"T": np.arange(200) / 100, "a1": 90 - walk("ankle"), "k1": walk("knee"),
               "fs": marks(10, 110)}  # fmt: skip
    sheet = SheetMap(
        layout="time_series",
        time_column="T",
        unit="deg",
        columns=(ColumnMap("a1", "ankle", "left", sign=-1, zero_deg=90),),
        event_columns=(EventColumnMap("fs", "left", "initial_contact"),),
    )
    trial = read_sheet(written(columns), lab_map=LabMap(sheet=sheet))
    assert set(trial.angles) == {("left", "ankle")}
    np.testing.assert_allclose(trial.angles["left", "ankle"].values, walk("ankle"), atol=1e-4)
    assert [e[0] for e in events_of(trial)] == [0.1, 1.1]


def test_a_map_that_names_a_missing_column_lists_what_there_is():
    """The message names the columns of the sheet."""
    sheet = SheetMap(columns=(ColumnMap("nowhere", "ankle", "left"),))
    with pytest.raises(LayoutError, match="'Left Knee'"):
        read_sheet(written(series()), lab_map=LabMap(sheet=sheet))


def test_one_row_needs_a_rate():
    """One row gives no rate; with one told it is a standing trial of one frame."""
    text = "Time (s),Left Knee\n0.0,12\n"
    with pytest.raises(DataError, match="One row gives no rate"):
        read_sheet(text)


def test_words_of_the_preamble_do_not_go_beyond_the_reader():
    """A name above the header is in no step and no problem."""
    trial = read_sheet("Name;CANARY\nSide;left\n\n" + written(series(), delimiter=";"))
    assert "CANARY" not in messages(trial) + " ".join(trial.provenance.steps)

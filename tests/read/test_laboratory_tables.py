"""Tables as laboratories write them: the numbers are those of the walk behind them."""

import datetime
import io

import numpy as np
import openpyxl
import pytest

from gaittrack.errors import GaitTrackError, LayoutError
from gaittrack.kinematics.landmarks import find_landmarks
from gaittrack.lab_map import LabMap
from gaittrack.read import read_trial
from gaittrack.simulate.recipe import WalkRecipe
from gaittrack.simulate.walk import simulate_walk
from tests.read.completed_maps import complete
from tests.read.laboratory_tables import (
    ANGLES,
    CYCLES,
    JOINTS,
    LABELS,
    MARKERS,
    RATE_HZ,
    TIME_S,
    N,
    angle_table,
    cell,
    clock,
    cycle,
    cycle_table,
    frames,
    marker_table,
    plain,
    plantarflexion_up,
)
from tests.read.made_up_sheets import written

GERMAN = {
    f"{side}_{key}": f"{word} {sided}"
    for side, sided in (("left", "links"), ("right", "rechts"))
    for key, word in {"asis": "Becken vorne", "psis": "Becken hinten", "knee": "Knie außen",
                      "ankle": "Knöchel außen", "heel": "Ferse", "toe": "Zeh"}.items()
}  # fmt: skip
FRENCH = {
    f"{side}_{key}": f"{word} {sided[key in ('heel', 'toe')]}"
    for side, sided in (("left", ("gauche", "G")), ("right", ("droite", "D")))
    for key, word in {"asis": "EIAS", "psis": "EIPS", "knee": "Genou", "ankle": "Cheville",
                      "heel": "Talon", "toe": "Orteil"}.items()
}  # fmt: skip
WAIST = {
    f"{side}_{key}": word.format(side[0].upper())
    for side in ("left", "right")
    for key, word in {"asis": "Waist{}Front", "psis": "Waist{}Back", "knee": "{}KneeOut",
                      "ankle": "{}AnkleOut", "heel": "{}HeelBack"}.items()
}  # fmt: skip


def under(label, axis):
    return f"{label}_{axis}"


def numbered(form, first=1):
    return lambda label, axis: form.format(label, "XYZ".index(axis) + first)


def grouped(value, decimal="."):
    """Write a number with marks of thousands."""
    text = f"{value:,.3f}"
    return text if decimal == "." else text.replace(",", "'").replace(".", ",").replace("'", ".")


MARKER_TABLES = {
    "axis glued in front": marker_table(lambda label, axis: axis + label),
    "small axis glued in front": marker_table(lambda label, axis: axis.lower() + label),
    "axis before a line": marker_table(lambda label, axis: f"{axis}_{label}"),
    "axes one after another": marker_table(under, by_axis=True),
    "axes one after another, in front": marker_table(lambda la, a: a + la, by_axis=True),
    "numbers from 1": marker_table(numbered("{}_{}")),
    "numbers from 0": marker_table(numbered("{}.{}", 0)),
    "numbers glued": marker_table(numbered("{}{}")),
    "numbers in brackets": marker_table(numbered("{}[{}]", 0)),
    "names three times": marker_table(lambda label, axis: label),
    "names counted": marker_table(
        lambda label, axis: label if axis == "X" else f"{label}.{'XYZ'.index(axis)}"
    ),
    "a rate behind names": marker_table(
        lambda label, axis: f"{label}_{axis}@100Hz", lead=("Frame", frames)
    ),
    "a rate in brackets": marker_table(
        lambda label, axis: f"{label} {axis} [mm] (100 Hz)", lead=("Frame", frames)
    ),
    "a person's code in front": marker_table(lambda label, axis: f"S01_{label}_{axis}"),
    "a study's word behind": marker_table(lambda label, axis: f"{label}_gait_{axis}"),
    "both": marker_table(lambda label, axis: f"trial1.{label}.raw.{axis}"),
    "translations": marker_table(lambda label, axis: f"{label}_T{axis}"),
    "times of day": marker_table(under, lead=("Timecode", clock)),
    "day and time": marker_table(under, lead=("stamp", lambda i: f"2024-03-05T{clock(i)}Z")),
    "a day beside the time": marker_table(
        under, lead=("Date,Time", lambda i: f"05.03.2024,{clock(i)}")
    ),
    "a rate in German": marker_table(
        under, lead=("Bild", frames), delimiter=";", decimal=",", above=["Abtastrate;100 Hz"]
    ),
    "a rate in French": marker_table(
        under, lead=("Image", frames), delimiter=";", above=["Fréquence d'acquisition (Hz);100"]
    ),
    "a rate in a remark": marker_table(under, lead=("Frame", frames), above=["# fs = 100"]),
    "thousands": marker_table(under, delimiter="\t", write=grouped),
    "thousands in German": marker_table(under, delimiter=";", decimal=",", write=grouped),
    "inches": marker_table(lambda label, axis: f"{label}_{axis} (in)", scale=1 / 0.0254),
    "words behind": "\n".join(
        line + (",remark" if n == 0 else ",good")
        for n, line in enumerate(marker_table(under).splitlines())
    ) + "\n",
    "a name in three columns": "\n".join(
        ["," + ",,,".join(LABELS.values()) + ",,", "s" + ",mm" * 3 * len(LABELS),
         *marker_table(under).splitlines()[1:], "", "Mean,12.3", "End of file"]
    ) + "\n",
    "German words": marker_table(lambda label, axis: f"{label}/{axis}", names=GERMAN),
    "French words and letters": marker_table(lambda la, a: f"{la} – {a}", names=FRENCH),
    "a suit's words": marker_table(under, names=WAIST),
}  # fmt: skip


def read(content, folder, name="walk.csv", **options):
    path = folder / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return read_trial(path, in_child=False, **options)


@pytest.mark.parametrize("name", MARKER_TABLES)
def test_markers_are_where_they_were(name, tmp_path):
    """Each landmark that the labels spell, in metres, at 100 Hz, and no other."""
    trial = read(MARKER_TABLES[name], tmp_path)
    assert trial.rate_hz == pytest.approx(RATE_HZ)
    found = find_landmarks(trial.markers, LabMap()).labels
    spelt = WAIST if "suit" in name else LABELS
    assert set(found) == set(spelt)
    for landmark, label in found.items():
        np.testing.assert_allclose(trial.markers[label], MARKERS[landmark], atol=1e-3)


def titled(side, joint):
    return side.title()


KNEES = tuple(key for key in ANGLES if key[1] == "knee")
ANGLE_TABLES = {
    "times of day": angle_table(plain, lead=("Time", clock)),
    "minutes": angle_table(plain, lead=("Time", lambda i: f"02:{TIME_S[i]:06.3f}")),
    "rate behind names": angle_table(
        lambda side, joint: f"{plain(side, joint)} @100Hz", lead=("Frame", frames)
    ),
    "rate in Italian": angle_table(
        plain, lead=("Quadro", frames), delimiter=";", decimal=",",
        above=["Frequenza di campionamento;100"],
    ),
    "ankle said in short": angle_table(
        lambda side, joint: plain(side, joint) + " PF(+)/DF(-)" * (joint == "ankle"),
        write=plantarflexion_up,
    ),
    "ankle said in a line": angle_table(
        plain, above=["Signs: plantarflexion positive"], write=plantarflexion_up
    ),
    "ankle said with a sign": angle_table(
        lambda side, joint: plain(side, joint) + " (+ = plantar)" * (joint == "ankle"),
        write=plantarflexion_up,
    ),
    "ankle the other way": angle_table(
        lambda side, joint: plain(side, joint) + " Dorsi+ Plantar-" * (joint == "ankle")
    ),
    "a leg above": angle_table(
        lambda side, joint: f"{JOINTS[joint]} Angle", above=[",Left leg,,,Right leg,,"]
    ),
    "speeds beside": "\n".join(
        line + ("," + ",".join(f"{plain(*key)} Flexion Rate" for key in ANGLES) if n == 0
                else ",300.5" * len(ANGLES))
        for n, line in enumerate(angle_table(plain).splitlines())
    ) + "\n",
    "every second column empty": angle_table(plain).replace(",", ",,"),
    "a title names the joint": angle_table(titled, above=["Knee flexion (deg)"], keys=KNEES),
    "side and joint in rows": "time,side,joint,angle\n" + "".join(
        f"{TIME_S[i]:.2f},{side},{JOINTS[joint]},{cell(values[i])}\n"
        for (side, joint), values in ANGLES.items() for i in range(N)
    ),
    "sides by turns": "time,side,ankle,knee,hip\n" + "".join(
        f"{TIME_S[i]:.2f},{side[0].upper()},"
        + ",".join(cell(ANGLES[side, joint][i]) for joint in JOINTS) + "\n"
        for i in range(N) for side in ("left", "right")
    ),
}  # fmt: skip


def sheets(parts, *, time=float):
    """Write a workbook with a sheet for each name: columns name → values behind the time."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, columns in parts.items():
        page = book.create_sheet(name)
        page.append(["Time" if time is not float else "Time (s)", *columns])
        for i in range(N):
            page.append([time(TIME_S[i]), *(float(values[i]) for values in columns.values())])
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def as_time(seconds):
    return datetime.time(10, 22, 33 + int(seconds), round(1e6 * (seconds % 1)))


BY_JOINT = {
    word: {"Left": ANGLES["left", joint], "Right": ANGLES["right", joint]}
    for joint, word in JOINTS.items()
}
BY_SIDE = {
    side.title(): {word: ANGLES[side, joint] for joint, word in JOINTS.items()}
    for side in ("left", "right")
}
BOOKS = {
    "a sheet for each joint": lambda: sheets(BY_JOINT),
    "a sheet for each side": lambda: sheets(BY_SIDE),
    "cells of times": lambda: sheets({"walk": {plain(*key): v for key, v in ANGLES.items()}},
                                     time=as_time),
}  # fmt: skip


@pytest.mark.parametrize("name", [*ANGLE_TABLES, *BOOKS])
def test_angles_are_those_of_the_walk(name, tmp_path):
    """Each angle over time with side, sign and rate, and none besides."""
    if name in BOOKS:
        trial = read(BOOKS[name](), tmp_path, "walk.xlsx")
    else:
        trial = read(ANGLE_TABLES[name], tmp_path)
    assert trial.rate_hz == pytest.approx(RATE_HZ)
    assert set(trial.angles) == set(KNEES if "title" in name else ANGLES)
    for key, signal in trial.angles.items():
        np.testing.assert_allclose(signal.values, ANGLES[key], atol=2e-3)


HEADS = {
    "sides, joints and numbers in three rows": [
        "," + ",".join(side for side, _, _ in CYCLES),
        "," + ",".join(JOINTS[joint] for _, joint, _ in CYCLES),
        "%," + ",".join(str(number + 1) for _, _, number in CYCLES),
    ],
    "a spread in each cell": [
        "%," + ",".join(f"{plain(s, j)} (mean ± SD) {n + 1}" for s, j, n in CYCLES)
    ],
}


@pytest.mark.parametrize("name", HEADS)
def test_curves_are_those_of_the_walk(name, tmp_path):
    """Each curve is the cycle of its side, joint and number."""
    behind = " ± 2.50" if "spread" in name else ""
    trial = read(cycle_table(HEADS[name], lambda v: cell(v) + behind), tmp_path)
    found = {(one.side, one.joint, int(one.cycle) - 1): one.values_deg for one in trial.curves}
    assert set(found) == set(CYCLES)
    for key, values in found.items():
        np.testing.assert_allclose(values, cycle(*key), atol=2e-3)


def test_what_may_be_a_spread_is_asked_and_left_out_when_told(tmp_path):
    """A word that nobody knows beside a mean is no second condition."""
    names = [name for s, j in ANGLES for name in (f"{plain(s, j)} mean", f"{plain(s, j)} Streu")]
    body = [
        ",".join([str(i), *(f"{cell(cycle(*key)[i])},2.5" for key in ANGLES)]) for i in range(101)
    ]
    content = "\n".join(["%," + ",".join(names), *body]) + "\n"
    with pytest.raises(LayoutError, match="how far the mean beside it scatters") as asked:
        read(content, tmp_path)
    lab_map = complete(asked.value, tmp_path / "map.toml", {}, {})
    trial = read(content, tmp_path, lab_map=lab_map)
    assert {(one.side, one.joint) for one in trial.curves} == set(ANGLES)
    assert len(trial.curves) == len(ANGLES)


def whole_seconds(i):
    return f"10:22:{33 + i // 100}"


NOT_GUESSED = {
    "numbered angles are no places": angle_table(
        lambda side, joint: "LKNE_" + str(list(ANGLES).index((side, joint)) + 1)
    ),
    "angles of three numbers each": "Time," + ",".join(
        f"{name}_{n}" for name in ("LKNE", "LANK", "RKNE", "RANK") for n in (1, 2, 3)
    ) + "\n" + "".join(
        f"{TIME_S[i]:.2f}," + ",".join(
            cell(ANGLES[key][(i + 3 * n) % N])
            for key in [*KNEES, ("left", "ankle"), ("right", "ankle")] for n in range(3)
        ) + "\n" for i in range(N)
    ),
    "frames behind a last colon": angle_table(
        plain, lead=("Time", lambda i: f"10:22:{33 + i // 100}:{i % 100:02}")
    ),
    "sides at other times": "time,side,knee\n" + "".join(
        f"{TIME_S[i] + shift:.2f},{side},{cell(ANGLES[side, 'knee'][i])}\n"
        for side, shift in (("left", 0), ("right", 0.5)) for i in range(N)
    ),
}  # fmt: skip


def test_a_clock_that_tells_no_moments_apart_is_no_time(tmp_path):
    """Whole seconds of a fast recording: the rate is asked, and the frames have it then."""
    content = angle_table(plain, lead=("Time,Frame", lambda i: f"{whole_seconds(i)},{i + 1}"))
    with pytest.raises(LayoutError, match="frames per second"):
        read(content, tmp_path)
    assert read(content, tmp_path, rate_hz=RATE_HZ).n_frames == N


@pytest.mark.parametrize("name", NOT_GUESSED)
def test_what_the_file_does_not_tell_is_not_guessed(name, tmp_path):
    """It is refused or asked about."""
    with pytest.raises(GaitTrackError):
        read(NOT_GUESSED[name], tmp_path)


def test_sheets_that_are_walks_are_not_joined(tmp_path):
    """Only names of joints and sides join sheets; of walks one must be chosen."""
    walks = {name: {plain(*key): v for key, v in ANGLES.items()} for name in ("walk 1", "walk 2")}
    with pytest.raises(LayoutError, match="which sheet of the workbook"):
        read(sheets(walks), tmp_path, "walk.xlsx")


@pytest.mark.parametrize("speed_m_s", [0.5, 0.8, 1.2])
def test_an_ankle_turned_without_a_word_gives_no_number_as_right(speed_m_s, tmp_path):
    """Nothing says the sign, the knees tell when the foot pushes off: asked about, or doubted."""
    walk = simulate_walk(WalkRecipe(speed_m_s=speed_m_s, n_strides=4), seed=1)
    angles = {key: v for key, v in walk.truth.angles_deg.items() if key[1] in ("ankle", "knee")}
    for sign in (1, -1):
        columns = {"Time (s)": np.arange(walk.trial.n_frames) / walk.trial.rate_hz} | {
            f"{side} {joint}": values * (sign if joint == "ankle" else 1)
            for (side, joint), values in angles.items()
        }
        try:
            found = read(written(columns), tmp_path).problems
        except LayoutError as asked:
            assert sign < 0 and "plantarflexion" in str(asked)
        else:
            assert any(each.spoils for each in found) == (sign < 0)

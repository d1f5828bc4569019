"""Marker tables as they are out there: whatever stands above the numbers, the same markers."""

import numpy as np
import pytest

from gaittrack.errors import DataError
from gaittrack.read import read_trial
from tests.read.made_up_sheets import messages

N, RATE_HZ = 450, 100.0
LABELS = ("LHEE", "LTOE", "LANK", "LKNE", "RHEE", "RTOE", "RANK", "RKNE")
HEIGHTS_M = (0.04, 0.03, 0.09, 0.48) * 2
TIME_S = np.arange(N) / RATE_HZ
POINTS = {
    label: np.column_stack(
        (
            1.2 * TIME_S + 0.01 * place,
            np.full(N, 0.1 if label[0] == "L" else -0.1) + 0.001 * np.sin(TIME_S + place),
            height + 0.02 * np.sin(6 * TIME_S + place),
        )
    )
    for place, (label, height) in enumerate(zip(LABELS, HEIGHTS_M, strict=True))
}
"""Metres, forward, left, up."""


def frames(i):
    return str(i + 1)


def seconds(i):
    return f"{i / RATE_HZ:.3f}"


def rows(*lead, delimiter=",", decimal=".", factor=1000, join=None):
    """Write a row for each frame: what leads, then all coordinates."""
    lines = []
    for i in range(N):
        cells = [f"{factor * v:.4f}" for xyz in POINTS.values() for v in xyz[i]]
        if join:
            cells = [join.join(cells[k : k + 3]) for k in range(0, len(cells), 3)]
        line = delimiter.join([*(each(i) for each in lead), *cells])
        lines.append(line.replace(".", decimal))
    return lines


def heads(form, delimiter=","):
    return delimiter.join(form.format(label, axis) for label in LABELS for axis in "XYZ")


def section():
    names = ",,,".join(f"ab:{label}" for label in LABELS)
    return ["Trajectories", "100", f",,{names},,", "Frame,Sub Frame" + ",X,Y,Z" * len(LABELS),
            ",," + ",".join(["mm"] * 3 * len(LABELS)), *rows(frames, lambda i: "0")]  # fmt: skip


def behind_forces():
    head = ["Devices", "1000", ",,plate - Force,,", "Frame,Sub Frame,Fx,Fy,Fz", ",,N,N,N"]
    return [*head, *(f"{i + 1},{s},0.1,-0.2,-7.5" for i in range(N) for s in range(10)), "",
            *section()]  # fmt: skip


def several_rows():
    axes = "Frame,Time (Seconds)," + ",".join("XYZ" * len(LABELS))
    said = [("Type", "Marker"), ("Name", "ab:{0}"), ("ID", "64:{0}{1}"), ("", "Position")]
    head = [f",{word}," + heads(form) for word, form in said]
    return ["Version,1.2,Rate,,Length Units,Meters", "", *head, axes,
            *rows(frames, seconds, factor=1)]  # fmt: skip


def behind_a_key():
    return [f"NO_OF_FRAMES\t{N}", "FREQUENCY\t100", "MARKER_NAMES\t" + "\t".join(LABELS),
            *rows(delimiter="\t")]  # fmt: skip


def vectors():
    head = ["DataRate=100", "Units=mm", "DataType=Vec3", "version=3", "endheader"]
    names = "\t".join(["time", *(f"/markers/{label}" for label in LABELS)])
    return [*head, names, *rows(seconds, delimiter="\t", join=",")]


def blanks():
    axes = " ".join(f"{a}{n}" for n in range(1, 9) for a in "XYZ")
    return ["PathFileType 4 (X/Y/Z) a.trc", "DataRate NumFrames NumMarkers Units",
            f"100.00 {N} 8 mm", "Frame# Time " + "   ".join(LABELS), f"  {axes}", "",
            *rows(frames, seconds, delimiter=" ")]  # fmt: skip


def with_speeds():
    speeds = ",".join(f"{label}_v{axis}" for label in LABELS for axis in "xyz")
    fast = ",".join(["9000.5"] * 3 * len(LABELS))
    return [f"time,{heads('{}_{}')},{speeds}", *(f"{row},{fast}" for row in rows(seconds))]


def vertical_first():
    names = ",".join(f"{label}_{axis}" for label in LABELS for axis in "ZXY")
    cells = [np.roll(1000 * xyz, 1, axis=1) for xyz in POINTS.values()]
    numbers = np.hstack([TIME_S[:, None], *cells])
    return [f"time,{names}", *(",".join(f"{v:.3f}" for v in row) for row in numbers)]


LAYOUTS = {
    "axes in another order, in UTF-16": vertical_first,
    "a section with its rate": section,
    "behind a longer section": behind_forces,
    "labels in one of several rows": several_rows,
    "labels behind a key": behind_a_key,
    "three coordinates in a cell": vectors,
    "parted by blanks": blanks,
    "speeds beside": with_speeds,
    "axis first": lambda: [f"time,{heads('{1}_{0}')}", *rows(seconds)],
    "position": lambda: [f"TimeStamp\t{heads('{}.Pos{}', chr(9))}", *rows(seconds, delimiter="\t")],
    "coordinate": lambda: [f"time (s);{heads('{} {}-coordinate (mm)', ';')}",
                           *rows(seconds, delimiter=";", decimal=",")],
}  # fmt: skip


@pytest.mark.parametrize("layout", LAYOUTS)
def test_whatever_stands_above_the_numbers_the_markers_are_the_same(layout, tmp_path):
    """Each marker in metres at its frames, at 100 Hz, and none besides."""
    path = tmp_path / "walk.txt"
    encoding = "utf-16" if "UTF-16" in layout else "utf-8"
    path.write_text("\n".join(LAYOUTS[layout]()) + "\n", encoding=encoding)
    trial = read_trial(path, in_child=False)
    assert (list(trial.markers), trial.n_frames) == (list(LABELS), N)
    assert trial.rate_hz == pytest.approx(RATE_HZ)
    for label, xyz in POINTS.items():
        np.testing.assert_allclose(trial.markers[label], xyz, atol=2e-4)
    assert ("rows 4512 to 4961" in messages(trial)) == (layout == "behind a longer section")


def test_cells_that_blanks_do_not_keep_are_not_moved(tmp_path):
    """A row that lost a marker moves all behind it: refused, with its number."""
    lines = blanks()
    lines[20] = " ".join(lines[20].split(" ")[:5] + lines[20].split(" ")[8:])
    path = tmp_path / "walk.trc"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    with pytest.raises(DataError, match="the first with 23: 21"):
        read_trial(path, in_child=False)

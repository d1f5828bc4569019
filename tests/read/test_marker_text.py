"""Marker text tables: labels, units, rate, force; the reference files against plain splitting."""

import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gaittrack.errors import BadFileError, DataError, TruncatedFileError
from gaittrack.lab_map import LabMap, SheetMap
from gaittrack.read import read_trial
from gaittrack.read.marker_texts import marker_text
from gaittrack.read.sheets import angle_sheet
from tests.read.made_up_sheets import messages, read_markers

REFERENCE = Path(__file__).parents[1] / "reference"
COORDINATES = REFERENCE / "handbook_walk_2d_coordinates_70hz.txt"
RAW = REFERENCE / "handbook_walk_2d_raw_digitised_70hz.txt"
FORCE_A = REFERENCE / "walk_right_leg_with_force_a_150hz.txt"
FORCE_B = REFERENCE / "walk_right_leg_with_force_b_150hz.txt"


def plain_rows(path, n_header):
    """Return the numbers of a reference file by plain splitting, without the package."""
    lines = path.read_text(encoding="ascii").splitlines()[n_header:]
    return np.array([[float(cell) for cell in line.split()] for line in lines if line.strip()])


def read_reference(path, **options):
    return read_markers(path.read_bytes(), name=path.name, **options)


def test_handbook_coordinates_are_those_of_the_file():
    """Quoted labels with blanks, cm; frame 28 read by hand; a side view with up as third axis."""
    trial = read_reference(COORDINATES)
    labels = ["RIB CAGE", "RIGHT HIP", "RIGHT KNEE", "RIGHT FIBULA", "RIGHT ANKLE", "RIGHT HEEL",
              "RIGHT MT5", "RIGHT TOE"]  # fmt: skip
    assert list(trial.markers) == labels
    assert (trial.n_frames, trial.first_frame, trial.n_dimensions) == (106, 1, 2)
    assert trial.rate_hz == pytest.approx(69.9, abs=0.2)
    plain = plain_rows(COORDINATES, 2)
    for place, label in enumerate(labels):
        np.testing.assert_allclose(trial.markers[label][:, 0], plain[:, 2 + 2 * place] / 100)
        np.testing.assert_allclose(trial.markers[label][:, 2], plain[:, 3 + 2 * place] / 100)
        assert (trial.markers[label][:, 1] == 0).all()
    row = next(r for r in COORDINATES.read_text().splitlines() if r.startswith("28 ")).split()
    heel = trial.markers["RIGHT HEEL"][27] * 100
    np.testing.assert_allclose(heel[[0, 2]], [float(row[12]), float(row[13])])
    assert "side view: the file's X is x, its Y is z (up); y is 0" in trial.provenance.steps


def test_raw_handbook_file_says_cm_and_holds_metres():
    """Body size overrules the row of units; the landmark line wins over "Mark01 X"."""
    trial = read_reference(RAW)
    assert list(trial.markers) == ["Shoulder", "Hip", "Tib.Epic.", "Knee", "Ankle", "Heel",
                                   "Ball", "Toes"]  # fmt: skip
    assert trial.rate_hz == pytest.approx(69.9, abs=0.2)
    plain = plain_rows(RAW, 3)
    np.testing.assert_allclose(trial.markers["Toes"][:, 2], plain[:, 16])
    np.testing.assert_allclose(trial.markers["Shoulder"][:, 0], plain[:, 1])
    assert "The header says cm" in messages(trial)
    assert any(problem.level == "warning" for problem in trial.problems)


def test_both_handbook_files_show_the_same_body():
    """The same walk in cm and in m: hip heights agree within the 2 cm of digitising."""
    one, two = read_reference(COORDINATES), read_reference(RAW)
    heights = one.markers["RIGHT HIP"][:, 2], two.markers["Hip"][:, 2]
    assert np.abs(heights[0] - heights[1]).max() < 0.02


@pytest.mark.parametrize(("path", "n_rows", "peak_n"), [(FORCE_A, 182, 773), (FORCE_B, 159, 737)])
def test_leg_with_force(path, n_rows, peak_n):
    """Labels glued to axis letters, mm, force and centre of pressure at the marker rate."""
    trial = read_reference(path)
    assert list(trial.markers) == "FH LE ME HF TT LM MM CA FM VM".split()
    assert trial.n_frames == n_rows
    assert trial.rate_hz == pytest.approx(150.0, abs=0.3)
    plain = plain_rows(path, 1)
    np.testing.assert_allclose(trial.markers["CA"], plain[:, 22:25] / 1000)
    (plate,) = trial.plates
    np.testing.assert_allclose(plate.force_n, plain[:, 31:34])
    assert plate.force_n[:, 1].max() == pytest.approx(peak_n, abs=1)
    assert plate.rate_hz == trial.rate_hz
    assert np.isnan(plate.corners_m).all()
    loaded = np.linalg.norm(plate.force_n, axis=1) >= 10
    assert np.isnan(plate.centre_of_pressure_m[~loaded]).all()
    np.testing.assert_allclose(plate.centre_of_pressure_m[loaded], plain[loaded, 34:37] / 1000)


def test_the_contacts_of_the_force_files_are_where_they_were_measured():
    """20 N is passed at 0.064 and 0.715 s, and 0.070 and 0.664 s (reference notes, section 4)."""
    for path, on_s, off_s in ((FORCE_A, 0.064, 0.715), (FORCE_B, 0.070, 0.664)):
        trial = read_reference(path)
        loaded = np.flatnonzero(trial.plates[0].force_n[:, 1] > 20)
        assert loaded[0] / trial.rate_hz == pytest.approx(on_s, abs=0.008)
        assert loaded[-1] / trial.rate_hz == pytest.approx(off_s, abs=0.008)


@pytest.mark.parametrize("path", [COORDINATES, RAW, FORCE_A, FORCE_B])
def test_reference_files_are_found_by_content(path):
    """Whatever the ending, the right reader takes them."""
    trial = read_trial(path, in_child=False)
    assert trial.provenance.format == "marker text table"
    assert len(trial.provenance.sha256) == 64
    assert marker_text.looks_like(path.read_bytes(), ".csv")


@pytest.mark.parametrize("path", [COORDINATES, RAW, FORCE_A])
@pytest.mark.parametrize("share", [0.002, 0.01, 0.05, 0.2, 0.3333, 0.5, 0.7071, 0.9, 0.99, 0.9999])
def test_cut_reference_files_give_a_named_error_or_right_numbers(path, share):
    """A cut file never moves a marker by more than the last number's own last digits."""
    content = path.read_bytes()
    whole = read_reference(path)
    try:
        trial = read_markers(content[: int(len(content) * share)])
    except BadFileError:
        return
    assert list(trial.markers) == list(whole.markers)
    for label, xyz in trial.markers.items():
        seen = np.isfinite(xyz)
        np.testing.assert_allclose(
            xyz[seen], whole.markers[label][: trial.n_frames][seen], atol=0.02
        )


# Made-up tables: a leg that walks, written in the ways of section 6 of the reference notes.

N_FRAMES, RATE_HZ = 60, 120.0
LABELS = ("L HEEL", "L TOE", "L ANKLE", "L KNEE", "L HIP", "SACRUM")
HEIGHTS_M = (0.04, 0.03, 0.09, 0.45, 0.85, 0.95)


def leg(n_dimensions=3):
    """Return made-up coordinates in metres, shape (markers, frames, n_dimensions)."""
    time = np.arange(N_FRAMES) / RATE_HZ
    points = [
        np.column_stack((0.5 + 1.2 * time + 0.02 * n, 0.1 + 0.01 * np.sin(9 * time) + 0 * n,
                         height + 0.02 * np.sin(7 * time + n)))
        for n, height in enumerate(HEIGHTS_M)
    ]  # fmt: skip
    return np.array(points)[:, :, [0, 1, 2] if n_dimensions == 3 else [0, 2]]


def body(scale=1000.0, *, n_dimensions=3, delimiter="\t", extra="", frame=True, decimal="."):
    """Write the made-up leg as rows."""
    points = leg(n_dimensions) * scale
    lines = []
    for row in range(N_FRAMES):
        cells = [str(row + 1)] if frame else []
        cells.append(f"{row / RATE_HZ:.3f}")
        cells += [f"{value:.7f}" for value in points[:, row].ravel()]
        lines.append(delimiter.join(cells).replace(".", decimal) + extra)
    return "\n".join(lines) + "\n"


def check(trial, labels=LABELS, n_dimensions=3):
    assert tuple(trial.markers) == tuple(labels)
    assert trial.rate_hz == pytest.approx(RATE_HZ, rel=2e-3)
    assert trial.n_dimensions == n_dimensions
    for label, expected in zip(labels, leg(), strict=False):
        columns = [0, 1, 2] if n_dimensions == 3 else [0, 2]
        np.testing.assert_allclose(
            trial.markers[label][:, columns], expected[:, columns], atol=1e-6
        )


HEADERS = {
    "labels over X Y Z": "Frame\tTime\t" + "\t\t\t".join(LABELS) + "\t\t\n"
    + "\t\t" + "\t".join(f"{a}{n}" for n in range(1, 7) for a in "XYZ") + "\n\n",
    "labels alone": "Frame\tTime\t" + "\t\t\t".join(LABELS) + "\n",
    "label row without gaps": "Frame\tTime\t" + "\t".join(LABELS) + "\n"
    + "\t\t" + "\t".join("XYZ" * 6) + "\n",
    "axis behind each": "Frame\tTime\t"
    + "\t".join(f"{n} {a}" for n in LABELS for a in "XYZ") + "\n",
    "axis and unit": "Frame\tTime (s)\t"
    + "\t".join(f"{n} {a} (mm)" for n in LABELS for a in "XYZ") + "\n",
    "row of units": "Frame\tTime\t" + "\t".join(f"{n}_{a}" for n in LABELS for a in "xyz") + "\n"
    + "\ts\t" + "\t".join(["mm"] * 18) + "\n",
    "preamble": "Some title\nFrame rate\tNumber of frames\tUnits\n120\t60\tmm\n"
    "Frame#\tTime\t" + "\t\t\t".join(LABELS) + "\t\t\n"
    + "\t\t" + "\t".join(f"{a}{n}" for n in range(1, 7) for a in "XYZ") + "\n\n",
    "subject before labels": "Frame\tTime\t"
    + "\t".join(f"CANARY:{n} {a}" for n in LABELS for a in "XYZ") + "\n",
}  # fmt: skip


@pytest.mark.parametrize("style", HEADERS)
def test_headers_of_every_style(style):
    """One or two header lines, blank lines, units, a preamble, prefixes."""
    text = HEADERS[style] + body()
    assert marker_text.looks_like(text.encode(), ".txt")
    trial = read_markers(text)
    check(trial)
    assert "CANARY" not in messages(trial) + " ".join(trial.provenance.steps)


@pytest.mark.parametrize("style", ["labels over X Y Z", "axis behind each", "row of units"])
@pytest.mark.parametrize("way", [(",", "."), (";", ","), ("\t", ",")])
def test_delimiters_and_decimal_signs(style, way):
    """Commas, semicolons and decimal commas."""
    delimiter, decimal = way
    head = HEADERS[style].replace("\t", delimiter)
    check(read_markers(head + body(delimiter=delimiter, decimal=decimal)))


def test_blank_separated_with_quoted_labels():
    """Labels that contain blanks stay whole."""
    head = "'FRAME' 'TIME' " + " ".join(f"'{n}'" for n in LABELS) + "\n"
    head += "'N' 'S' " + " ".join("'X' 'Y' 'Z'" for _ in LABELS) + "\n"
    check(read_markers(head + body(delimiter=" ")))


def test_more_columns_than_labels():
    """Columns beyond the labels are left out and said; trailing tabs are nothing."""
    trial = read_markers(HEADERS["labels over X Y Z"] + body(extra="\t1\t2\t3\t\t"))
    check(trial)
    assert "3 columns are no labelled marker" in messages(trial)
    check(read_markers(HEADERS["labels alone"] + body(extra="\t\t\t")))


def test_two_coordinates_are_a_side_view():
    """X and Y become x and z, y is 0."""
    head = "Time\t" + "\t".join(f"{n} {a}" for n in LABELS for a in "XY") + "\n"
    check(read_markers(head + body(n_dimensions=2, frame=False)), n_dimensions=2)


@pytest.mark.parametrize(("unit", "scale"), [("m", 1.0), ("cm", 100.0), ("mm", 1000.0)])
@pytest.mark.parametrize("said", ["", "m", "cm", "mm"])
def test_units_come_from_header_and_body_size(unit, scale, said):
    """Whatever the header says, the leg is as long as a leg; a contradiction is a warning."""
    units = "\t\t" + "\t".join([said] * 18) + "\n" if said else ""
    trial = read_markers(HEADERS["axis behind each"] + units + body(scale))
    check(trial)
    levels = [problem.level for problem in trial.problems]
    assert levels == ([] if said == unit else ["warning" if said else "info"])


def test_a_size_that_fits_no_body_is_refused_until_told():
    """Markers 9 units apart are neither m nor cm nor mm."""
    text = HEADERS["axis behind each"] + body(10.0)
    with pytest.raises(DataError, match="length_unit"):
        read_markers(text)
    told = LabMap(sheet=SheetMap(length_unit="cm"))
    trial = read_markers(text, lab_map=told)
    np.testing.assert_allclose(trial.markers["L KNEE"], leg()[3] / 10, atol=1e-6)


def test_gaps_and_zeros():
    """Empty cells and exact zeros are gaps of the whole marker at that frame."""
    rows = body().splitlines()
    cells = rows[5].split("\t")
    cells[2:5] = ["0", "0", "0"]
    cells[6] = ""
    rows[5] = "\t".join(cells)
    trial = read_markers(HEADERS["axis behind each"] + "\n".join(rows) + "\n")
    gaps = {label for label, xyz in trial.markers.items() if np.isnan(xyz[5]).all()}
    assert gaps == {"L HEEL", "L TOE"}
    assert sum(np.isnan(xyz).sum() for xyz in trial.markers.values()) == 6
    assert "exactly 0" in messages(trial)


def test_a_sample_beyond_all_laboratories_is_a_gap():
    """A lost decimal point moves a marker by kilometres: a gap, with a warning."""
    rows = body().splitlines()
    cells = rows[5].split("\t")
    cells[3] = cells[3].replace(".", "")
    rows[5] = "\t".join(cells)
    trial = read_markers(HEADERS["axis behind each"] + "\n".join(rows) + "\n")
    assert np.isnan(trial.markers["L HEEL"][5]).all()
    assert "more than 200 m away" in messages(trial)


def test_repeated_labels_are_kept_and_numbered():
    """Both markers of one label stay, with a warning."""
    head = HEADERS["axis behind each"].replace("L TOE", "L HEEL")
    trial = read_markers(head + body())
    assert tuple(trial.markers)[:2] == ("L HEEL", "L HEEL (2)")
    assert "more than once" in messages(trial)


def test_force_that_points_down_is_turned():
    """The force of the foot on the floor becomes that of the floor on the foot."""
    content = FORCE_A.read_text().splitlines()
    rows = [line.split("\t") for line in content]
    for row in rows[1:]:
        row[31:34] = [str(-float(cell)) for cell in row[31:34]]
    trial = read_markers("\n".join("\t".join(row) for row in rows) + "\n")
    np.testing.assert_allclose(trial.plates[0].force_n, plain_rows(FORCE_A, 1)[:, 31:34])
    assert "force of the foot on the floor" in messages(trial)


def test_numbered_markers_are_no_forces_and_numbered_plates_are():
    """F1, M1 … are markers, unless the table holds a centre of pressure."""
    numbered = ("F1", "M1", "M2", "M3", "T1", "M12")
    head = "Time\t" + "\t".join(f"{n} {a}" for n in numbered for a in "XYZ")
    check(read_markers(head + "\n" + body(frame=False)), labels=numbered)
    plates = "".join(f"\tF{n}{a}" for n in (1, 2) for a in "xyz")
    plates += "".join(f"\tCOP{n}{a}" for n in (1, 2) for a in "xyz")
    names = ("M11", "M12", "M13", "M14", "M15", "M16")
    head = "Time\t" + "\t".join(f"{n}n {a}" for n in names for a in "XYZ") + plates + "\n"
    force = "\t0\t0\t700\t0\t0\t-400\t500\t200\t0\t600\t300\t0"
    trial = read_markers(head + body(frame=False, extra=force))
    assert [plate.name for plate in trial.plates] == ["plate 1", "plate 2"]
    np.testing.assert_allclose(trial.plates[1].force_n[3], [0, 0, 400])
    np.testing.assert_allclose(trial.plates[1].centre_of_pressure_m[3], [0.6, 0.3, 0])


def test_a_told_rate_comes_first():
    """--rate replaces the rate of the time column."""
    trial = read_markers(HEADERS["labels alone"] + body(), rate_hz=60.0)
    assert trial.rate_hz == 60.0
    assert "told were 60 Hz" in messages(trial)


def test_a_table_shorter_than_it_says_is_cut():
    """Fewer frames than the preamble counts: read and said while the last row is whole."""
    text = "\n".join((HEADERS["preamble"] + body()).splitlines()[:-5])
    with pytest.raises(TruncatedFileError, match="60"):
        read_markers(text)
    trial = read_markers(text + "\n")
    assert (trial.n_frames, trial.problems[0].reason.code) == (55, "row_count_wrong")


@pytest.mark.parametrize("cell", ["1e400", "abc", "12-May", "1,5", "1.000,5", "inf"])
def test_damaged_cells_are_refused_by_row_and_column(cell):
    """Nothing but a number or an empty cell stands for a coordinate."""
    rows = body().splitlines()
    cells = rows[5].split("\t")
    cells[3] = cell
    rows[5] = "\t".join(cells)
    with pytest.raises(DataError):
        read_markers(HEADERS["axis behind each"] + "\n".join(rows) + "\n")


def test_angles_are_no_markers():
    """Axis letters behind angle words, and axes in degrees, belong to the angle sheets."""
    joints = [f"Left Knee Angles {a}" for a in "XYZ"] + [f"Left Hip Angles {a}" for a in "XYZ"]
    text = "Time\t" + "\t".join(joints) + "\n" + "".join(
        f"{n / 100}\t" + "\t".join(str(n + m) for m in range(6)) + "\n" for n in range(40)
    )  # fmt: skip
    assert not marker_text.looks_like(text.encode(), ".txt")
    assert angle_sheet.looks_like(text.encode(), ".txt")


@settings(max_examples=30, deadline=None)
@given(
    shift=st.floats(-3, 3),
    rate_hz=st.sampled_from([50.0, 60.0, 100.0, 120.0, 200.0]),
    way=st.sampled_from([("\t", "."), (";", ","), (",", "."), (" ", ".")]),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252"]),
    scale=st.sampled_from([1.0, 100.0, 1000.0]),
)
def test_written_and_read_again_is_the_same(shift, rate_hz, way, encoding, scale):
    """Any place, rate, unit, delimiter and encoding: the same markers in metres."""
    delimiter, decimal = way
    points = leg() + [shift, -shift, 0]
    head = ["Time", *(f"{n.replace(' ', '_')}_{a}" for n in LABELS for a in "XYZ")]
    lines = [delimiter.join(head)]
    for row in range(N_FRAMES):
        cells = [f"{row / rate_hz:.3f}", *(f"{v:.5f}" for v in (points[:, row] * scale).ravel())]
        lines.append(delimiter.join(cell.replace(".", decimal) for cell in cells))
    trial = read_markers(("\r\n".join(lines) + "\r\n").encode(encoding))
    assert trial.rate_hz == pytest.approx(rate_hz, rel=3e-3)
    for place, xyz in enumerate(trial.markers.values()):
        np.testing.assert_allclose(xyz, points[place], atol=1e-5)
    assert not math.isnan(trial.duration_s)

"""Workbooks are opened without trusting them; files here are written with openpyxl."""

import io
import struct
import zipfile
from pathlib import Path

import numpy as np
import openpyxl
import pytest

from gaittrack.errors import DataError, EmptyFileError, LayoutError
from gaittrack.lab_map import LabMap, SheetMap, read_lab_map
from gaittrack.read import read_trial
from gaittrack.read.sheets import angle_sheet
from gaittrack.read.tables import workbook
from tests.read.made_up_sheets import curve, messages, read_sheet, series, walk

OLD_KIND = Path(__file__).parent / "old_kind.xls"


def written(**sheets):
    """Write sheets (name → rows) as an XLSX file."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(list(row))
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def rows_of(columns):
    return [list(columns), *zip(*(map(float, v) for v in columns.values()), strict=True)]


def test_numbers_are_those_of_the_cells():
    """A workbook reads like the text it would be."""
    content = written(walk=rows_of(series()))
    assert angle_sheet.looks_like(content, ".xlsx")
    trial = read_sheet(content, name="walk.xlsx")
    assert trial.rate_hz == pytest.approx(100.0)
    np.testing.assert_allclose(trial.angles["left", "knee"].values, walk("knee"))


def test_a_workbook_is_found_by_its_content(tmp_path):
    """Also under another ending."""
    path = tmp_path / "walk.dat"
    path.write_bytes(written(walk=rows_of(series())))
    assert read_trial(path, in_child=False).provenance.format == "joint-angle sheet"


def test_words_and_empty_cells_around_the_table():
    """Title, empty first column and rows, numbers kept as text with decimal commas."""
    knee = [f"{v:.2f}".replace(".", ",") for v in curve("knee", 51)]
    rows = [["A title"], [], ["", "Percent", "Left knee"]]
    rows += [["", percent, value] for percent, value in zip(range(0, 101, 2), knee, strict=True)]
    (one,) = read_sheet(written(a=rows)).curves
    np.testing.assert_allclose(one.values_deg, curve("knee", 51), atol=0.006)


def test_the_sheet_with_data_is_taken():
    """Notes and empty sheets are stepped over, and that is said."""
    notes = [["Recorded"], ["by somebody"]]
    trial = read_sheet(written(notes=notes, empty=[], walk=rows_of(series())))
    assert "sheet 'walk' of the workbook" in trial.provenance.steps
    assert "2 more sheets" in messages(trial)


def test_two_sheets_with_data_are_asked_about(tmp_path):
    """The question lists the sheets; the printed map answers it."""
    content = written(bare=rows_of(series()), brace=rows_of(series(**{"Left Knee": walk("hip")})))
    with pytest.raises(LayoutError, match="'bare': 200 rows") as caught:
        read_sheet(content)
    text = str(caught.value)
    path = tmp_path / "map.toml"
    path.write_text(text[text.index("[sheet]") :].replace('"?"', '"brace"'), encoding="utf-8")
    trial = read_sheet(content, lab_map=read_lab_map(path))
    np.testing.assert_allclose(trial.angles["left", "knee"].values, walk("hip"))
    wrong = LabMap(sheet=SheetMap(workbook_sheet="nowhere"))
    with pytest.raises(LayoutError, match="'bare', 'brace'"):
        read_sheet(content, lab_map=wrong)


def test_a_workbook_without_numbers():
    """Nothing to read is said."""
    with pytest.raises(EmptyFileError):
        read_sheet(written(notes=[["Recorded"], ["by somebody"]]))


def test_a_date_in_place_of_a_number_is_refused():
    """A spreadsheet that turned 1.5 into a day must not pass."""
    rows = rows_of(series())
    rows[9] = [*rows[9][:3], np.datetime64("2024-05-01").astype(object), *rows[9][4:]]
    with pytest.raises(DataError, match="row 10, column 'Left Knee'"):
        read_sheet(written(walk=rows))


def test_a_cell_far_outside_is_refused_before_parsing():
    """One stray cell in the last corner would be 17 billion cells."""
    book = openpyxl.Workbook()
    book.active["A1"], book.active["XFD1048576"] = 1, 2
    stream = io.BytesIO()
    book.save(stream)
    with pytest.raises(DataError, match="1048576 rows × 16384 columns"):
        read_sheet(stream.getvalue())


def test_a_bomb_is_refused_before_unzipping(monkeypatch):
    """What unzips to more than the limit is not unzipped."""
    monkeypatch.setattr(workbook, "MAX_UNZIPPED_BYTES", 5_000_000)
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        with archive.open("xl/worksheets/sheet1.xml", "w", force_zip64=True) as part:
            for _ in range(2):
                part.write(bytes(5_000_000))
    assert len(stream.getvalue()) < 100_000
    with pytest.raises(DataError, match="Unzipped"):
        read_sheet(stream.getvalue())


def test_a_part_larger_than_it_says_is_refused():
    """A size that lies fails the checksum and is not read on."""
    content = written(walk=rows_of(series()))
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        size = archive.getinfo("xl/worksheets/sheet1.xml").file_size
    lying = content.replace(size.to_bytes(4, "little"), (100).to_bytes(4, "little"))
    assert lying != content
    with pytest.raises(DataError, match="damaged"):
        read_sheet(lying)


@pytest.mark.parametrize("share", [0.05, 0.3, 0.6, 0.9, 0.99, 0.999])
def test_cut_workbooks_are_refused(share):
    """A workbook without its end is damaged, never half read."""
    content = written(walk=rows_of(series()))
    with pytest.raises(DataError, match="damaged"):
        read_sheet(content[: int(len(content) * share)])


def test_the_old_binary_kind_is_read():
    """A sheet of the old kind is read like one of the new; a damaged one is refused."""
    content = OLD_KIND.read_bytes()
    trial = read_sheet(content)
    np.testing.assert_allclose(trial.angles["left", "knee"].values, walk("knee"), atol=1e-4)
    assert "sheet 'walk 1' of the workbook" in trial.provenance.steps
    with pytest.raises(DataError, match="cannot be read"):
        read_sheet(content[:512] + bytes(2000))


SHEET, RECORDS_AT = 1034, 512
"""Where the sheet begins in its stream, and where the stream begins in the file."""


def old_kind_with(kind, changed):
    """Return the old workbook with the fourth record of a kind changed by a function of it."""
    content, at, n = OLD_KIND.read_bytes(), RECORDS_AT + SHEET, 0
    while True:
        found, length = struct.unpack_from("<HH", content, at)
        n += found == kind
        if n == 4:
            record = changed(content[at : at + 4 + length])
            return content[:at] + record + content[at + len(record) :]
        at += 4 + length


@pytest.mark.parametrize(
    ("kind", "changed", "said"),
    [
        (0xBD, lambda record: b"\x0a\0" + record[2:], "no whole record"),  # an end, too long
        (0x208, lambda record: record[:2] + b"\x12\0" + record[4:], "no whole record"),
        (0x203, lambda record: record[:2] + bytes(len(record) - 2), "no whole record"),
        (0xBD, lambda record: record[:-2] + b"\xff\0", "not as many"),
        (0x203, lambda record: record[:4] + b"\1\0\2\0" + record[8:], "comes twice"),
        (0x203, lambda record: b"\0\2" + record[2:4] + b"\xee" * 14, "no sheet can"),
    ],
)
def test_an_old_workbook_that_is_not_whole_is_refused(kind, changed, said):
    """Its reader would stop there without a word, or make room for what no sheet can hold."""
    with pytest.raises(DataError, match=f"damaged.*{said}"):
        read_sheet(old_kind_with(kind, changed))


def test_an_old_workbook_that_ends_inside_of_a_sheet_is_refused():
    """Its folder says that the sheets take fewer bytes than they do."""
    content = OLD_KIND.read_bytes()
    size_at = content.index("Workbook".encode("utf-16-le")) + 120
    short = content[:size_at] + struct.pack("<I", 9000) + content[size_at + 4 :]
    with pytest.raises(DataError, match="cut short"):
        read_sheet(short)


def test_a_reader_that_breaks_off_costs_the_file_only(monkeypatch):
    """What is no Exception is told as that the workbook cannot be read; Ctrl-C is Ctrl-C."""
    panic = type("PanicException", (BaseException,), {})
    for raised, told in ((panic, DataError), (KeyboardInterrupt, KeyboardInterrupt)):

        def break_off(_, raised=raised):
            raise raised("assertion failed")

        monkeypatch.setattr(workbook.CalamineWorkbook, "from_filelike", break_off)
        with pytest.raises(told, match="assertion failed"):
            read_sheet(OLD_KIND.read_bytes())

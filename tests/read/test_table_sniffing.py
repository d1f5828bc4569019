"""How a table is written is found by looking; what would change the scale is refused."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gaittrack.errors import BadFileError, DataError, EmptyFileError, LayoutError
from gaittrack.errors import TruncatedFileError as Truncated
from gaittrack.read.tables.number_cells import to_number
from gaittrack.read.tables.table_numbers import number_matrix
from gaittrack.read.tables.table_sniffing import read_text_table
from tests.read.made_up_sheets import messages, read_sheet, series, walk, written

ENCODINGS = ("utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252")
WAYS = [(";", ","), (";", "."), ("\t", ","), ("\t", "."), (",", "."), ("|", ","), (" ", ".")]

numbers = st.floats(-2000, 2000).map(lambda value: round(value, 3))


@settings(max_examples=60, deadline=None)
@given(
    way=st.sampled_from(WAYS),
    encoding=st.sampled_from(ENCODINGS),
    rows=st.lists(st.lists(numbers, min_size=3, max_size=3), min_size=2, max_size=12),
)
def test_written_and_read_again_is_the_same(way, encoding, rows):
    """Over delimiters, decimal signs and encodings, every number comes back as it was."""
    delimiter, decimal = way
    columns = {f"n{place}": [row[place] for row in rows] for place in range(3)}
    text = written(columns, delimiter=delimiter, decimal=decimal, digits=4)
    table = read_text_table(text.encode(encoding), where="table.txt")
    values, problems = number_matrix(table, "table.txt")
    np.testing.assert_allclose(values, np.array(rows), rtol=0, atol=1e-9)
    assert table.names == ("n0", "n1", "n2")
    assert problems == ()


@pytest.mark.parametrize("way", WAYS[:6])
def test_preamble_and_units_are_no_numbers(way):
    """Key and value lines above and a row of units below the header are stepped over."""
    delimiter, decimal = way
    preamble = "".join(f"Key {n}{delimiter}{n}\n" for n in range(22))
    body = written(series(), delimiter=delimiter, decimal=decimal)
    header, _, rest = body.partition("\n")
    units = delimiter.join(["s", "deg", "deg", "deg", "deg"])
    text = f"{preamble}\n{header}\n{units}\n{rest}"
    table = read_text_table(text.replace("\n", "\r\n").encode(), where="t")
    assert table.header == 23
    assert table.first == 25
    assert table.last - table.first == 200


@pytest.mark.parametrize("cell", ["1.234,5", "1 234,5", "1'234,5", "1\u202f234,5"])
def test_marks_that_can_only_group_thousands_are_left_out(cell):
    """Beside the decimal sign of the file another mark in the same number groups thousands."""
    text = f"time;left knee\n0,1;5,5\n0,2;{cell}\n0,3;6,5\n"
    table = read_text_table(text.encode(), where="t.csv")
    assert number_matrix(table, "t.csv")[0][1, 1] == 1234.5


@pytest.mark.parametrize("cell", ["1,234.5", "1'234.5", "1.234.567"])
def test_thousands_marks_are_refused(cell):
    """A number that groups thousands is never read as another number."""
    text = f"time;left knee\n0,1;5,5\n0,2;{cell}\n0,3;6,5\n"
    with pytest.raises(DataError, match="thousands|decimal"):
        read_text_table(text.encode(), where="t.csv")


def test_marks_that_may_group_thousands_are_refused():
    """987 and 1.012 in one column may be 987 and 1012: refused, unless a map says."""
    text = "Frame;HEEL X;HEEL Y\n1;987;12\n2;998;13\n3;1.012;14\n4;1.025;15\n"
    with pytest.raises(DataError, match="thousands"):
        read_text_table(text.encode(), where="t.csv")
    table = read_text_table(text.encode(), where="t.csv", decimal=".")
    assert number_matrix(table, "t.csv")[0][2, 1] == 1.012


def test_two_decimal_signs_are_refused():
    """1,5 and 1.5 in one table contradict each other."""
    with pytest.raises(DataError, match="Both decimal signs"):
        read_text_table(b"time;left knee\n0.1;5\n0,2;6\n", where="t.csv")


@pytest.mark.parametrize("cell", ["", "NaN", "nan", "n/a", "-", "#N/A"])
def test_cells_without_a_number_are_gaps(cell):
    """Empty cells and the usual words for nothing become NaN, never 0."""
    knee = [cell if row == 7 else f"{v:.2f}" for row, v in enumerate(walk("knee"))]
    trial = read_sheet(written(series(**{"Left Knee": knee})))
    values = trial.angles["left", "knee"].values
    assert np.flatnonzero(np.isnan(values)).tolist() == [7]


@pytest.mark.parametrize("cell", ["12-May", "2024-05-01", "abc", "inf", "1_000", "0x10", "5 deg"])
def test_words_among_numbers_are_refused_by_row_and_column(cell):
    """A spreadsheet's date in place of a number stops the reading and names the cell."""
    knee = [cell if row == 7 else f"{v:.2f}" for row, v in enumerate(walk("knee"))]
    with pytest.raises(DataError, match="row 9, column .Left Knee"):
        read_sheet(written(series(**{"Left Knee": knee})))


def test_nul_bytes_are_refused():
    """A NUL inside plain text says that the file is damaged."""
    text = written(series()).encode().replace(b"0.0500", b"0.0\x0000", 1)
    with pytest.raises(DataError, match="NUL"):
        read_sheet(text)


@pytest.mark.parametrize("content", [b"", b"\n\n", b"\xef\xbb\xbf", b"time,left knee\n"])
def test_nothing_to_read_is_said(content):
    """Empty files and headers without numbers have an error of their own."""
    with pytest.raises(EmptyFileError):
        read_sheet(content)


def test_decimal_commas_split_by_commas_are_not_taken_apart():
    """0,01,12,5 under two names is asked about, not read as four numbers."""
    rows = "".join(f"0,{n:02d},{n},5\n" for n in range(30))
    with pytest.raises(LayoutError, match="comma the decimal sign"):
        read_sheet("time,left knee\n" + rows)


def test_two_tables_in_one_sheet_are_asked_about():
    """Nothing of a second table below the first is dropped in silence."""
    text = written(series()) + "\nsecond table\n\n" + written(series())
    with pytest.raises(LayoutError, match="which table of numbers"):
        read_sheet(text)


@pytest.mark.parametrize("share", [0.013, 0.11, 0.37, 0.613, 0.77, 0.9, 0.981, 0.999])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_cut_files_give_a_named_error_or_right_numbers(share, encoding):
    """Wherever a file is cut, what is read equals the original."""
    whole = written(series(), digits=3).encode(encoding)
    cut = whole[: int(len(whole) * share)]
    try:
        trial = read_sheet(cut)
    except BadFileError:
        return
    full = read_sheet(whole)
    for key, signal in trial.angles.items():
        reference = full.angles[key].values[: trial.n_frames]
        seen = np.isfinite(signal.values)
        np.testing.assert_allclose(signal.values[seen], reference[seen], atol=1.0)
        assert seen.sum() >= trial.n_frames - 1


def test_a_short_last_row_without_line_end_is_a_cut_file():
    """A row that stops in the middle says that the file does."""
    text = written(series())
    with pytest.raises(Truncated, match="cut short"):
        read_sheet(text[: text.rindex(",")])


@pytest.mark.parametrize(("lost", "is_said"), [(2, True), (1, True), (0, False)])
def test_a_last_number_with_fewer_decimals_is_of_a_cut_file(lost, is_said):
    """Every other number of its column has as many as the rest; without a line end that tells."""
    text = written(series()).rstrip()
    problems = messages(read_sheet(text[: len(text) - lost]))
    assert ("cut short" in problems) == is_said


def test_fewer_rows_than_declared_is_a_cut_file():
    """A header that counts its rows is believed where the last row is not whole either."""
    with pytest.raises(Truncated, match="500"):
        read_sheet(("nRows=500\n\n" + written(series())).rstrip())


def test_what_was_found_is_listed():
    """Encoding, delimiter, decimal sign and header stand in the trial's steps."""
    text = "Gerät;1\n\n" + written(series(), delimiter=";", decimal=",")
    steps = read_sheet(text.encode("cp1252")).provenance.steps
    assert steps[:4] == (
        "encoding: cp1252",
        "delimiter: semicolon",
        "decimal sign: comma",
        "header in row 3; numbers in rows 4 to 203",
    )


@pytest.mark.parametrize("cell", ["1.5", "-1.5", "+1.5e0", "\u22121.5", ".5", "5."])
def test_numbers_are_written_in_many_ways(cell):
    """Signs, exponents and the typographic minus."""
    assert to_number(cell, ".") == float(cell.replace("\u2212", "-"))


@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_damaged_text_gives_a_named_error_or_a_trial(data):
    """Bytes changed, cut out or put in at random never break the reader itself."""
    content = bytearray(written(series()).encode()[:4000])
    for _ in range(data.draw(st.integers(1, 3))):
        place = data.draw(st.integers(0, len(content) - 1))
        new = data.draw(
            st.sampled_from([b"", b",", b"\n", b";", b'"', b"1e400", b"-", b"\x00", b"x"])
        )
        content[place : place + data.draw(st.integers(0, 40))] = new
    try:
        trial = read_sheet(bytes(content))
    except BadFileError as error:
        assert "sheet.csv" in str(error)
        return
    assert all(np.isfinite(s.values).any() for s in trial.angles.values())

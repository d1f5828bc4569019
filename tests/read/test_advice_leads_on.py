"""Each refusal of the readers: its advice, carried out to the letter, gives a result.

``ADVICE`` has a row for each code: a file that raises it, and the same after the advice. A code
without a row fails, except those that no file alone can raise.
"""

import io
import re
import tomllib
import zipfile
from pathlib import Path

import numpy as np
import openpyxl
import pytest

from gaittrack.errors import GaitTrackError
from gaittrack.read import read_trial
from gaittrack.read.events_table import read_events_csv
from gaittrack.read.sheet_parts import recordings_in
from gaittrack.read.tables import workbook
from gaittrack.read.tables.table_sniffing import newest_tables
from gaittrack.simulate.c3d_writer import write_c3d
from tests.read.c3d_variants import RATE_HZ, body_markers, write_variant
from tests.read.made_up_sheets import curve, series, walk, written

WORDS = Path(__file__).parents[2] / "gaittrack" / "words" / "en"
NOT_FROM_A_FILE = {
    "file_cannot_opened": "the disk or another program",
    "bytes_are_others": "another program that writes it meanwhile",
    "analog_values_frame_no_multiple": "counts that no division by whole numbers gives",
    "parser_refused_file": "the second reader of C3D",
    "counts_differ_from_header": "the second reader of C3D",
    "two_readings_coordinates_differ": "the second reader of C3D",
    "header_does_not_tell_columns": "the first rows tell them, or it is read as a sheet",
    "told_rate_is_none": "a caller of the library; the commands take no such rate",
}
"""Codes that need more than a file; their own tests raise them."""


class Row:
    """A file that raises a code, and what is done about it.

    Parameters
    ----------
    bad, good : str, bytes or callable
        What is in the file, or what writes it; ``good`` after the advice.
    before, after : dict
        How it is read: ``rate_hz``, and ``map``, the text of a map.
    """

    def __init__(self, bad, good=None, *, name="sheet.csv", before=None, after=None):
        self.bad, self.good, self.name = bad, bad if good is None else good, name
        self.before, self.after = before or {}, after or {}

    def read(self, folder, content, how):
        """Write and read the file."""
        path = folder / self.name
        if callable(content):
            path = content(path) or path
        else:
            path.write_bytes(content if isinstance(content, bytes) else content.encode())
        options = dict(how)
        if "map" in options:
            given = folder / "map.toml"
            given.write_text(options.pop("map"), encoding="utf-8")
            options["lab_map"] = given
        trial = read_trial(path, in_child=False, **options)
        return trial.angles or trial.curves or trial.markers


class PartRow(Row):
    """A sheet of which each recording is read as a file of its own."""

    def read(self, folder, content, how):
        """Write the sheet, and read all that its name means."""
        return [
            read_trial(path, in_child=False).angles
            for path in recordings_in(content(folder / self.name), ())
        ]


def called(name, content, *, meant=None):
    """Return what writes a sheet under a name, and gives the name that is meant."""

    def write(path):
        path.with_name(name).write_text(content, encoding="utf-8")
        return path.with_name(meant or name)

    return write


class EventRow(Row):
    """A table of events."""

    def read(self, folder, content, how):
        """Write and read the table."""
        path = folder / "events.csv"
        if content is not None:
            path.write_text(content, encoding="utf-8")
        return read_events_csv(path, **({"rate_hz": None, "first_frame": 1} | how))


def c3d(**options):
    """Return what writes the made-up recording with other parameters, or other bytes."""
    change = options.pop("change", None)

    def write(path):
        write_variant(path, **options)
        if change is not None:
            content = bytearray(path.read_bytes())
            path.write_bytes(bytes(change(content) or content))

    return write


def fresh(**options):
    """Return a row of a C3D file that a fresh copy or a new export replaces."""
    return Row(c3d(**options), c3d(), name="walk.c3d")


def setting(place, value):
    """Return a change of bytes."""

    def change(content):
        content[place : place + len(value)] = value

    return change


def no_points(path):
    """Write labels that name neither a marker nor an angle."""
    powers = {"POINT": {"POWERS": ["p", "q"]}}
    points = {label: np.ones((30, 3)) for label in "pq"}
    write_c3d(path, rate_hz=RATE_HZ, markers=points, parameters=powers)


def in_a_book(**pages):
    """Write tables of text as a workbook."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, text in pages.items():
        page = book.create_sheet(name)
        for line in text.splitlines():
            page.append([float(c) if re.fullmatch(r"-?[\d.]+", c) else c for c in line.split(",")])
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def far_cell(path):
    """Write a workbook with a cell in the last corner."""
    book = openpyxl.load_workbook(io.BytesIO(in_a_book(walk=SERIES)))
    book.active["XFD1048576"] = 2
    book.save(path)


OLD_KIND_OF_NOTHING = workbook.OLD_BINARY_MARK + bytes(22) + b"\x09\0" + b"\xff" * 2000


def odd_value(path):
    """Write a number of a workbook with a reference for its point."""
    whole = zipfile.ZipFile(io.BytesIO(in_a_book(walk=SERIES)))
    with zipfile.ZipFile(path, "w") as archive:
        for name in whole.namelist():
            odd = re.sub(rb"<v>(\d+)\.", rb"<v>\1&#46;", whole.read(name))
            archive.writestr(name, odd)


def bomb():
    """Return an archive that unzips to more than is read."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/worksheets/sheet1.xml", bytes(6_000_000))
    return stream.getvalue()


def markers(scale=1000.0, *, label="{} {}", time=True, rows=60):
    """Write the made-up markers as a text table."""
    points = body_markers(rows)
    head = [label.format(name, axis) for name in points for axis in "XYZ"]
    xyz = np.hstack(list(points.values())) * scale
    lines = ["\t".join((["Time"] if time else []) + head)]
    for row in range(rows):
        cells = ([f"{row / RATE_HZ:.3f}"] if time else []) + [f"{v:.4f}" for v in xyz[row]]
        lines.append("\t".join("" if cell == "nan" else cell for cell in cells))
    return "\n".join(lines) + "\n"


SERIES = written(series())
MARKERS = markers()
NOBODY = "\t".join(["Time", *(f"*{n} {axis}" for n in range(6) for axis in "XYZ")])
NOBODY += "\n" + MARKERS.split("\n", 1)[1]
STACKED = {"percent": np.tile(np.linspace(0, 100, 51), 2), "cycle": ["1"] * 51 + ["2"] * 51,
           "left knee": np.tile(curve("knee", 51), 2)}  # fmt: skip
TIDY = written({"side": ["left"] * 51 + ["right"] * 51, "joint": ["knee"] * 102,
                "percent": STACKED["percent"], "angle": STACKED["left knee"]})  # fmt: skip
MIXED = STACKED | {"cycle": ["1"] * 30 + ["2"] * 72}
ROWS = "curve," + ",".join(map(str, range(51))) + "\n"
ROWS += "left knee," + ",".join(f"{value:.2f}" for value in curve("knee", 51)) + "\n"
TWICE = SERIES + "\nsecond\n\n" + SERIES
PEOPLE = written({"subject": ["a"] * 200 + ["b"] * 200}
                 | {name: np.tile(values, 2) for name, values in series().items()})  # fmt: skip
TRIALS = PEOPLE.replace("subject", "trial")
EVENTS = "time_s,side,kind\n0.5,left,initial_contact\n1.0,left,toe_off\n"
SMALL = {label: np.full((60, 3), np.nan) for label in ("a", "b", "c", "d")}
SEEN_APART = SMALL | {"e": np.ones((60, 3))}


def seen_apart(path):
    """Write a marker table in which no frame shows half of the markers."""
    head = "\t".join(["Time", *(f"{label} {axis}" for label in SEEN_APART for axis in "XYZ")])
    lines = [f"{row / 100:.2f}" + "\t" * 12 + "\t900\t100\t50" for row in range(60)]
    path.write_text("\n".join([head, *lines]) + "\n", encoding="utf-8")


BLOCK = 512
ADVICE = {
    "file_empty": Row("", SERIES),
    "none_kinds_file_read": Row("A letter.\n" * 50, SERIES, name="letter"),
    "is_a_folder": Row(lambda path: path.parent, SERIES),
    "no_such_file": Row(lambda path: path.with_name("other.csv"), SERIES),
    "file_empty_2": Row(b"\xef\xbb\xbf", SERIES),
    "no_column_holds_marker": Row(NOBODY, MARKERS, name="markers.txt"),
    "more_frames_than_counted": fresh(
        markers=body_markers(70_000),
        parameters={
            "POINT": {"LONG_FRAMES": None},
            "TRIAL": {"ACTUAL_START_FIELD": None, "ACTUAL_END_FIELD": None},
        },
    ),
    "file_holds_neither_markers_nor": Row(no_points, c3d(), name="walk.c3d"),
    "file_gives_no_frame_rate": Row(
        c3d(parameters={"POINT": {"RATE": 0.0}}), name="walk.c3d", after={"rate_hz": 100.0}
    ),
    "file_declares_no_frame": fresh(
        parameters={"POINT": {"FRAMES": 0}}, change=setting(6, b"\1\0\0\0")
    ),
    "header_parameters_disagree_points_analog": fresh(
        parameters={"POINT": {"USED": 5}}, change=lambda c: bytes(c) + bytes(7 * BLOCK)
    ),
    "point_long_frames_trial_actual": fresh(
        parameters={"POINT": {"FRAMES": 65535, "LONG_FRAMES": 90000.0},
                    "TRIAL": {"ACTUAL_START_FIELD": np.array([1, 0]),
                              "ACTUAL_END_FIELD": np.array([0, 2])}}
    ),
    "number_frames_whole_number_expected": fresh(parameters={"POINT": {"FRAMES": 12.5}}),
    "file_cut_short_frames": fresh(change=lambda content: content[: int(0.6 * len(content))]),
    "header_point_data_start_disagree": fresh(parameters={"POINT": {"DATA_START": 200}}),
    "file_ends_after_bytes_header": fresh(change=lambda content: content[:300]),
    "header_names_no_block_parameters": fresh(change=setting(0, b"\1")),
    "file_ends_before_parameters_begin": fresh(change=lambda content: content[: BLOCK + 2]),
    "file_written_mips_big_endian": fresh(change=setting(BLOCK + 3, b"\x56")),
    "processor_byte_84_intel_85": fresh(change=setting(BLOCK + 3, b"\7")),
    "header_says_neither_where_data": fresh(
        change=lambda c: setting(BLOCK + 2, b"\0")(c) or setting(16, b"\0\0")(c)
    ),
    "file_ends_byte_inside_parameters": fresh(change=lambda content: content[: BLOCK + 100]),
    "chain_parameters_broken_byte": fresh(change=setting(BLOCK + 4, b"\x7f\x7f\x7f\x7f\x7f")),
    "unit_coordinates_their_size_fits": Row(
        c3d(unit="ells", units_per_m=7.3), c3d(unit="m", units_per_m=1.0), name="walk.c3d"
    ),
    "word_among_numbers": Row(ROWS.replace("left knee,3.00,", "left knee,3.00,x y,"), ROWS),
    "curve_of_several": Row(written(MIXED), written(STACKED)),
    "column_changes_within_one_cycle": Row(
        written(STACKED | {"toe off (%)": [60.0] * 50 + [70.0] * 52}),
        written(STACKED | {"toe off (%)": [60.0] * 51 + [70.0] * 51}),
    ),
    "half_of_markers_never_seen": Row(
        seen_apart, name="markers.txt", after={"map": '[sheet]\nlength_unit = "mm"\n'}
    ),
    "unit_of_markers_not_known": Row(
        markers(scale=7.3), name="markers.txt", after={"map": '[sheet]\nlength_unit = "m"\n'}
    ),
    "both_decimal_signs_occur": Row(
        SERIES.replace(",", ";").replace("0.1000", "0,1000", 1), SERIES
    ),
    "mark_may_group_thousands": Row(
        "time;left knee\n" + "".join(f"{n};{n}.012\n" for n in range(1, 40))
        .replace("\n7;7.012", "\n7;7"),
        after={"map": '[sheet]\ndecimal = "."\nrate_hz = 100\ntime_column = "time"\n'},
    ),
    "curve_points_least_needed": Row(
        written({"%": np.linspace(0, 100, 8), "left knee": curve("knee", 8)}),
        written({"%": np.linspace(0, 100, 51), "left knee": curve("knee", 51)}),
    ),
    "per_cent_not_evenly_spaced": Row(
        written({"%": np.linspace(0, 10, 51) ** 2, "left knee": curve("knee", 51)}),
        written({"%": np.linspace(0, 100, 51), "left knee": curve("knee", 51)}),
    ),
    "fewer_rows_than_told": Row("nRows=500\n\n" + SERIES.rstrip(), "nRows=500\n\n" + SERIES),
    "no_number_in_column": Row(SERIES.replace("4.0000", "twelve", 1),
                               SERIES.replace("4.0000", "", 1)),
    "columns_of_map_ambiguous": Row(
        SERIES, before={"map": '[[columns]]\nname = "Left Ankle"\njoint = "ankle"\nside = "left"\n'
                               '[sheet]\ntime_column = "t"\n'},
        after={"map": '[[columns]]\nname = "Left Ankle"\njoint = "ankle"\nside = "left"\n'
                      '[sheet]\ntime_column = "Time (s)"\n'},
    ),
    "no_column_of_angles": Row(written({"time": np.arange(200) / 100, "left moment": walk("knee")}),
                               SERIES),
    "title_of_other_quantity": Row("Joint moments\n" + SERIES, SERIES),
    "no_number_in_cell": Row(MARKERS.replace("0.010\t", "0.010\ttwelve", 1), MARKERS,
                             name="markers.txt"),
    "joints_are_numbers": Row(
        TIDY.replace("knee", "2").replace("side", "leg").replace("left", "1"), TIDY
    ),
    "unit_of_length_is_other": Row(
        "Units: pixels\n" + MARKERS, name="markers.txt",
        after={"map": '[sheet]\nlength_unit = "mm"\n'},
    ),
    "markers_in_workbook": Row(
        in_a_book(walk=MARKERS.replace("\t", ",")), MARKERS.replace("\t", ","), name="sheet.csv"
    ),
    "row_for_each_marker": Row("frame,marker,x,y,z\n1,LHEE,1,2,3\n1,LTOE,1,2,3\n" * 3,
                               MARKERS, name="markers.txt"),
    "cells_cannot_split": Row(SERIES.replace("Left Knee", '"Left Knee'), SERIES),
    "no_row_numbers_found": Row("time,left knee\n", SERIES),
    "more_than_one_table_numbers": Row(
        MARKERS + "\nsecond\n\n" + MARKERS, name="markers.txt",
        after={"map": "[sheet]\nblock = 2\n"},
    ),
    "no_such_block": Row(TWICE, before={"map": "[sheet]\nblock = 3\n"},
                         after={"map": "[sheet]\nblock = 2\n"}),
    "no_such_person": Row(PEOPLE, before={"map": "[sheet]\nperson_number = 3\n"},
                          after={"map": "[sheet]\nperson_number = 2\n"}),
    "no_such_trial": Row(TRIALS, before={"map": '[sheet]\ntrial = "c"\n'},
                         after={"map": '[sheet]\ntrial = "b"\n'}),
    "no_such_part": Row(called("day.csv", TRIALS, meant="day#trial-9.csv"),
                        called("day.csv", TRIALS, meant="day#trial-2.csv")),
    "no_part_of_sheet": PartRow(called("day.csv", TRIALS, meant="day#person-2.csv"),
                                called("day.csv", TRIALS)),
    "name_means_a_part": PartRow(called("d#trial-1.csv", TRIALS), called("d.csv", TRIALS)),
    "walks_of_several_people": PartRow(called("day.csv", PEOPLE),
                                       called("day.csv", PEOPLE, meant="day#person-2.csv")),
    "row_lost_a_cell": Row(SERIES.replace("0.3500,", "", 1), SERIES),
    "last_row_cells_others_no": Row(SERIES[: SERIES.rindex(",")], SERIES),
    "encoding_not_known": Row(SERIES, before={"map": '[sheet]\nencoding = "latin9000"\n'},
                              after={"map": '[sheet]\nencoding = "utf-8"\n'}),
    "nul_character_stands_row": Row(SERIES.replace("Left Ankle", "Left\0 Ankle"), SERIES),
    "no_time_column_no_rate": Row(markers(time=False), name="markers.txt",
                                  after={"rate_hz": 100.0}),
    "single_row_without_rate": Row("Time (s),Left Knee\n0.0,12\n", after={
        "rate_hz": 100.0, "map": '[sheet]\nunit = "deg"\n'}),
    "column_does_not_rise_row": Row(
        written(series(**{"Time (s)": np.r_[np.arange(100), np.arange(50, 150)] / 100})), SERIES
    ),
    "column_not_evenly_spaced": Row(
        written(series(**{"Time (s)": np.arange(200) ** 1.5 / 100})), SERIES
    ),
    "times_give_no_rate": Row(MARKERS.replace("Time\t", "Time (ms)\t"), name="markers.txt",
                              after={"rate_hz": 100.0}),
    "no_sheet": Row(in_a_book(walk=SERIES), name="w.xlsx",
                    before={"map": '[sheet]\nworkbook_sheet = "x"\n'},
                    after={"map": '[sheet]\nworkbook_sheet = "walk"\n'}),
    "no_sheet_holds_table_numbers": Row(in_a_book(notes="Recorded\n"), in_a_book(walk=SERIES),
                                        name="w.xlsx"),
    "unzipped_bytes_most_read": Row(bomb(), in_a_book(walk=SERIES), name="w.xlsx"),
    "workbook_odd_value": Row(odd_value, in_a_book(walk=SERIES), name="w.xlsx"),
    "workbook_damaged": Row(in_a_book(walk=SERIES)[:3000], in_a_book(walk=SERIES), name="w.xlsx"),
    "sheet_spans_rows_columns": Row(far_cell, in_a_book(walk=SERIES), name="w.xlsx"),
    "workbook_cannot_read": Row(OLD_KIND_OF_NOTHING, in_a_book(walk=SERIES), name="w.xls"),
    "events_table_cannot_opened": EventRow(None, EVENTS),
    "no_header_row": EventRow(",,\n", EVENTS),
    "no_column_among": EventRow(EVENTS.replace("kind", "what"), EVENTS),
    "frames_need_rate": EventRow(EVENTS.replace("time_s", "frame").replace("0.5", "50")
                                 .replace("1.0", "100"), after={"rate_hz": 100.0}),
    "at_row": EventRow(EVENTS.replace("0.5", "-0.5"), EVENTS),
    "rows_same_event": EventRow(EVENTS + "0.5,left,initial_contact\n", EVENTS),
}  # fmt: skip
COLUMN = '[[columns]]\nname = "Left Knee"\njoint = "knee"\nside = "left"\n'
MAPS = {
    "unknown_keys": (COLUMN + 'colour = "red"\n', COLUMN),
    "no_table_in_map": ('sheet = "time_series"\n', '[sheet]\nlayout = "time_series"\n'),
    "map_still_holds_question_mark": (COLUMN + 'sign = "?"\n', COLUMN + "sign = 1\n"),
    "wrong_kind": ("[sheet]\nrate_hz = \"100 Hz\"\n", "[sheet]\nrate_hz = 100.0\n"),
    "keys_missing": (COLUMN.replace('joint = "knee"\n', ""), COLUMN),
    "word_not_known": (COLUMN.replace('"knee"', '"Knie"'), COLUMN),
    "label_twice_in_map": ('[landmarks]\nleft_heel = "A"\nright_heel = "A"\n',
                           '[landmarks]\nleft_heel = "A"\n'),
}  # fmt: skip
"""What is wrong in a map, and the map after the advice."""
ADVICE |= {
    code: Row(SERIES, before={"map": bad}, after={"map": good})
    for code, (bad, good) in MAPS.items()
}
TOO_LARGE = {
    "table_more_than_cells": (MARKERS, "gaittrack.read.tables.table_sniffing.MAX_CELLS"),
    "text_bytes_most_read": (SERIES, "gaittrack.read.tables.text_decoding.MAX_TEXT_BYTES"),
}
"""Refused above a size, which the test lowers; less is exported as they say."""


def codes(*names):
    """Return what stands in lists of words: code to sentence."""
    texts = [(WORDS / f"{name}.toml").read_text("utf-8") for name in names]
    return {code: said["what"] for text in texts for code, said in tomllib.loads(text).items()}


ALL_CODES = codes("errors_read", "errors_files")


def says(error, what):
    """Tell whether an error is the sentence, its gaps filled."""
    return re.fullmatch(re.sub(r"\\\{.*?\\\}", ".*", re.escape(what)), error.what, re.DOTALL)


def test_every_refusal_of_the_readers_has_a_row():
    """A new message comes with a file that raises it, and with what its advice leads to."""
    left = set(codes("errors_read")) - {*ADVICE, *NOT_FROM_A_FILE, *TOO_LARGE}
    assert left == set()


@pytest.mark.parametrize("code", ADVICE)
def test_the_advice_gives_a_result(code, tmp_path, monkeypatch):
    """The file is refused with this sentence; the advice carried out, it is read."""
    monkeypatch.setattr(workbook, "MAX_UNZIPPED_BYTES", 5_000_000)
    row = ADVICE[code]
    with pytest.raises(GaitTrackError) as caught:
        row.read(tmp_path, row.bad, row.before)
    assert says(caught.value, ALL_CODES[code]), str(caught.value)
    assert caught.value.action
    assert row.read(tmp_path, row.good, row.after)


@pytest.mark.parametrize("code", TOO_LARGE)
def test_less_is_read(code, tmp_path, monkeypatch):
    """Beyond a size: less of it, one walk per file, is read."""
    content, limit = TOO_LARGE[code]
    monkeypatch.setattr(limit, 600)
    newest_tables.cache_clear()
    row = Row(content, "\n".join(content.splitlines()[:25]) + "\n")
    with pytest.raises(GaitTrackError) as caught:
        row.read(tmp_path, row.bad, {})
    assert says(caught.value, ALL_CODES[code]), str(caught.value)
    monkeypatch.undo()
    assert row.read(tmp_path, row.good, {})

"""Events in a table of their own."""

import pytest

from gaittrack.errors import BadFileError, DataError, EmptyFileError, LayoutError
from gaittrack.read.events_table import read_events_csv


@pytest.fixture
def table(tmp_path):
    """Write a text and read it as an events table."""

    def read(text, **options):
        path = tmp_path / "events.csv"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return read_events_csv(path, **options)

    return read


def plain(events):
    return [(round(e.time_s, 4), e.side, e.kind, e.contact) for e in events]


def test_events_come_back_in_time_order(table):
    """Side, kind and contact as written; source ``file``."""
    events = table(
        "time_s,side,kind,contact\n1.2,left,toe_off,\n0.5,left,initial_contact,forefoot\n"
        "0.9,right,initial_contact,\n"
    )
    assert plain(events) == [
        (0.5, "left", "initial_contact", "forefoot"),
        (0.9, "right", "initial_contact", None),
        (1.2, "left", "toe_off", None),
    ]
    assert {event.source for event in events} == {"file"}


@pytest.mark.parametrize(
    "text",
    [
        "time_s,side,kind\n0.5,left,initial_contact\n1.1,left,toe_off\n",
        "Time (s);Side;Event\n0,5;L;Initial Contact\n1,1;L;Toe-Off\n",
        "time_ms\tlimb\ttype\n500\tLeft\tIC\n1100\tleft\ttoe off\n",
        "side,event,time\nleft,heel strike,0.5\nleft,foot off,1.1\n\n",
        "\ufefftime_s,side,kind\r\n0.5,left,foot contact\r\n1.1,left,TO\r\n",
    ],
)
def test_words_are_read_by_spelling(table, text):
    """Delimiters, decimal commas, units and words in many ways."""
    assert [event[:3] for event in plain(table(text))] == [
        (0.5, "left", "initial_contact"),
        (1.1, "left", "toe_off"),
    ]


def test_frames_count_from_the_first_stored_one(table):
    """Frames need a rate; their count begins with the trial's first frame."""
    text = "frame,side,kind\n51,left,initial_contact\n111,left,toe_off\n"
    with pytest.raises(LayoutError, match="rate"):
        table(text)
    assert [e.time_s for e in table(text, rate_hz=100)] == [0.5, 1.1]
    assert [e.time_s for e in table(text, rate_hz=100, first_frame=11)] == [0.4, 1.0]


@pytest.mark.parametrize(
    ("row", "message"),
    [
        ("x,left,initial_contact,", "Row 3: 'x' is no time"),
        (",left,initial_contact,", "Row 3: '' is no time"),
        ("-0.1,left,initial_contact,", "Row 3: '-0.1' is no time"),
        ("0.1,middle,initial_contact,", "Row 3: 'middle' is neither left nor right"),
        ("0.1,left,jump,", "Row 3: 'jump' is neither initial contact nor toe-off"),
        ("0.1,left,initial_contact,side", "Row 3: 'side' is none of heel, flat"),
        ("0.5,left,initial_contact,", "Rows 2 and 3 are the same event"),
        ("0.1", "Row 3: '' is neither left nor right"),
    ],
)
def test_errors_name_their_row(table, row, message):
    """What is wrong stands in the message, with its row."""
    text = f"time_s,side,kind,contact\n0.5,left,initial_contact,heel\n{row}\n"
    with pytest.raises(DataError, match=message):
        table(text)


@pytest.mark.parametrize(
    ("text", "missing"),
    [("side,kind\nleft,toe_off\n", "time_s"), ("time_s,kind\n1,toe_off\n", "side"),
     ("time_s,side\n1,left\n", "kind"), ("1.0,left,toe_off\n", "side")],
)  # fmt: skip
def test_a_missing_column_is_named(table, text, missing):
    """The message lists what a table of events needs."""
    with pytest.raises(LayoutError, match=missing):
        table(text)


def test_files_that_cannot_be_read(table, tmp_path):
    """Missing and empty files have their errors."""
    with pytest.raises(BadFileError, match="cannot be opened"):
        read_events_csv(tmp_path / "nowhere.csv")
    with pytest.raises(EmptyFileError):
        table(b"\n")
    assert table("time_s,side,kind\n") == ()

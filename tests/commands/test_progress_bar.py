"""The bar that a terminal shows while many recordings are worked on."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

pty = pytest.importorskip("pty", reason="terminals of POSIX")
SAMPLES = Path(__file__).parents[2] / "sample_trials"


def in_a_terminal(*words):
    """Run a command whose output is a terminal; return all that stood there."""
    ours, theirs = pty.openpty()
    command = [sys.executable, "-m", "gaittrack", *map(str, words)]
    process = subprocess.Popen(command, stdout=theirs, stderr=theirs, stdin=subprocess.DEVNULL)
    os.close(theirs)
    told = b""
    try:
        while part := os.read(ours, 65536):
            told += part
    except OSError:  # the last program at the other end is gone
        pass
    finally:
        os.close(ours)
    assert process.wait(60) == 0, told
    return told.decode()


def as_shown(told):
    """Return the lines as a terminal leaves them: a carriage return writes over its line."""
    return [line.rstrip("\r").rsplit("\r", 1)[-1] for line in told.split("\n")]


def test_a_batch_shows_how_far_it_is():
    """From several files on, to the last per cent."""
    told = in_a_terminal("measure", SAMPLES / "P04" / "visit-1" / "with-brace", "--json")
    assert "Measuring" in told and "100%" in told


def test_rows_of_an_import_stand_on_lines_of_their_own(tmp_path):
    """No row behind the bar, no bar left between rows."""
    told = in_a_terminal(
        "import", SAMPLES / "P04" / "visit-1", "--study", tmp_path / "study", "--jobs", "1"
    )
    assert "Importing" in told and "100%" in told
    rows = [line for line in as_shown(told) if "added: " in line]
    assert len(rows) == 8
    assert all(row.replace("\x1b[K", "").startswith("added: ") for row in rows)

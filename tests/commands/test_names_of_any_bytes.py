"""Whatever a file is called and whatever it is, it costs its own row at most."""

import csv
import io
import json
import os
import time
from pathlib import Path

import pytest
from click.testing import CliRunner

from gaittrack.commands import main
from gaittrack.errors import GaitTrackError
from gaittrack.lab_map import read_lab_map
from gaittrack.pipeline import InputFile, Recording, measure_recording
from gaittrack.plain_files import hash_of
from gaittrack.read import read_trial
from gaittrack.read.events_table import read_events_csv
from gaittrack.study.recordings.planning_sheet import plan_sheet
from tests.made_up_files import write_walk

GOOD = (b"plain.c3d", b"caf\xe9.c3d", b"two\nlines.c3d", b"=cmd.c3d", b"\x1b[31mred.c3d")
TURNED = "\u202egnp.c3d".encode()
BAD = b"bad\xff\n\x07.c3d"
UNSEEN = tuple(map(chr, (*range(9), *range(14, 32), 0x7F, 0x202E, *range(0xDC80, 0xDD00))))


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Give a folder of walks with such names, and one file that is none."""
    place = tmp_path_factory.mktemp("names")
    for seed, name in enumerate((*GOOD, TURNED), 1):
        write_walk(place / "made.c3d", seed=seed)
        os.rename(place / "made.c3d", os.fsencode(place) + b"/" + name)
    Path(os.fsdecode(os.fsencode(place) + b"/" + BAD)).write_bytes(b"junk")
    return place


@pytest.mark.parametrize("command", ["measure", "measure --json", "check", "compare"])
def test_one_odd_name_costs_one_row(folder, tmp_path, command):
    """Tables, JSON and messages have the other files, and no byte that moves a terminal."""
    words = [*command.split(), str(folder)]
    if command == "measure":
        words += ["--csv", str(tmp_path / "out.csv")]
    if command == "compare":
        write_walk(tmp_path / "walk.c3d", seed=9)
        words = ["compare", "--json", "--without", str(folder), "--with", str(tmp_path)]
    done = CliRunner().invoke(main, words)
    assert done.exit_code in (0, 1), done.output
    assert not any(mark in done.output for mark in UNSEEN)
    assert "bad\\xff\\x0a\\x07.c3d" in done.output
    if command == "measure --json":
        assert len(json.loads(done.stdout)) == len(GOOD) + 2
    if command == "measure":
        rows = list(csv.DictReader(io.StringIO((tmp_path / "out.csv").read_text("utf-8"))))
        assert len({row["file"] for row in rows}) == len(GOOD) + 1
        assert not any(value.startswith("=") for row in rows for value in row.values())


def test_only_plain_files_are_opened(tmp_path):
    """A pipe, a device behind a link and a folder are refused at once, whoever asks for them."""
    os.mkfifo(tmp_path / "pipe.csv")
    (tmp_path / "endless.csv").symlink_to("/dev/zero")
    (tmp_path / "folder.csv").mkdir()
    with (tmp_path / "huge.csv").open("wb") as file:
        file.truncate(1024**4)
    write_walk(tmp_path / "walk.c3d", seed=1)
    walk, started = InputFile(tmp_path / "walk.c3d"), time.monotonic()
    for name in ("pipe", "endless", "folder", "huge"):
        path = tmp_path / f"{name}.csv"
        for read in (read_trial, read_events_csv, read_lab_map, lambda p: plan_sheet(p, [])):
            with pytest.raises(GaitTrackError):
                read(path)
        for recording in (Recording(InputFile(path)), Recording(walk, events=InputFile(path))):
            assert hasattr(measure_recording(recording), "error")
        with pytest.raises(OSError):
            hash_of(path)
    assert time.monotonic() - started < 20

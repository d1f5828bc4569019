"""What holds for every test."""

import gc
import os
import shutil
import signal
import tempfile
from pathlib import Path

import pytest

MOST_PROCESSES = 4
"""Of a run: each has its own browser, and what is shared waits for whoever makes it."""

MEMORY, ENOUGH_BYTES = Path("/dev/shm"), 2_000_000_000
"""A file system in memory, where there is one: studies wait for the disk at every change."""


def pytest_configure():
    """Hear Ctrl-C also where a shell runs this in the background; the terminal's width is one."""
    signal.signal(signal.SIGINT, signal.default_int_handler)
    os.environ["COLUMNS"] = "100"


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers(config):
    """Spread folders over the processors; named files, and what prints (-s), run right here.

    There is one process more than processors: it works while others wait for a browser or a disk.
    """
    runs_here = config.option.capture == "no" or any(".py" in each for each in config.args)
    return 0 if runs_here else min(MOST_PROCESSES, (os.cpu_count() or 1) + 1)


def pytest_ignore_collect(collection_path, config):
    """Leave benchmarks unread, and what they load, where none of them is run."""
    is_asked = "not" not in config.option.markexpr
    return None if is_asked or collection_path.name != "benchmarks" else True


def pytest_collection_modifyitems(items):
    """Begin with the screens: what waits for a browser leaves processors to what does not."""
    items.sort(key=lambda item: "dashboards" not in item.path.parts[-2:])


def pytest_collection_finish():
    """Leave what was collected out of each later look for garbage, and look more seldom."""
    gc.freeze()
    gc.set_threshold(20_000)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_setupnodes():
    """Let the processes of a run, and all that they start, share compiled modules and memory."""
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    if MEMORY.is_dir() and shutil.disk_usage(MEMORY).free > ENOUGH_BYTES:
        os.environ.setdefault("TMPDIR", str(MEMORY))
        tempfile.tempdir = None  # looked for again

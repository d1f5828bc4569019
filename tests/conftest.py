"""What holds for every test."""

import os
import signal

import pytest

MOST_PROCESSES = 4
"""Of a run: each has its own browser, and what is shared waits for whoever makes it."""


def pytest_configure():
    """Undo what a shell does to programs it runs in the background: Ctrl-C is heard again."""
    signal.signal(signal.SIGINT, signal.default_int_handler)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers(config):
    """Spread folders over the processors; named files, and what prints (-s), run right here."""
    runs_here = config.option.capture == "no" or any(".py" in each for each in config.args)
    return 0 if runs_here else min(MOST_PROCESSES, os.cpu_count() or 1)

"""What a disk refuses of a command's writing is said, and leaves the old state or the new."""

import os
import shutil
import sys

import click
import pytest

from gaittrack.commands import main
from tests.faults.refused_commands import READING, recipes
from tests.faults.refusing_disk import run_apart

HERE = ("+ typical", "users add", "guide", "study new")


@pytest.mark.skipif(sys.platform != "linux", reason="the disk is stood before as Linux has it")
def test_a_refusing_disk_leaves_nothing_half():
    """A sample of what ``python -m tests.faults.refusing_disk`` tries of every command."""
    if shutil.which("cc") is None:
        absent = pytest.fail if os.environ.get("CI") else pytest.skip
        absent("there is no C compiler")
    done = run_apart(2, HERE)
    assert done.returncode == 0, done.stdout
    assert done.stdout.count("\t0 wrong") == len(HERE)


def test_every_command_that_writes_is_tried():
    """And every option for a new file."""
    tried = {recipe.name.split(" + ")[0]: recipe.given for recipe in recipes()}
    assert set(_leaves(main)) == {*tried} | READING | _OF_EVENTS
    given = " ".join(recipe.given for recipe in recipes())
    for command in _leaves(main).values():
        for option in command.params:
            if isinstance(option.type, click.Path) and not option.type.exists:
                assert option.name in _PLACES or option.opts[-1] in given, option.opts


_OF_EVENTS = {
    f"correct {each}"
    for each in (
        *("move-event", "add-event", "copy-event", "delete-event"),
        *("turn-angle", "keep-angle", "map-landmark", "undo"),
    )
}
"""Corrections that are kept as those that are tried are: by one function."""
_PLACES = ("folder", "target", "out", "id_map", "exported")


def _leaves(command, name=""):
    if isinstance(command, click.Group):
        found = {}
        for own, each in command.commands.items():
            found |= _leaves(each, f"{name} {own}".strip())
        return found
    return {name: command}

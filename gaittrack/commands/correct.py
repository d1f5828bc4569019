"""``gaittrack correct``: change events, strides, sides or landmarks of one trial."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from gaittrack.commands.study_options import Command, change_options, study_options

_TRIAL = click.argument("trial")
_SIDE = click.argument("side", type=click.Choice(["left", "right"]))
_KIND = click.argument("kind", type=click.Choice(["initial_contact", "toe_off"]))
_TIME = click.argument("time_s", type=float)


def _takes(*arguments: Callable[[Any], Any]) -> Callable[[Command], Command]:
    """Add the trial, these arguments, and the options that every correction has."""

    def add_all(command: Command) -> Command:
        for add in reversed((_TRIAL, *arguments, study_options, change_options)):
            command = add(command)
        return command

    return add_all


@click.group()
def correct() -> None:
    """Correct a TRIAL (PERSON/VISIT/CONDITION/TRIAL) of a study; nothing is lost.

    Each correction is measured at once, kept in the history, and can be undone. Times are seconds
    from the first stored frame.
    """


@correct.command("move-event")
@_takes(_SIDE, _KIND, _TIME, click.argument("new_time_s", type=float))
def move_event(**given: object) -> None:
    """Move an event from TIME_S to NEW_TIME_S."""
    from gaittrack.commands.study_changes import run_correction

    run_correction("move_event", given)


@correct.command("add-event")
@_takes(_SIDE, _KIND, _TIME)
def add_event(**given: object) -> None:
    """Add an event at TIME_S."""
    from gaittrack.commands.study_changes import run_correction

    run_correction("add_event", given)


@correct.command("delete-event")
@_takes(_SIDE, _KIND, _TIME)
def delete_event(**given: object) -> None:
    """Take out the event at TIME_S."""
    from gaittrack.commands.study_changes import run_correction

    run_correction("delete_event", given)


@correct.command("exclude-stride")
@_takes(click.argument("cycle", metavar="STRIDE"))
def exclude_stride(**given: object) -> None:
    """Keep STRIDE (for example left-02) out of all measures."""
    from gaittrack.commands.study_changes import run_correction

    run_correction("exclude_stride", given)


@correct.command("swap-sides")
@_takes()
def swap_sides(**given: object) -> None:
    """Let left and right change places."""
    from gaittrack.commands.study_changes import run_correction

    run_correction("swap_sides", given)


@correct.command("map-landmark")
@_takes(click.argument("mapping", metavar="LANDMARK=LABEL"))
def map_landmark(**given: object) -> None:
    """Say which label of the file a landmark is: left_heel=LABEL."""
    from gaittrack.commands.study_changes import run_correction

    run_correction("map_landmark", given)


@correct.command("undo")
@_takes(click.argument("number", type=int))
def undo(**given: object) -> None:
    """Undo correction NUMBER, as `gaittrack correct list` shows it."""
    from gaittrack.commands.study_changes import run_correction

    run_correction("undo", given)


@correct.command("list")
@_TRIAL
@study_options
def list_corrections(trial: str, folder: Path, url: str | None) -> None:
    """Show the corrections of a trial."""
    from gaittrack.commands.study_changes import run_list

    run_list(folder, url, trial)

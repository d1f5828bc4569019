"""``gaittrack correct``: change events, strides or sides of one trial."""

from __future__ import annotations

from pathlib import Path

import click

from gaittrack.commands.study_options import change_options, study_options

_SIDE = click.Choice(["left", "right"])
_KIND = click.Choice(["initial_contact", "toe_off"])


@click.group()
def correct() -> None:
    """Correct a TRIAL (PERSON/VISIT/CONDITION/TRIAL) of a study; nothing is lost.

    Each correction is measured at once, kept in the history, and can be undone. Times are seconds
    from the first stored frame.
    """


@correct.command("move-event")
@click.argument("trial")
@click.argument("side", type=_SIDE)
@click.argument("kind", type=_KIND)
@click.argument("time_s", type=float)
@click.argument("new_time_s", type=float)
@study_options
@change_options
def move_event(**given: object) -> None:
    """Move an event from TIME_S to NEW_TIME_S."""
    from gaittrack.commands.study_changes import run_correction

    run_correction("move_event", given)


@correct.command("add-event")
@click.argument("trial")
@click.argument("side", type=_SIDE)
@click.argument("kind", type=_KIND)
@click.argument("time_s", type=float)
@study_options
@change_options
def add_event(**given: object) -> None:
    """Add an event at TIME_S."""
    from gaittrack.commands.study_changes import run_correction

    run_correction("add_event", given)


@correct.command("delete-event")
@click.argument("trial")
@click.argument("side", type=_SIDE)
@click.argument("kind", type=_KIND)
@click.argument("time_s", type=float)
@study_options
@change_options
def delete_event(**given: object) -> None:
    """Take out the event at TIME_S."""
    from gaittrack.commands.study_changes import run_correction

    run_correction("delete_event", given)


@correct.command("exclude-stride")
@click.argument("trial")
@click.argument("cycle", metavar="STRIDE")
@study_options
@change_options
def exclude_stride(**given: object) -> None:
    """Keep STRIDE (for example left-02) out of all measures."""
    from gaittrack.commands.study_changes import run_correction

    run_correction("exclude_stride", given)


@correct.command("swap-sides")
@click.argument("trial")
@study_options
@change_options
def swap_sides(**given: object) -> None:
    """Let left and right change places."""
    from gaittrack.commands.study_changes import run_correction

    run_correction("swap_trial_sides", given)


@correct.command()
@click.argument("trial")
@click.argument("number", type=int)
@study_options
@change_options
def undo(**given: object) -> None:
    """Undo correction NUMBER, as `gaittrack correct list` shows it."""
    from gaittrack.commands.study_changes import run_correction

    run_correction("undo_correction", given)


@correct.command("list")
@click.argument("trial")
@study_options
def list_corrections(trial: str, folder: Path, url: str | None) -> None:
    """Show the corrections of a trial."""
    from gaittrack.commands.study_changes import run_list

    run_list(folder, url, trial)

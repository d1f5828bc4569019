"""``gaittrack correct``: change events, strides, sides or landmarks of one trial."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import click

from gaittrack.commands.options import Option, change_options, on_study, runs, together
from gaittrack.vocabulary import JOINTS

_TRIAL = click.argument("trial")
_SIDE = click.argument("side", type=click.Choice(["left", "right"]))
_KIND = click.argument("kind", type=click.Choice(["initial_contact", "toe_off"]))
_JOINT = click.argument("joint", type=click.Choice(JOINTS))
_TIME = click.argument("time_s", type=float)


@click.group()
def correct() -> None:
    """Correct a TRIAL (PERSON/VISIT/CONDITION/TRIAL) of a study; nothing is lost.

    Each correction is measured at once, kept in the history, and can be undone. Times are seconds
    from the first stored frame.
    """


_KINDS: Final[Mapping[str, tuple[str, tuple[Option, ...]]]] = {
    "move-event": (
        "Move an event from TIME_S to NEW_TIME_S.",
        (_SIDE, _KIND, _TIME, click.argument("new_time_s", type=float)),
    ),
    "add-event": ("Add an event at TIME_S.", (_SIDE, _KIND, _TIME)),
    "copy-event": (
        "Add to the other foot the event at TIME_S, half a stride later.",
        (_SIDE, _KIND, _TIME),
    ),
    "delete-event": ("Take out the event at TIME_S.", (_SIDE, _KIND, _TIME)),
    "exclude-stride": (
        "Keep STRIDE (for example left-02) out of all measures.",
        (click.argument("cycle", metavar="STRIDE"),),
    ),
    "exclude-walk": ("Keep the whole walk out of all measures.", ()),
    "turn-angle": ("Turn the sign of an angle that the file itself holds.", (_JOINT,)),
    "keep-angle": (
        "Say that an angle of the file has the right sign.",
        (_JOINT,),
    ),
    "looked-at": ("Say that the walk was looked at and is right: it waits no more.", ()),
    "swap-sides": ("Let left and right change places.", ()),
    "map-landmark": (
        "Say which label of the file a landmark is: left_heel=LABEL.",
        (click.argument("mapping", metavar="LANDMARK=LABEL"),),
    ),
    "undo": (
        "Undo correction NUMBER, as `gaittrack correct list` shows it.",
        (click.argument("number", type=int),),
    ),
}
"""What each correction does, and its own arguments."""

for _name, (_says, _arguments) in _KINDS.items():

    @correct.command(_name, help=_says)
    @together(_TRIAL, *_arguments, on_study, change_options)
    @runs("commands.study_changes.run_correction")
    def correct_one() -> None:
        """Make one correction: the one that the command is called by."""


@correct.command("list")
@_TRIAL
@on_study
@runs("commands.study_changes.run_list")
def list_corrections() -> None:
    """Show the corrections of a trial."""

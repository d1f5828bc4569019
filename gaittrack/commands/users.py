"""``gaittrack users``: who may sign in to a study's screens from other computers."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import click

from gaittrack.commands.options import by_option, on_study, runs
from gaittrack.readable_names import readable

if TYPE_CHECKING:
    from gaittrack.study.store import Study

_PASSWORD: Final[dict[str, Any]] = {"hide_input": True, "confirmation_prompt": True}


@click.group()
def users() -> None:
    """Say who may sign in to a study's screens from other computers."""


@users.command()
@click.argument("name")
@on_study
@click.option(
    "--may",
    "rights",
    multiple=True,
    type=click.Choice(["view", "edit", "export", "administer"]),
    default=["view"],
    show_default=True,
    help="Once for each: edit adds and corrects walks, export takes tables away; each sees "
    "everything, administer holds all.",
)
@by_option
def add(study: Study, name: str, rights: tuple[Any, ...], who: str) -> None:
    """Add the user NAME; asks for a password."""
    from gaittrack.study.upkeep.users import add_user

    word = click.prompt(f"Password for {readable(name)}", **_PASSWORD)
    add_user(study, name, word, rights, who=who)


@users.command()
@click.argument("name")
@on_study
@by_option
def password(study: Study, name: str, who: str) -> None:
    """Give the user NAME a new password and sign them out."""
    from gaittrack.study.upkeep.users import set_password

    word = click.prompt(f"New password for {readable(name)}", **_PASSWORD)
    set_password(study, name, word, who=who)


@users.command()
@click.argument("name")
@on_study
@by_option
@runs("study.upkeep.users.remove_user")
def remove() -> None:
    """Remove the user NAME and sign them out."""


@users.command("list")
@on_study
def list_users(study: Study) -> None:
    """Print the users and what they may do."""
    from gaittrack.study.upkeep.users import RIGHTS, read_users

    for user in read_users(study.folder):
        held = ", ".join(right for right in RIGHTS if right in user.rights)
        click.echo(f"{user.name}: {held}")

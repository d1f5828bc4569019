"""``gaittrack users``: who may sign in to a study's screens from other computers."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

import click

from gaittrack.commands.options import by_option, study_options

_PASSWORD: Final[dict[str, Any]] = {"hide_input": True, "confirmation_prompt": True}


@click.group()
def users() -> None:
    """Say who may sign in to a study's screens from other computers."""


@users.command()
@click.argument("name")
@study_options
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
def add(name: str, folder: Path, url: str | None, rights: tuple[Any, ...], who: str | None) -> None:
    """Add the user NAME; asks for a password."""
    from gaittrack.commands.running import opened
    from gaittrack.study.history import current_user
    from gaittrack.study.upkeep.users import add_user

    with opened(folder, url) as study:
        word = click.prompt(f"Password for {name}", **_PASSWORD)
        add_user(study, name, word, rights, who=who or current_user())


@users.command()
@click.argument("name")
@study_options
@by_option
def password(name: str, folder: Path, url: str | None, who: str | None) -> None:
    """Give the user NAME a new password and sign them out."""
    from gaittrack.commands.running import opened
    from gaittrack.study.history import current_user
    from gaittrack.study.upkeep.users import set_password

    with opened(folder, url) as study:
        word = click.prompt(f"New password for {name}", **_PASSWORD)
        set_password(study, name, word, who=who or current_user())


@users.command()
@click.argument("name")
@study_options
@by_option
def remove(name: str, folder: Path, url: str | None, who: str | None) -> None:
    """Remove the user NAME and sign them out."""
    from gaittrack.commands.running import opened
    from gaittrack.study.history import current_user
    from gaittrack.study.upkeep.users import remove_user

    with opened(folder, url) as study:
        remove_user(study, name, who=who or current_user())


@users.command("list")
@study_options
def list_users(folder: Path, url: str | None) -> None:
    """Print the users and what they may do."""
    from gaittrack.commands.running import opened
    from gaittrack.study.upkeep.users import RIGHTS, read_users

    with opened(folder, url) as study:
        for user in read_users(study.folder):
            held = ", ".join(right for right in RIGHTS if right in user.rights)
            click.echo(f"{user.name}: {held}")

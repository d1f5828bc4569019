"""Commands are stubs over functions that are loaded late: each must be there."""

import inspect
from importlib import import_module

import click
import pytest

from gaittrack.commands import main
from gaittrack.commands.options import runs


def commands_of(group):
    """Yield every command of a group, those of its own groups too."""
    for command in group.commands.values():
        yield from commands_of(command) if isinstance(command, click.Group) else [command]


def target_of(command):
    """Return the function that a stub stands for; None for a command that does it itself."""
    function = command.callback
    while function is not None:
        target = inspect.getclosurevars(function).nonlocals.get("target")
        if target:
            module, _, name = target.rpartition(".")
            return getattr(import_module(f"gaittrack.{module}"), name)
        function = getattr(function, "__wrapped__", None)
    return None


STUBS = {command.name: command for command in commands_of(main) if target_of(command)}


@pytest.mark.parametrize("name", STUBS)
def test_a_stub_asks_for_what_its_function_takes(name):
    """Every option has its parameter; an open study stands in the place of its folder."""
    given = {parameter.name for parameter in STUBS[name].params}
    signature = inspect.signature(target_of(STUBS[name]))
    if "study" in signature.parameters:
        given = given - {"folder", "url"} | {"study"}
    signature.bind(**dict.fromkeys(given))


def test_a_command_ends_with_what_its_function_returns(monkeypatch):
    """The exit code of a stub is that of the function it stands for."""

    def stub():
        """Say nothing but help."""

    function = runs("commands.named_paths.split_name")(stub)
    monkeypatch.setattr("gaittrack.commands.named_paths.split_name", lambda text: int(text))
    command = click.command()(click.argument("text")(function))
    with pytest.raises(SystemExit) as ended:
        command.main(["3"], standalone_mode=False)
    assert ended.value.code == 3

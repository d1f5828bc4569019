"""What messages advise to give, the commands they come from take."""

import re
import tomllib
from pathlib import Path

import click

from gaittrack.__main__ import main

WORDS = Path(__file__).parents[2] / "gaittrack" / "words" / "en"
READING = ("check", "measure", "compare", "import")
"""Commands that read recordings, and say what the readers refuse."""


def commands(group=main, path=()):
    """Yield every command by its words, with its options."""
    for name, command in group.commands.items():
        if isinstance(command, click.Group):
            yield from commands(command, (*path, name))
        else:
            options = {each for one in command.params for each in one.opts if each[:2] == "--"}
            yield " ".join((*path, name)), options | {"--help"}


def sentences():
    """Yield where a sentence stands and what it says."""
    for file in sorted(WORDS.glob("*.toml")):
        for code, said in tomllib.loads(file.read_text("utf-8")).items():
            for text in said.values() if isinstance(said, dict) else [said]:
                for one in text.values() if isinstance(text, dict) else [text]:
                    yield f"{file.stem}: {code}", str(one)


def test_no_message_advises_an_option_that_its_command_lacks():
    """Of a command that is named, its own; of the readers, what all that read recordings have."""
    options = dict(commands())
    known = set().union(*options.values())
    shared = set.intersection(*(options[name] for name in READING))
    wrong, n_advised = [], 0
    for place, text in sentences():
        named = [
            (name, found[2])
            for name in options
            for found in re.finditer(rf"gaittrack ({name})\b([^.;]*)", text)
        ]
        for advised in re.findall(r"--[a-z][a-z-]+", text):
            n_advised += 1
            own = [options[name] for name, rest in named if advised in rest]
            allowed = own[0] if own else shared if place.startswith("errors_read") else known
            if advised not in allowed:
                wrong.append(f"{place}: {advised}")
    assert wrong == []
    assert n_advised > 40

"""A folder of made-up walks, and a way to run commands."""

import pytest
from click.testing import CliRunner

from gaittrack.commands import main
from tests.made_up_files import write_standing, write_walk


@pytest.fixture(scope="session")
def walk_folder(tmp_path_factory):
    """Give a folder with two walks, a standing trial and a text beside them."""
    folder = tmp_path_factory.mktemp("visit")
    write_walk(folder / "walk-1.c3d", seed=1)
    write_walk(folder / "walk-2.c3d", seed=2)
    write_standing(folder / "standing.c3d")
    (folder / "README.md").write_text("Made up.")
    return folder


@pytest.fixture
def run():
    """Give a function that runs ``gaittrack`` with arguments."""
    return lambda *arguments: CliRunner().invoke(main, [str(one) for one in arguments])

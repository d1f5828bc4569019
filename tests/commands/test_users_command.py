"""``gaittrack users``: passwords are asked for, never taken from the command line."""

from click.testing import CliRunner

from gaittrack.commands import main
from gaittrack.study.store import create_study
from gaittrack.study.upkeep.users import matching_user, read_users

PASSWORD = "four words in row"


def typed(arguments, *lines):
    return CliRunner().invoke(main, [str(one) for one in arguments], input="\n".join(lines) + "\n")


def test_adds_lists_changes_and_removes(tmp_path):
    """The whole life of a user; what was typed is not echoed."""
    folder = tmp_path / "study"
    create_study(folder).close()
    at = ("--study", folder)
    add = ("users", "add", "ede", *at, "--may", "edit", "--may", "export")
    done = typed(add, PASSWORD, PASSWORD)
    assert done.exit_code == 0, done.stderr
    assert PASSWORD not in done.output
    assert typed(("users", "list", *at)).stdout == "ede: view, edit, export\n"
    changed = typed(("users", "password", "ede", *at), PASSWORD[::-1], PASSWORD[::-1])
    assert changed.exit_code == 0, changed.stderr
    assert matching_user(read_users(folder), "ede", PASSWORD[::-1])
    assert typed(("users", "remove", "ede", *at)).exit_code == 0
    assert typed(("users", "list", *at)).stdout == ""


def test_wrong_use_changes_nothing(tmp_path):
    """Two different passwords, a short one, no study: nobody is added, and why is told."""
    folder = tmp_path / "study"
    create_study(folder).close()
    add = ("users", "add", "ede", "--study", folder)
    assert typed(add, PASSWORD, PASSWORD[::-1]).exit_code == 1
    short = typed(add, "short", "short")
    assert short.exit_code == 2 and "at least 12" in short.stderr
    assert read_users(folder) == ()
    none = typed(("users", "list", "--study", tmp_path / "nowhere"))
    assert none.exit_code == 2 and "not a study" in none.stderr

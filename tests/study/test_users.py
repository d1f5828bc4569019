"""Who may sign in: kept privately, hashed, changed whole."""

import hashlib
import json
import os

import pytest

from gaittrack.errors import StudyError
from gaittrack.study.history import entries
from gaittrack.study.store import create_study
from gaittrack.study.upkeep import users
from gaittrack.study.upkeep.backups import back_up
from gaittrack.study.upkeep.users import (
    RIGHTS,
    USERS_FILE,
    add_user,
    matching_user,
    read_users,
    remove_user,
    set_password,
)
from gaittrack.study.upkeep.verifying import verify

PASSWORD = "blaue Brücke am Fluss"


@pytest.fixture
def empty(tmp_path):
    """Make an empty study."""
    one = create_study(tmp_path / "study")
    yield one
    one.close()


@pytest.fixture
def study(empty, monkeypatch):
    """Give one whose passwords are hashed in less than the usual time."""
    monkeypatch.setattr(users, "_COST", (2**10, 8, 1))
    return empty


def test_a_user_matches_by_name_and_password_only(study):
    """Capitals of the name do not matter, those of the password do; composed letters are one."""
    assert read_users(study.folder) == ()
    add_user(study, "Ede", PASSWORD, ["edit"], who="tests")
    (ede,) = read_users(study.folder)
    assert ede.rights == {"view", "edit"}
    assert matching_user([ede], "ede", PASSWORD) == ede
    assert matching_user([ede], "Ede", "blaue Bru\u0308cke am Fluss") == ede
    for name, word in (("Ede", PASSWORD.upper()), ("Ede", ""), ("Eda", PASSWORD), ("", "")):
        assert matching_user([ede], name, word) is None


def test_what_is_kept_is_the_scrypt_hash_the_standard_gives(empty):
    """The library's own scrypt, from the stored cost and salt; the password is nowhere."""
    add_user(empty, "ede", PASSWORD, ["edit"], who="tests")
    add_user(empty, "ada", PASSWORD, ["administer"], who="tests")
    text = (empty.folder / USERS_FILE).read_text()
    ede, ada = json.loads(text)["users"]
    n, r, p = ede["cost"]
    assert (n, r, p) >= (2**16, 8, 1)
    salt = bytes.fromhex(ede["salt"])
    again = hashlib.scrypt(PASSWORD.encode(), salt=salt, n=n, r=r, p=p, maxmem=2**29, dklen=32)
    assert again.hex() == ede["digest"]
    assert len(salt) == 16 and ede["salt"] != ada["salt"] and ede["digest"] != ada["digest"]
    assert set(ada["rights"]) == set(RIGHTS)
    assert "Brücke" not in text + (empty.folder / "study.db").read_bytes().decode("latin-1")
    if os.name == "posix":
        assert (empty.folder / USERS_FILE).stat().st_mode & 0o777 == 0o600


def test_changes_are_refused_whole_and_told_in_the_history(study):
    """Twice the same name, a short password, no such user: nothing changes."""
    add_user(study, "ede", PASSWORD, ["view"], who="lead")
    before = read_users(study.folder)
    for change, words in (
        (lambda: add_user(study, "EDE", PASSWORD, ["view"], who="x"), "a user of that name"),
        (lambda: add_user(study, "new", "too short", ["view"], who="x"), "at least 12"),
        (lambda: add_user(study, "a\nb", PASSWORD, ["view"], who="x"), "1 to 64"),
        (lambda: set_password(study, "ede", "short", who="x"), "at least 12"),
        (lambda: set_password(study, "eda", PASSWORD, who="x"), "no such user"),
        (lambda: remove_user(study, "eda", who="x"), "no such user"),
    ):
        with pytest.raises(StudyError, match=words):
            change()
        assert read_users(study.folder) == before
    set_password(study, "ede", PASSWORD + "!", who="lead")
    remove_user(study, "ede", who="lead")
    assert read_users(study.folder) == ()
    with study.read() as connection:
        told = [(one["what"], one["who"]) for one in entries(connection)]
    assert told == [(what, "lead") for what in ("add user", "set password", "remove user")]


NO_COST = {"name": "a", "rights": [], "cost": [2], "salt": "", "digest": ""}
DAMAGED = ({}, {"version": 2, "users": []}, {"version": 1, "users": [{"name": "a"}]})


@pytest.mark.parametrize(
    "text", ["", "[]", *map(json.dumps, DAMAGED), json.dumps({"version": 1, "users": [NO_COST]})]
)
def test_a_damaged_file_lets_nobody_in_and_says_so(study, text):
    """It is never read as "no users", nor in part."""
    (study.folder / USERS_FILE).write_text(text)
    (study.folder / USERS_FILE).chmod(0o600)
    with pytest.raises(StudyError, match="damaged"):
        read_users(study.folder)


@pytest.mark.skipif(os.name != "posix", reason="rights of files are other there")
def test_a_file_that_others_can_read_is_refused(study):
    """Whoever could read the hashes could try them at leisure."""
    add_user(study, "ede", PASSWORD, ["view"], who="tests")
    (study.folder / USERS_FILE).chmod(0o640)
    with pytest.raises(StudyError, match="chmod 600"):
        read_users(study.folder)


def test_users_stay_where_the_study_is_served(study, tmp_path):
    """A backup holds none of them, and a check of the study does not mind the file."""
    add_user(study, "ede", PASSWORD, ["view"], who="tests")
    back_up(study, tmp_path / "backup")
    assert read_users(tmp_path / "backup") == ()
    assert verify(study) == []

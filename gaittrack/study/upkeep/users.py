"""Who may use a study's screens over a network: names, rights and hashed passwords.

In come a study and what somebody typed, out comes a changed private file in the study's folder, or
the answer whether a password is right. Passwords are kept as scrypt hashes only. Backups of a study
leave the file out: it belongs to the place where the study is served.
"""

from __future__ import annotations

import hashlib
import hmac
import json
import os
import re
import secrets
import unicodedata
from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final, Literal, get_args

from gaittrack.atomic_write import write_text_atomically
from gaittrack.errors import StudyError
from gaittrack.study.history import record
from gaittrack.study.originals import PRIVATE_FILE
from gaittrack.study.store import Study, explained

USERS_FILE: Final = "users.json"
Right = Literal["view", "edit", "export", "administer"]
RIGHTS: Final[tuple[Right, ...]] = get_args(Right)
"""view: see everything; edit: add and correct as well; export: take tables away as well, not edit;
administer: all of it, and what concerns the whole laboratory."""
FEWEST_CHARACTERS: Final = 12
"""Of a password; own choice."""
MOST_CHARACTERS: Final = 1000
_COST: Final = (2**16, 8, 2)
"""n, r, p of scrypt: 64 MB and some tenths of a second for each try; own choice."""
_MEMORY_BYTES: Final = 512 * 1024 * 1024
_FILE_VERSION: Final = 1
_NAME: Final = re.compile(r"[\w.@-](?:[\w.@ -]{0,62}[\w.@-])?")


@dataclass(frozen=True, slots=True)
class User:
    """Somebody who may sign in.

    Attributes
    ----------
    cost : tuple of int
        n, r and p of scrypt.
    salt, digest : str
        Hexadecimal.
    """

    name: str
    rights: frozenset[Right]
    cost: tuple[int, int, int]
    salt: str
    digest: str


def read_users(folder: Path) -> tuple[User, ...]:
    """Return the users of a study, by name; none where nobody was added.

    Parameters
    ----------
    folder : Path
        The study's.

    Raises
    ------
    StudyError
        The file is damaged, or others than its owner may read it.
    """
    path = folder / USERS_FILE
    with explained(folder):
        if not path.is_file():
            return ()
        if os.name == "posix" and path.stat().st_mode & 0o077:
            raise StudyError.of("others_than_owner_may_read", where=path)
        content = path.read_bytes()
    try:
        found = json.loads(content)
        if found["version"] != _FILE_VERSION:
            raise ValueError(f"version {found['version']}")
        return tuple(_user(entry) for entry in found["users"])
    except (ValueError, LookupError, TypeError, OverflowError, RecursionError) as error:
        raise StudyError.of("file_users_damaged_newer_version", where=path) from error


def _user(entry: dict[str, Any]) -> User:
    rights = frozenset(right for right in RIGHTS if right in entry["rights"])
    n, r, p = (int(number) for number in entry["cost"])
    bytes.fromhex(entry["salt"])
    bytes.fromhex(entry["digest"])
    return User(str(entry["name"]), rights, (n, r, p), entry["salt"], entry["digest"])


def add_user(
    study: Study, name: str, password: str, rights: Collection[Right], *, who: str
) -> None:
    """Add somebody.

    Parameters
    ----------
    name : str
        1 to 64 letters, digits, spaces and ``. _ - @``.
    rights : collection of Right
        Seeing is part of each; administering holds all.
    who : str
        For the history.

    Raises
    ------
    StudyError
        The name is taken or no name, or the password is too short.
    """
    if not _NAME.fullmatch(name):
        raise StudyError.of("not_a_user_name", where="name")
    held = frozenset(RIGHTS) if "administer" in rights else frozenset({"view", *rights})
    user = _with_password(User(name, held, _COST, "", ""), password)
    with study.write() as connection:
        there = read_users(study.folder)
        if user_named(there, name) is not None:
            raise StudyError.of("user_name_taken", where=name)
        after = {"user": name, "rights": sorted(held)}
        record(connection, "add user", who=who, after=after)
        _keep(study.folder, (*there, user))


def set_password(study: Study, name: str, password: str, *, who: str) -> None:
    """Give somebody a new password; whoever is signed in with the old one is signed out.

    Raises
    ------
    StudyError
        There is no such user, or the password is too short.
    """
    with study.write() as connection:
        there = read_users(study.folder)
        old = _known(there, name)
        new = _with_password(old, password)
        record(connection, "set password", who=who, after={"user": name})
        _keep(study.folder, [new if user == old else user for user in there])


def remove_user(study: Study, name: str, *, who: str) -> None:
    """Remove somebody; they are signed out at once.

    Raises
    ------
    StudyError
        There is no such user.
    """
    with study.write() as connection:
        there = read_users(study.folder)
        gone = _known(there, name)
        record(connection, "remove user", who=who, before={"user": name})
        _keep(study.folder, [user for user in there if user != gone])


def matching_user(users: Iterable[User], name: str, password: str) -> User | None:
    """Return the user whose name and password were typed, else None.

    A name that nobody has costs as much time as a wrong password.
    """
    user = user_named(users, name)
    against = user or User("", frozenset(), _COST, "00" * 16, "00" * 32)
    digest = _digest(password[:MOST_CHARACTERS], against)
    is_right = hmac.compare_digest(digest, bytes.fromhex(against.digest))
    return user if is_right else None


def user_named(users: Iterable[User], name: str) -> User | None:
    """Return the user of a name, however its letters are written; None if nobody has it."""
    wanted = unicodedata.normalize("NFC", name).casefold()
    found = (u for u in users if unicodedata.normalize("NFC", u.name).casefold() == wanted)
    return next(found, None)


def _known(users: Iterable[User], name: str) -> User:
    user = user_named(users, name)
    if user is None:
        raise StudyError.of("no_such_user", where=name)
    return user


def _with_password(user: User, password: str) -> User:
    if not FEWEST_CHARACTERS <= len(password) <= MOST_CHARACTERS:
        raise StudyError.of(
            "password_least_characters", where="password", fewest_characters=FEWEST_CHARACTERS
        )
    salted = replace(user, cost=_COST, salt=secrets.token_hex(16))
    return replace(salted, digest=_digest(password, salted).hex())


def _digest(password: str, user: User) -> bytes:
    n, r, p = user.cost
    typed = unicodedata.normalize("NFC", password).encode()
    salt = bytes.fromhex(user.salt)
    return hashlib.scrypt(typed, salt=salt, n=n, r=r, p=p, maxmem=_MEMORY_BYTES, dklen=32)


def _keep(folder: Path, users: Iterable[User]) -> None:
    entries = [
        {
            "name": user.name,
            "rights": [right for right in RIGHTS if right in user.rights],
            "cost": user.cost,
            "salt": user.salt,
            "digest": user.digest,
        }
        for user in users
    ]
    text = json.dumps({"version": _FILE_VERSION, "users": entries}, indent=2) + "\n"
    with explained(folder):
        write_text_atomically(folder / USERS_FILE, text, mode=PRIVATE_FILE)

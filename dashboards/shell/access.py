"""Who is at the screen, and what they may do.

In comes a request that the doors let through, out comes its :class:`Visitor`. Every callback that
reads or changes the study asks here again; nothing a browser sends is trusted.
"""

from __future__ import annotations

import logging
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Final

from flask import g, has_request_context, request
from sqlalchemy import Connection

from gaittrack.errors import GaitTrackError
from gaittrack.study.store import Study
from gaittrack.study.upkeep.users import Right

LOG: Final = logging.getLogger("gaittrack.dashboard")


class NotAllowedError(GaitTrackError):
    """Somebody asked for what their role does not allow."""


@dataclass(frozen=True, slots=True)
class Visitor:
    """Somebody who came through the doors.

    Attributes
    ----------
    name : str
        For the history.
    """

    name: str
    rights: frozenset[Right]


def visitor() -> Visitor:
    """Return who makes the request that is being answered.

    Raises
    ------
    NotAllowedError
        Nobody came through the doors.
    """
    found = g.get("visitor")
    if not isinstance(found, Visitor):
        raise NotAllowedError.of("nobody_signed_in", where="request")
    return found


def require(right: Right) -> Visitor:
    """Return the visitor, who must have a right.

    Raises
    ------
    NotAllowedError
        They have not.
    """
    someone = visitor()
    if right not in someone.rights:
        raise NotAllowedError.of(
            "right_is_missing", where="request", name=someone.name, right=right
        )
    return someone


class AskingStudy(Study):
    """A study in which a screen that forgot to ask for a right changes nothing for a viewer."""

    __slots__ = ()

    @contextmanager
    def write(self) -> Iterator[Connection]:
        """Give a connection for changes, to a visitor who may change anything at all.

        Raises
        ------
        NotAllowedError
            The visitor may only look.
        """
        if has_request_context() and visitor().rights <= {"view"}:
            require("edit")
        with Study.write(self) as connection:
            yield connection


def caller() -> str:
    """Return the network address that the request came from."""
    return request.remote_addr or "nowhere"


def log_event(what: str, name: str) -> None:
    """Log what somebody did or was refused: who, from where; no code of a person."""
    LOG.info("%s: %s from %s", what, name, caller())

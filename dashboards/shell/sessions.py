"""Who came through the doors and is still there: sessions, and the patience with wrong passwords.

In come names that were let in, out come secrets for their cookies, and back. All of it lives in
this process only: ending it ends every session.
"""

from __future__ import annotations

import math
import secrets
import threading
import time
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Final

from dashboards.shell.access import Visitor
from gaittrack.study.upkeep.users import User

IDLE_S: Final = 30 * 60.0
WHOLE_S: Final = 8 * 3600.0
"""How long a session lasts without a request, and at all; own choice."""
FREE_TRIES: Final = 5
LONGEST_WAIT_S: Final = 300.0
"""Wrong passwords before a name has to wait, twice as long each time; own choice."""
MOST_NAMES: Final = 10_000


@dataclass(slots=True)
class Session:
    """One browser that was let in.

    Attributes
    ----------
    user : User or None
        As they were at sign-in; None for the only visitor of this computer.
    looked_at : set of int
        People whose screens were noted in the history.
    """

    visitor: Visitor
    user: User | None
    started_s: float
    seen_s: float
    looked_at: set[int] = field(default_factory=set)


class Sessions:
    """Sessions by the secret in their cookie.

    Parameters
    ----------
    now : callable
        The clock, in seconds; it goes on while the computer sleeps.
    """

    def __init__(self, now: Callable[[], float] = time.time) -> None:
        self._now = now
        self._lock = threading.Lock()
        self._held: dict[str, Session] = {}

    def start(self, visitor: Visitor, user: User | None) -> str:
        """Begin a session and return its secret."""
        secret = secrets.token_urlsafe(32)
        now = self._now()
        with self._lock:
            self._held = {key: one for key, one in self._held.items() if not _is_over(one, now)}
            self._held[secret] = Session(visitor, user, now, now)
        return secret

    def find(self, secret: str) -> Session | None:
        """Return the session and keep it awake; None when there is none or it is over."""
        now = self._now()
        with self._lock:
            session = self._held.get(secret)
            if session is None:
                return None
            if _is_over(session, now):
                del self._held[secret]
                return None
            session.seen_s = now
            return session

    def end(self, secret: str) -> None:
        """Forget a session."""
        with self._lock:
            self._held.pop(secret, None)


def _is_over(session: Session, now: float) -> bool:
    """Tell whether a session has run out; that of this computer's only visitor does not.

    Whoever sits at this computer can read the study's files and start the dashboard anew, and the
    printed address lets in as long as the program runs: a limit would keep nobody out. Ending the
    program ends the session; a locked screen is what guards it meanwhile.
    """
    if session.user is None:
        return False
    return now - session.seen_s > IDLE_S or now - session.started_s > WHOLE_S


class Patience:
    """How long a name has to wait after wrong passwords, whether or not anybody has the name."""

    def __init__(self, now: Callable[[], float] = time.time) -> None:
        self._now = now
        self._lock = threading.Lock()
        self._failures: dict[str, tuple[int, float]] = {}

    def wait_s(self, name: str) -> int:
        """Return how many whole seconds are still to wait; 0 to try at once."""
        with self._lock:
            n_failures, last_s = self._failures.get(_plain(name), (0, 0.0))
        if n_failures < FREE_TRIES:
            return 0
        wait_s = min(2.0 ** min(n_failures, 60), LONGEST_WAIT_S)
        return max(0, math.ceil(last_s + wait_s - self._now()))

    def failed(self, name: str) -> None:
        """Count a wrong password."""
        key = _plain(name)
        with self._lock:
            n_failures, _ = self._failures.pop(key, (0, 0.0))
            self._failures[key] = (n_failures + 1, self._now())
            while len(self._failures) > MOST_NAMES:
                del self._failures[next(iter(self._failures))]

    def succeeded(self, name: str) -> None:
        """Forget the wrong passwords of a name."""
        with self._lock:
            self._failures.pop(_plain(name), None)


def _plain(name: str) -> str:
    return unicodedata.normalize("NFC", name).casefold()[:200]

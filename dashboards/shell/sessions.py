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
FREE_OF_ADDRESS: Final = 20
"""Wrong passwords before a name at an address has to wait, and an address with any names."""
FIRST_WAIT_S: Final = 30.0
LONGEST_WAIT_S: Final = 300.0
"""The wait, twice as long each time; own choice."""
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

    def knows(self, secret: str) -> bool:
        """Tell whether there is such a session, without keeping it awake."""
        with self._lock:
            return secret in self._held

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
    """How long somebody has to wait after wrong passwords, whether or not anybody has the name.

    Counted is a name at an address, and an address with whatever names: nobody locks out a person
    who signs in elsewhere. A browser in which that person signed in before is counted by itself.
    A try is counted before the password is looked at, so that many at once get no more tries.
    """

    def __init__(self, now: Callable[[], float] = time.time) -> None:
        self._now = now
        self._lock = threading.Lock()
        self._tries: dict[str, tuple[int, float]] = {}

    def take(self, name: str, address: str, browser: str = "") -> int:
        """Count a try and return 0, or return how many whole seconds are still to wait.

        Parameters
        ----------
        browser : str
            Proven: this name signed in there before.
        """
        counted = _counted(name, address, browser)
        with self._lock:
            wait_s = max(self._wait_s(key, free) for key, free in counted.items())
            if wait_s == 0:
                for key in counted:
                    n_tries, _ = self._tries.pop(key, (0, 0.0))
                    self._tries[key] = (n_tries + 1, self._now())
                while len(self._tries) > MOST_NAMES:
                    del self._tries[next(iter(self._tries))]
        return wait_s

    def forget(self, name: str, address: str, browser: str = "") -> None:
        """Forget the tries: this one was right."""
        with self._lock:
            for key in _counted(name, address, browser):
                self._tries.pop(key, None)

    def give_back(self, name: str, address: str, browser: str = "") -> None:
        """Do not count a try: its password was not looked at."""
        with self._lock:
            for key in _counted(name, address, browser):
                n_tries, last_s = self._tries.get(key, (0, 0.0))
                self._tries[key] = (max(0, n_tries - 1), last_s)

    def _wait_s(self, key: str, free: int) -> int:
        n_tries, last_s = self._tries.get(key, (0, 0.0))
        if n_tries < free:
            return 0
        wait_s = min(FIRST_WAIT_S * 2.0 ** min(n_tries - free, 60), LONGEST_WAIT_S)
        return max(0, math.ceil(last_s + wait_s - self._now()))


def _counted(name: str, address: str, browser: str) -> dict[str, int]:
    """Return what a try is counted by, and how many are free of each."""
    if browser:
        return {f"browser {browser}": FREE_TRIES}
    return {f"name {_plain(name)} at {address}": FREE_TRIES, f"address {address}": FREE_OF_ADDRESS}


def _plain(name: str) -> str:
    return unicodedata.normalize("NFC", name).casefold()[:200]

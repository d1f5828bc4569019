"""Signing in and out by name and password, for screens that are served to other computers.

In come forms, out go pages and sessions. Wrong passwords cost patience, two people at a time are
checked, and both signing in and out stand in the study's history. Whoever signed in is known by
their browser as long as the server runs: strangers' wrong passwords do not make them wait.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
import threading
from typing import Final

from flask import abort, redirect, request
from werkzeug.wrappers import Response as AnyResponse

from dashboards.shell.access import Visitor, caller, log_event
from dashboards.shell.place import Doors
from dashboards.shell.plain_pages import sign_in_form
from dashboards.shell.sessions import Patience
from gaittrack.study.history import record
from gaittrack.study.store import Study
from gaittrack.study.upkeep.users import User, matching_user, read_users, user_named

SIGN_IN: Final = "/sign-in"
SIGN_OUT: Final = "/sign-out"
_AT_ONCE: Final = 2
"""Passwords checked at the same time: each takes 64 MB and a core."""
_LONGEST_QUEUE_S: Final = 3.0
_WRONG: Final = (
    "Name and password do not belong together. The name is kept: try the password again."
)


class SignIn:
    """The sign-in of one server."""

    def __init__(self, study: Study, doors: Doors) -> None:
        self._study = study
        self._doors = doors
        self._patience = Patience()
        self._checking = threading.BoundedSemaphore(_AT_ONCE)
        self._key = secrets.token_bytes(32)

    def answer(self) -> AnyResponse:
        """Answer a request for the sign-in page."""
        if request.method == "GET":
            return self._form()
        if request.method != "POST":
            abort(405)
        cookie = request.cookies.get(self._form_cookie, "")
        given = request.form.get("form", "")
        if not cookie or not hmac.compare_digest(given.encode(), self._proof(cookie).encode()):
            return self._form("The form was out of date. Try again.", 403)
        return self._try(request.form.get("name", "").strip(), request.form.get("password", ""))

    def leave(self, visitor: Visitor) -> AnyResponse:
        """End the session of the request and go back to the form."""
        self._doors.sessions.end(request.cookies.get(self._doors.cookie_name, ""))
        log_event("sign out", visitor.name)
        self._note("sign out", visitor.name)
        answer = redirect(SIGN_IN, 303)
        answer.delete_cookie(self._doors.cookie_name, secure=self._doors.is_secure)
        answer.headers["Clear-Site-Data"] = '"storage"'  # who was chosen in this browser
        return answer

    def _try(self, name: str, password: str) -> AnyResponse:
        tried = (name, caller(), self._proven_browser(name))
        wait_s = self._patience.take(*tried)
        if wait_s:
            self._log("sign-in has to wait", name)
            wait = f"Too many wrong passwords. Try again in {wait_s} seconds."
            return self._form(wait, 429, name=name)
        if not self._checking.acquire(timeout=_LONGEST_QUEUE_S):
            self._patience.give_back(*tried)
            return self._form("Many are signing in at this moment. Try again.", 429, name=name)
        try:
            user = matching_user(read_users(self._study.folder), name, password)
        finally:
            self._checking.release()
        if user is None:
            self._log("sign-in refused", name)
            return self._form(_WRONG, 401, name=name)
        self._patience.forget(*tried)
        return self._let_in(user)

    def _let_in(self, user: User) -> AnyResponse:
        self._log("sign in", user.name)
        self._note("sign in", user.name)
        secret = self._doors.sessions.start(Visitor(user.name, user.rights), user)
        answer = self._doors.let_in(redirect("/", 303), secret)
        mark = secrets.token_urlsafe(16)
        self._set_cookie(answer, self._browser_cookie, f"{mark}.{self._proof(mark, user.name)}")
        return answer

    def _proven_browser(self, name: str) -> str:
        """Return the mark of a browser in which this name signed in before, else ""."""
        mark, _, proof = request.cookies.get(self._browser_cookie, "").partition(".")
        user = user_named(read_users(self._study.folder), name)
        wanted = self._proof(mark, user.name if user else "")
        return mark if user and hmac.compare_digest(proof.encode(), wanted.encode()) else ""

    def _log(self, what: str, name: str) -> None:
        """Log who and from where; a name that nobody has may be a password, and is not told."""
        user = user_named(read_users(self._study.folder), name)
        log_event(what, user.name if user else "a name that nobody has")

    def _note(self, what: str, who: str) -> None:
        with self._study.write() as connection:
            record(connection, what, who=who, after={"address": caller()})

    @property
    def _form_cookie(self) -> str:
        return f"{self._doors.cookie_name}-form"

    @property
    def _browser_cookie(self) -> str:
        return f"{self._doors.cookie_name}-browser"

    def _proof(self, mark: str, name: str = "") -> str:
        return hmac.new(self._key, f"{name}\n{mark}".encode(), hashlib.sha256).hexdigest()

    def _form(self, warning: str = "", status: int = 200, *, name: str = "") -> AnyResponse:
        cookie = request.cookies.get(self._form_cookie) or secrets.token_urlsafe(16)
        proof = self._proof(cookie)
        answer = sign_in_form(SIGN_IN, proof, name=name, warning=warning, status=status)
        self._set_cookie(answer, self._form_cookie, cookie)
        return answer

    def _set_cookie(self, answer: AnyResponse, name: str, value: str) -> None:
        answer.set_cookie(
            name, value, httponly=True, samesite="Strict", secure=self._doors.is_secure
        )

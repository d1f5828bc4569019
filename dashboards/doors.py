"""The doors of the web server: who gets in, from where, and what every answer carries.

In comes a Flask server, out goes the same server with checks before each request and headers after.
"""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

from flask import Flask, Response, abort, g, redirect, request
from werkzeug.wrappers import Response as AnyResponse

from dashboards.access import RIGHTS, Visitor

COOKIE: Final = "gaittrack"
START: Final = "/start"
"""The opened address: ``/start?token=…``; it is forgotten at once by a redirect."""
MOST_UPLOAD_BYTES: Final = 300 * 1024 * 1024


@dataclass(frozen=True, slots=True)
class Doors:
    """How the server may be reached.

    Attributes
    ----------
    who : str
        Name of the only visitor, for the history.
    token : str
        Opens the door once per browser.
    """

    who: str
    token: str = field(default_factory=lambda: secrets.token_urlsafe(32), repr=False)


def hang(server: Flask, doors: Doors, script_hashes: Sequence[str]) -> None:
    """Put the doors in.

    Parameters
    ----------
    server : Flask
    doors : Doors
    script_hashes : sequence of str
        Of the page's own inline scripts.
    """
    session = secrets.token_urlsafe(32)
    policy = content_policy(script_hashes)
    server.config["MAX_CONTENT_LENGTH"] = MOST_UPLOAD_BYTES

    @server.before_request
    def let_in() -> AnyResponse | None:
        if request.path == START:
            if not hmac.compare_digest(request.args.get("token", ""), doors.token):
                abort(403)
            answer = redirect("/")
            answer.set_cookie(COOKIE, session, httponly=True, samesite="Strict")
            return answer
        if not hmac.compare_digest(request.cookies.get(COOKIE, ""), session):
            abort(403)
        g.visitor = Visitor(doors.who, frozenset(RIGHTS))
        return None

    @server.after_request
    def close_up(response: Response) -> Response:
        response.headers["Content-Security-Policy"] = policy
        response.headers["X-Content-Type-Options"] = "nosniff"
        response.headers["Referrer-Policy"] = "no-referrer"
        response.headers["Cache-Control"] = "no-store"
        return response


def content_policy(script_hashes: Sequence[str]) -> str:
    """Return the content security policy: nothing from elsewhere, no inline script but our own."""
    scripts = " ".join(["'self'", *script_hashes])
    return (
        f"default-src 'none'; script-src {scripts}; style-src 'self' 'unsafe-inline'; "
        "img-src 'self' data: blob:; font-src 'self' data:; connect-src 'self'; "
        "worker-src 'self' blob:; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    )

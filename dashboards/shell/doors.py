"""The doors of the web server: who gets in, from where, and what every answer carries.

In comes a Flask server, out goes the same server with checks before each request and headers after.
On this computer alone a secret in the opened address lets in; elsewhere a name and a password do.
"""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Sequence
from datetime import datetime
from typing import Final

from flask import Flask, Request, Response, abort, g, redirect, request
from werkzeug.exceptions import HTTPException
from werkzeug.wrappers import Response as AnyResponse

from dashboards.parts.dash_private import SUITES, UPDATE
from dashboards.shell.access import LOG, NotAllowedError, Visitor
from dashboards.shell.place import Doors
from dashboards.shell.plain_pages import REFUSALS, STYLE, page, refusal
from dashboards.shell.sessions import Session
from dashboards.shell.sign_in import SIGN_IN, SIGN_OUT, SignIn
from gaittrack.errors import GaitTrackError
from gaittrack.study.store import Study
from gaittrack.study.upkeep.users import RIGHTS, read_users

START: Final = "/start"
"""The opened address: ``/start?token=…``; the page goes on at once, so that it is not kept."""
UPLOAD: Final = "/upload"
"""Beginning of the addresses that take files."""
MOST_UPLOAD_BYTES: Final = 300 * 1024 * 1024
MOST_UPDATE_BYTES: Final = 8 * 1024 * 1024
MOST_FORM_BYTES: Final = 16 * 1024
_PROGRAM: Final = (SUITES, "/assets/")
"""Scripts and styles, the only answers that a browser may keep."""


def hang(server: Flask, doors: Doors, study: Study, script_hashes: Sequence[str]) -> None:
    """Put the doors in.

    Parameters
    ----------
    script_hashes : sequence of str
        Of the page's own inline scripts.
    """
    policy = content_policy(script_hashes)
    server.config.update(MAX_CONTENT_LENGTH=MOST_UPLOAD_BYTES, MAX_FORM_MEMORY_SIZE=MOST_FORM_BYTES)
    signing_in = SignIn(study, doors)

    @server.before_request
    def let_in() -> AnyResponse | None:
        refuse_strange_host(request, doors.hosts)
        refuse_foreign(request, doors)
        refuse_wrong_content(request)
        if request.path == STYLE:
            return None
        if request.path == SIGN_IN and doors.signs_in:
            return signing_in.answer()
        if request.path == START and not doors.signs_in:
            return _start(doors)
        session = _session(doors, study)
        if session is None:
            return _turned_away(doors)
        if request.path == SIGN_OUT and doors.signs_in and request.method == "POST":
            return signing_in.leave(session.visitor)
        g.visitor, g.session = session.visitor, session
        return None

    @server.after_request
    def close_up(response: Response) -> Response:
        for name, value in HEADERS.items():
            response.headers[name] = value
        if doors.scheme == "https":
            response.headers["Strict-Transport-Security"] = f"max-age={HTTPS_ONLY_S}"
        response.headers.setdefault("Content-Security-Policy", policy)
        if response.status_code >= 400 or not request.path.startswith(_PROGRAM):
            response.headers["Cache-Control"] = "no-store"
        return response

    server.register_error_handler(HTTPException, _say_refusal)
    server.register_error_handler(Exception, _say_failure)


HTTPS_ONLY_S: Final = 365 * 24 * 3600
"""How long a browser that came once asks here by TLS only: a year, as OWASP proposes."""
HEADERS: Final = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}


def refuse_strange_host(asked: Request, hosts: frozenset[str]) -> None:
    """Refuse a request for another host: a foreign name may point at this computer."""
    if asked.environ.get("HTTP_HOST", "").lower() not in hosts:
        abort(403, "This server does not answer to that name. Open the address that was printed.")


def refuse_foreign(asked: Request, doors: Doors) -> None:
    """Refuse what another site's page sends: all but a plain link to here.

    Every request that may change something must say that it comes from these pages.
    """
    site = asked.headers.get("Sec-Fetch-Site")
    origin = asked.headers.get("Origin")
    only_reads = asked.method in ("GET", "HEAD")
    if site not in (None, "same-origin", "none"):
        if not only_reads or asked.headers.get("Sec-Fetch-Mode") != "navigate":
            abort(403, "A page of another site asked for this. Nothing was done.")
    if only_reads:
        return
    own = {f"{doors.scheme}://{host}" for host in doors.hosts}
    hidden = origin in (None, "null") and site == "same-origin"
    if not hidden and (origin or "").lower() not in own:
        abort(403, "It cannot be seen that one of these pages asked for this. Nothing was done.")


def refuse_wrong_content(asked: Request) -> None:
    """Refuse bodies that are too large for their address, and callbacks that are not JSON."""
    most = MOST_FORM_BYTES
    if asked.path.startswith(UPLOAD):
        most = MOST_UPLOAD_BYTES
    elif asked.path == UPDATE:
        most = MOST_UPDATE_BYTES
        if asked.method == "POST" and asked.mimetype != "application/json":
            abort(415)
    asked.max_content_length = most
    if (asked.content_length or 0) > most:
        abort(413)


def _start(doors: Doors) -> AnyResponse:
    given = request.args.get("token", "")
    if not hmac.compare_digest(given.encode(), doors.token.encode()):
        abort(403, "Open the whole address that gaittrack printed when it was started.")
    secret = doors.sessions.start(Visitor(doors.who, frozenset(RIGHTS)), None)
    # The next page is asked for by this one: a redirect would carry on the start from elsewhere,
    # and browsers then hold the cookie back.
    onward = page(
        "Opening", "The study opens.", head='<meta http-equiv="refresh" content="0;url=/">'
    )
    return doors.let_in(onward, secret)


def _session(doors: Doors, study: Study) -> Session | None:
    secret = request.cookies.get(doors.cookie_name, "")
    session = doors.sessions.find(secret)
    if session is None or session.user is None:
        return session
    if session.user not in read_users(study.folder):
        doors.sessions.end(secret)
        return None
    return session


def _turned_away(doors: Doors) -> AnyResponse:
    is_page = request.method == "GET" and request.headers.get("Sec-Fetch-Dest") != "empty"
    if doors.signs_in:
        return redirect(SIGN_IN) if is_page else refusal(401, "You are signed out.")
    words = "Open the address that gaittrack printed when it was started."
    return refusal(403 if is_page else 401, words)


def _say_refusal(error: HTTPException) -> AnyResponse:
    if error.response is not None:
        return error.get_response()
    own = type(error).description != error.description
    return refusal(error.code or 500, str(error.description) if own else "")


def _say_failure(error: Exception) -> AnyResponse:
    """Say what can be said; what was not foreseen goes to the log without its words or names."""
    if isinstance(error, GaitTrackError):
        return refusal(403 if isinstance(error, NotAllowedError) else 400, str(error))
    return refusal(500, noted(error))


def noted(error: Exception) -> str:
    """Note in the log what was not foreseen, without its words or names; return what to say."""
    entry = secrets.token_hex(2)
    LOG.error("unforeseen %s in %s, entry %s", type(error).__name__, place_of(error), entry)
    when = f"{datetime.now():%H:%M:%S}"
    return f"{REFUSALS[500]} For whoever looks after the machine: {when}, entry {entry}."


def place_of(error: Exception) -> str:
    """Return function and line where an error arose: no value, no name of a person."""
    place = error.__traceback__
    while place is not None and place.tb_next is not None:
        place = place.tb_next
    return "" if place is None else f"{place.tb_frame.f_code.co_name}:{place.tb_lineno}"


def content_policy(script_hashes: Sequence[str]) -> str:
    """Return the content security policy: nothing from elsewhere, no inline script but our own."""
    scripts = " ".join(["'self'", *script_hashes])
    return (
        f"default-src 'none'; script-src {scripts}; style-src 'self' 'unsafe-inline'; "
        "img-src 'self' data: blob:; font-src 'self' data:; connect-src 'self'; "
        "worker-src 'self' blob:; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    )

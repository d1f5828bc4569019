"""Where the server stands and how it may be reached from there.

In come the options of the command line, out come the :class:`Doors`, or a refusal that says what a
server that others can reach needs first.
"""

from __future__ import annotations

import ipaddress
import secrets
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from werkzeug.http import parse_cookie
from werkzeug.wrappers import Response as AnyResponse

from dashboards.shell.sessions import Sessions
from gaittrack.errors import GaitTrackError
from gaittrack.study.history import current_user
from gaittrack.study.upkeep.users import USERS_FILE, read_users

LOOPBACK: Final = "127.0.0.1"
_USUAL_PORTS: Final = {"http": 80, "https": 443}


class PlaceError(GaitTrackError):
    """The server cannot stand there, or not like that."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where the server listens, as asked for.

    Attributes
    ----------
    host : str
        Name or address of an interface of this computer.
    port : int
        0 takes a free one.
    names : tuple of str
        What people write in the browser, with the port where it is not the usual one.
    certificate, key : Path or None
        Of TLS.
    is_behind_proxy : bool
        A proxy with TLS stands in front.
    signs_in : bool
        Names and passwords, also on this computer.
    """

    host: str = LOOPBACK
    port: int = 8050
    names: tuple[str, ...] = ()
    certificate: Path | None = None
    key: Path | None = None
    is_behind_proxy: bool = False
    signs_in: bool = False

    @property
    def is_loopback(self) -> bool:
        """Whether only this computer can reach it."""
        if self.host == "localhost":
            return True
        try:
            return ipaddress.ip_address(self.host).is_loopback
        except ValueError:
            return False

    @property
    def is_secure(self) -> bool:
        """Whether browsers come by TLS."""
        return self.is_behind_proxy or self.certificate is not None


@dataclass(frozen=True, slots=True)
class Doors:
    """How the server may be reached.

    Attributes
    ----------
    hosts : frozenset of str
        The exact ``Host`` headers that are answered, port included.
    who : str
        Name of this computer's only visitor, for the history.
    signs_in : bool
        Whether names and passwords are asked for; then there is no token.
    is_secure : bool
        Whether browsers come by TLS, here or at a proxy.
    token : str
        Lets in as long as this process runs.
    tag : str
        Of this process' cookies, as browsers share cookies between ports.
    """

    hosts: frozenset[str]
    who: str = ""
    signs_in: bool = False
    is_secure: bool = False
    token: str = field(default_factory=lambda: secrets.token_urlsafe(32), repr=False)
    sessions: Sessions = field(default_factory=Sessions, repr=False)
    tag: str = field(default_factory=lambda: secrets.token_hex(4))

    @property
    def scheme(self) -> str:
        """What the browser's address begins with."""
        return "https" if self.is_secure else "http"

    @property
    def cookie_name(self) -> str:
        """Of a session."""
        return f"{'__Host-' if self.is_secure else ''}gaittrack-{self.tag}"

    def is_cookie_known(self, header: str) -> bool:
        """Tell whether a ``Cookie`` header holds the secret of a session, awake or run out."""
        return self.sessions.knows(parse_cookie(header).get(self.cookie_name, ""))

    def let_in(self, answer: AnyResponse, secret: str) -> AnyResponse:
        """Put a session's secret into an answer."""
        answer.set_cookie(
            self.cookie_name, secret, httponly=True, samesite="Strict", secure=self.is_secure
        )
        return answer


def check_place(place: Place, folder: Path) -> None:
    """Refuse a place that lacks what it needs.

    Parameters
    ----------
    folder : Path
        Of the study, with its users.

    Raises
    ------
    PlaceError
        Others can reach it, and there are no users, no TLS or no name to reach it by.
    """
    if (place.certificate is None) != (place.key is None):
        raise PlaceError.of("certificate_needs_key_key_certificate", where="--certificate, --key")
    if not place.is_loopback and not place.is_secure:
        raise PlaceError.of("nothing_encrypts", where=f"--host {place.host}")
    if asks_names(place) and not read_users(folder):
        raise PlaceError.of("nobody_may_sign_yet_names", where=folder, users_file=USERS_FILE)
    if (place.is_behind_proxy or _is_any(place.host)) and not place.names:
        raise PlaceError.of("name_not_given", where=f"--host {place.host}")


def asks_names(place: Place) -> bool:
    """Tell whether visitors have to sign in: wherever others can reach, or when asked for."""
    return place.signs_in or place.is_behind_proxy or not place.is_loopback


def _is_any(host: str) -> bool:
    try:
        return ipaddress.ip_address(host).is_unspecified
    except ValueError:
        return False


def doors_of(place: Place, port: int, who: str | None) -> Doors:
    """Return the doors of a server.

    Parameters
    ----------
    place : Place
        Checked by :func:`check_place`.
    port : int
        On which it listens.
    who : str or None
        The only visitor of this computer; else the user's name.
    """
    names = [name.lower() for name in place.names]
    if not place.is_behind_proxy:
        own = [] if _is_any(place.host) else [_in_address(place.host)]
        if place.is_loopback:
            own += [LOOPBACK, "localhost", "[::1]"]
        names += [f"{name.lower()}:{port}" for name in own]
        names += [f"{name.lower()}:{port}" for name in place.names if ":" not in name]
    scheme = "https" if place.is_secure else "http"
    usual = f":{_USUAL_PORTS[scheme]}"
    hosts = frozenset(name.removesuffix(usual) for name in names) | frozenset(names)
    return Doors(hosts, who or current_user(), asks_names(place), place.is_secure)


def _in_address(host: str) -> str:
    return f"[{host}]" if ":" in host else host


def address_of(place: Place, port: int, doors: Doors) -> str:
    """Return what people open, without the secret."""
    if place.names:
        first = place.names[0]
        if place.is_behind_proxy or ":" in first or port == _USUAL_PORTS[doors.scheme]:
            return f"{doors.scheme}://{first}"
        return f"{doors.scheme}://{first}:{port}"
    return f"{doors.scheme}://{_in_address(place.host)}:{port}"

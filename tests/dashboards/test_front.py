"""Connections as strangers make them: many, silent, slow, large; whoever asks properly is served.

From several addresses of this computer, as the front counts by address.
"""

import contextlib
import http.client
import logging
import re
import socket
import sys
import time

import pytest

from dashboards.shell import front
from dashboards.shell.doors import MOST_FORM_BYTES
from dashboards.shell.front import MOST_CONNECTIONS, MOST_OF_ONE
from gaittrack.study.store import create_study
from gaittrack.study.upkeep.users import add_user
from tests.dashboards.conftest import Served
from tests.dashboards.test_serving import PASSWORD, certificate_in

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="127.0.0.2 is not everywhere here")


@pytest.fixture(scope="module", params=["plain", "tls"])
def server(request, tmp_path_factory):
    """Serve to people who sign in; give the server, and how to ask it from an address."""
    folder = tmp_path_factory.mktemp("served")
    study = create_study(folder / "study")
    add_user(study, "vera", PASSWORD, ["view"], who="tests")
    study.close()
    certificate, key, context = certificate_in(folder)
    tls = {"certificate": certificate, "key": key} if request.param == "tls" else {}
    served = Served(folder / "study", signs_in=True, **tls)

    def ask(address="127.0.0.1", method="GET", path="/sign-in", **what):
        kind = http.client.HTTPSConnection if tls else http.client.HTTPConnection
        one = kind(
            "127.0.0.1",
            port_of(served),
            timeout=20,
            source_address=(address, 0),
            **({"context": context} if tls else {}),
        )
        with contextlib.closing(one):
            one.request(method, path, **what)
            answer = one.getresponse()
            return answer, answer.read().decode()

    yield served, ask
    served.close()


def port_of(served):
    """Return the port that others connect to."""
    return int(served.base.rpartition(":")[2])


def connected(served, address, sends=b""):
    """Connect from an address, send some bytes and wait for nothing."""
    one = socket.create_connection(("127.0.0.1", port_of(served)), 20, (address, 0))
    one.sendall(sends)
    return one


def n_open(served, wanted):
    """Return how many are connected, as soon as it is what is wanted or time is over."""
    until_s = time.monotonic() + 10
    while (found := served.server._front.n_open) != wanted and time.monotonic() < until_s:
        time.sleep(0.02)
    return found


def test_silent_connections_stop_nobody(server):
    """More than fit, of five addresses, with nothing, a byte or half a head: others are served."""
    served, ask = server
    beginnings = (b"", b"G", b"GET / HTTP/1.1\r\nHost: ", b"\x16\x03")
    with contextlib.ExitStack() as held:
        for number in range(MOST_CONNECTIONS + 50):
            address = f"127.0.0.{2 + number % 5}"
            held.enter_context(connected(served, address, beginnings[number % 4]))
        for address in ("127.0.0.1", "127.0.0.2"):
            answer, page = ask(address)
            assert answer.status == 200 and "Sign in" in page
        assert served.server._front.n_open <= MOST_CONNECTIONS
        assert len(served.server._waitress.active_channels) <= 2
    assert n_open(served, 0) == 0


def test_one_address_has_a_limit_of_its_own(server):
    """It loses its own oldest connection; nobody else's."""
    served, ask = server
    with contextlib.ExitStack() as held:
        other = held.enter_context(connected(served, "127.0.0.3"))
        many = [held.enter_context(connected(served, "127.0.0.2")) for _ in range(MOST_OF_ONE + 5)]
        assert n_open(served, MOST_OF_ONE + 1) == MOST_OF_ONE + 1
        assert [one.recv(1) for one in many[:5]] == [b""] * 5
        assert ask("127.0.0.2")[0].status == 200
        other.settimeout(0.1)
        with pytest.raises(TimeoutError):
            other.recv(1)


def test_a_head_that_drips_is_not_waited_for(server, monkeypatch):
    """A byte now and then does not keep a connection; one that was served may stay."""
    monkeypatch.setattr(front, "HEAD_S", 0.6)
    served, _ = server
    begun_s = time.monotonic()
    with connected(served, "127.0.0.2") as slow, pytest.raises(OSError):
        for _ in range(100):
            slow.sendall(b"G")
            time.sleep(0.05)
    assert time.monotonic() - begun_s < 4


def test_strangers_do_not_fill_the_disk(server):
    """More than a form holds is refused unread, also in pieces; the form itself is taken."""
    _, ask = server
    for headers in (
        {"Content-Length": str(MOST_FORM_BYTES + 1)},
        {"Transfer-Encoding": "chunked"},
        {"Content-Length": str(10**8), "Cookie": "gaittrack-0000=made-up"},
    ):
        answer, page = ask(method="POST", path="/upload", headers=headers, body=b"")
        assert answer.status == 400 and "visitors only" in page
    assert ask(method="POST", body=b"x" * 100)[0].status == 403


def test_who_asks_is_seen_through_the_front(server, caplog):
    """The log tells the address of the browser, not that of the front."""
    caplog.set_level(logging.INFO)
    served, ask = server
    answer, page = ask("127.0.0.9")
    proof = re.search(r'name="form" value="(\w+)"', page)[1]
    headers = {"Origin": served.base, "Cookie": answer.getheader("Set-Cookie").partition(";")[0]}
    headers["Content-Type"] = "application/x-www-form-urlencoded"
    typed = f"form={proof}&name=vera&password={PASSWORD.replace(' ', '+')}"
    answer, _ = ask("127.0.0.9", "POST", "/sign-in", body=typed, headers=headers)
    assert answer.status == 303
    assert "sign in: vera from 127.0.0.9" in caplog.text
